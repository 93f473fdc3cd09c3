"""The words of each quantity in their order on the measure, and the figures that are taken for known of every eye.

All of it is data in ``scales.toml``; where a word ends is the rulebook's limit that the file names.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Final

from pydantic import Field

from rules import Rulebook, Situation, resolve
from rules.model.figures import Record, Status, Text, Unit
from rules.situation import admits, side_of
from rules.toml import read_toml

__all__ = ["Figure", "Scale", "Scales", "ends_by_book", "scales"]

_FILE: Final = "scales.toml"


class Figure(Record):
    """One figure with its standing."""

    value: float
    unit: Unit
    status: Status
    basis: Text


class Scale(Record):
    """The words of one quantity, from the least measure on, and the rules whose limits lie between them."""

    words: tuple[str, ...] = Field(min_length=2)
    ends: tuple[tuple[str, ...], ...]
    """Between each two words: rules of the rulebook, of which the first that is admitted has the end."""
    everywhere: tuple[str, ...] = ()
    """Rules whose limit is a word's end also where nothing is found by it, and no other is admitted."""


class Scales(Record):
    """All of the file."""

    version: str
    figures: Mapping[str, Figure]
    scales: Mapping[str, Scale]

    def figure(self, name: str) -> float:
        """The figure of that name."""
        return self.figures[name].value


@cache
def scales() -> Scales:
    """The scales that come with the tool."""
    table = read_toml(files(__package__).joinpath(_FILE).read_text(encoding="utf-8"))
    return Scales.model_validate(table, strict=False)


def ends_by_book(
    scale: Scale, place: str, situation: Situation, sizes: Mapping[str, float], book: Rulebook
) -> tuple[float | None, ...]:
    """Where the words of ``scale`` end by ``book`` in ``situation`` at ``place``, in the measure's unit.

    ``sizes``: what was read of the dimensions that limits follow. None where the book has no end, or its size is not
    known, or the ends would not be in order.
    """
    ends = [_end(names, scale, place, situation, sizes, book) for names in scale.ends]
    known = [end for end in ends if end is not None]
    return tuple(ends) if known == sorted(known) else (None,) * len(ends)


def _end(
    names: tuple[str, ...],
    scale: Scale,
    place: str,
    situation: Situation,
    sizes: Mapping[str, float],
    book: Rulebook,
) -> float | None:
    rules = [(name, book.rules[name]) for name in names if name in book.rules]
    admitted = [rule for _, rule in rules if admits(rule.applies, situation, side_of(place))]
    for rule in (*admitted, *(rule for name, rule in rules if name in scale.everywhere)):
        found = resolve(rule.high if rule.low is None else rule.low, sizes)
        if found is not None:
            return float(found)
    return None
