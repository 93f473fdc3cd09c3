"""One row of the contract's table: a quantity at some places, and the path of the field that it comes from."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final, NamedTuple

from rules.situation import side_of

__all__ = ["Row", "item_at", "list_of", "path_of"]


class Row(NamedTuple):
    """One quantity at some places, and where it comes from.

    ``field``: the dotted path of the field that gives it, or of the first that it is computed from; ``{side}``,
    ``{place}`` and ``{nail}``, ``{hole}``, ``{clip}`` (its number in the list) stand for the place's own.  ``unit`` of
    a number, in which it is computed; ``measure`` by name where it is computed, and then the ``words`` that it gives.
    The page does not ask for what is not ``asked``: another field gives the same, or it is seldom read.
    """

    quantity: str
    places: tuple[str, ...]
    field: str
    unit: str | None = None
    measure: str | None = None
    words: tuple[str, ...] = ()
    asked: bool = True

    def at(self, place: str, number: int = 0) -> str:
        """The path for one place, ``number`` its own in a list."""
        return path_of(self.field, place, number)

    @property
    def is_computed(self) -> bool:
        """Whether more is needed than what the field says."""
        return self.measure is not None and self.measure not in _LISTED

    @property
    def together(self) -> tuple[str, str] | None:
        """Path and place for all its places at once: every nail or hole, or the foot; None where each has its own."""
        for item in (".{nail}", ".{hole}"):
            if item in self.field:
                return self.field.replace(item, "[]"), "nail"
        return None if "{" in self.field else (self.field, "foot")

    def needed_at(self, place: str, number: int = 0) -> str:
        """The path that is asked for: a field that has a key for each place is asked for as a whole."""
        return self._replace(field=self.field.removesuffix(".{place}")).at(place, number)


_LISTED: Final = ("seen", "dark")
"""Measures that give what a list names, and for what it leaves out that it is not there."""

_LISTS: Final = ("nail", "hole", "clip")
"""What stands for the number of an item in a list; each item has a place of its own."""


def list_of(field: str) -> str | None:
    """The path of the list that ``field`` lies in; None where it lies in none."""
    path, _, rest = field.partition(".{")
    return path if rest.partition("}")[0] in _LISTS else None


def item_at(field: str, place: str) -> tuple[str, Mapping[str, Any]] | None:
    """The path of the list that ``field`` lies in, and what makes an item of it that of ``place``; None in no list."""
    path = list_of(field)
    if path is None:
        return None
    if not place.startswith("nail:"):
        return path, {"at": place}
    _, branch, hole = place.split(":")
    return path, {"branch": branch, "hole": int(hole)}


def path_of(field: str, place: str, number: int | None) -> str:
    """The path of ``field`` for one place; without a ``number`` that of the item in its list is left open."""
    numbers = {name: f"{{{name}}}" if number is None else number for name in _LISTS}
    return field.format(side=side_of(place), place=place, **numbers)
