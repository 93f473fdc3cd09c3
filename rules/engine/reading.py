"""What was read or computed at one place, and all of it of one foot."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from rules.errors import EngineFault

__all__ = ["Reading", "Table", "table_of"]


class Reading(NamedTuple):
    """One thing read or computed at one place: a number with its standard uncertainty ``u``, or a closed word.

    ``place`` is a place of the rulebook or ``nail:<side>:<hole>``; numbers are in the quantity's own unit.  ``where``
    says in words where at the place, and ``about`` which quantity a cross-check compares; the engine sees neither.
    """

    quantity: str
    place: str
    value: float | str
    u: float = 0.0
    where: str = ""
    about: str = ""


Table = dict[tuple[str, str], Reading]
"""Readings of one foot, each under its own quantity and place."""


def table_of(readings: Iterable[Reading]) -> Table:
    """``readings`` by quantity and place; EngineFault where one stands twice."""
    listed = list(readings)
    table = {(reading[0], reading[1]): reading for reading in listed}
    if len(table) < len(listed):
        seen: set[tuple[str, str]] = set()
        twice = next(each for each in listed if each[:2] in seen or seen.add(each[:2]))  # type: ignore[func-returns-value]
        raise EngineFault(f"two readings of {twice.quantity} at {twice.place}")
    return table
