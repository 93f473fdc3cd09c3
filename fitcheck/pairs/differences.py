"""How far the left foot's readings lie from the right foot's, with the uncertainty of the difference.

Readings of two feet are taken as independent, so their standard uncertainties are combined as the root of the sum of
their squares (JCGM 100:2008, 5.1.2).  An error that both share, such as that of one rule, falls out of the difference:
the uncertainty errs on the large side there.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from fitcheck.fitting.pair_rows import PairRow
from fitcheck.text.catalogue import ENGLISH, messages_in
from fitcheck.text.format import shown
from rules import Reading
from rules.situation import side_of, spot_of

__all__ = ["Lacking", "Table", "difference"]

Table = Mapping[tuple[str, str], Reading]
"""The readings of one foot by quantity and place."""


class Lacking(NamedTuple):
    """Why there is no difference: where it was not read; with neither, no hole is nailed in both shoes."""

    left: bool
    right: bool


def difference(row: PairRow, place: str, left: Table, right: Table, language: str = ENGLISH) -> Reading | Lacking:
    """What ``row`` compares at ``place`` of the pair, left less right, in the row's unit.

    Nails are compared hole by hole, over the holes that were read in both shoes, since exits fall from toe to heel; the
    mean of these differences is taken.
    """
    at = row.at[place]
    lefts, rights = _there(row.of, at, place, left), _there(row.of, at, place, right)
    both = [spot for spot in lefts if spot in rights]
    if not both:
        return Lacking(left=not lefts, right=not rights)
    left_mean, right_mean = (_mean(each[spot] for spot in both) for each in (lefts, rights))
    return Reading(
        row.quantity,
        place,
        left_mean.value - right_mean.value,
        math.hypot(left_mean.u, right_mean.u),
        where=_where(left_mean.value, right_mean.value, row.unit, len(both) if at == "nail" else None, language),
    )


def _there(quantity: str, at: str, place: str, table: Table) -> dict[str, Reading]:
    """The readings of one foot that are compared: at one place, or of every nail (of the branch, where it is one's)."""
    if at != "nail":
        return {at: table[quantity, at]} if (quantity, at) in table else {}
    side = side_of(place)
    return {
        spot: reading
        for (name, spot), reading in table.items()
        if name == quantity and spot_of(spot) == "nail" and side in {None, side_of(spot)}
    }


class _Mean(NamedTuple):
    value: float
    u: float


def _mean(readings: Iterable[Reading]) -> _Mean:
    values, us = zip(*((float(each.value), each.u) for each in readings), strict=True)
    return _Mean(math.fsum(values) / len(values), math.hypot(*us) / len(us))


def _where(left: float, right: float, unit: str, holes: int | None, language: str) -> str:
    messages = messages_in(language)
    each = (shown(value, unit, language) for value in (left, right))
    where = messages.say("where.left_and_right", **dict(zip(("left", "right"), each, strict=True)))
    return where if holes is None else messages.counted("where.over_holes", holes, where=where)
