"""Each hole against the white line: its place may be told in several ways, and the worst of them counts.

Of the nail, of the shoe's hole, by the inset of the hole and the wall there (a hole as deep as the wall is thick stands
on the white line), or traced.  Where they lie further apart than their uncertainties explain, that is told.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

from fitcheck.fitting.input_value import MeasuredValue, measured_value, only_a_word
from fitcheck.fitting.models import Fitting
from fitcheck.measure.by_limit import computed_by, enough_for_share
from fitcheck.measure.results import Readings
from fitcheck.measure.wall_at_nail import WallAtNails, thinning_of
from fitcheck.text.catalogue import messages_of
from rules import Reading, Rulebook, resolve

__all__ = ["holes_against_white_line"]

_QUANTITY = "to_white_line"


class _Candidate(NamedTuple):
    """One way in which the place of a hole was told; ``source`` names it in a sentence."""

    source: str
    reading: Reading


def holes_against_white_line(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading]:
    """How far each hole stands outwards of the middle of the white line (mm): of several tellings the worst.

    Also the greatest difference between two of them, in joint standard uncertainties; how far outside each stands as a
    share of the wall there; and the share of the holes that stand inside.  Only for a book that knows how the wall
    thins.
    """
    if thinning_of(fitting, book) is None:
        return
    at_nails = WallAtNails(fitting, readings, book)
    told, walls = _stated(fitting, book), dict[str, MeasuredValue | None]()
    for (quantity, place), inset in readings.items():
        if quantity == "hole_inset":
            wall = walls[place] = at_nails.middle(place)
            ways = told.setdefault(place, [])
            if wall is not None:
                ways.append(_Candidate("inset", _by_inset(inset, wall)))
    placed = []
    for place, ways in told.items():
        if ways:
            wall = walls[place] if place in walls else at_nails.middle(place)
            worst = ways[0].reading if len(ways) == 1 else _worst(ways, wall)
            placed.append(worst)
            yield worst
            if wall is not None and float(worst.value) > 0 and wall.value > 0:
                yield _outside_share(worst, wall)
            if len(ways) > 1:
                yield _disagreement(place, ways, book)
    yield from _share_inside(placed, book)


def _stated(fitting: Fitting, book: Rulebook) -> dict[str, list[_Candidate]]:
    """What is stated of each nail and of each hole of the shoe, in their order; of most nothing."""
    told: dict[str, list[_Candidate]] = {}
    holes = None if fitting.shoe is None else fitting.shoe.holes
    for source, stated in (("nail", fitting.observations.nails), ("shoe", holes)):
        for each in stated or ():
            place, line = each.place, each.to_white_line
            ways = told.setdefault(place, [])
            if line is not None and not only_a_word(line, _QUANTITY, book):
                ways.append(_Candidate(source, Reading(_QUANTITY, place, *measured_value(line, _QUANTITY, book))))
    return told


def _worst(ways: list[_Candidate], wall: MeasuredValue | None) -> Reading:
    """The telling that lies furthest inside the white line, or past half the wall at the hole outside it."""
    fine = math.inf if wall is None else wall.value / 2
    return max(ways, key=lambda way: max(-float(way.reading.value), float(way.reading.value) - fine)).reading


def _outside_share(hole: Reading, wall: MeasuredValue) -> Reading:
    """How far outside the white line the hole stands, as a share of the wall there; u by JCGM 100, 5.1.2."""
    thickness = wall.value
    share = float(hole.value) / thickness
    return Reading("hole_outside_share", hole.place, share, math.hypot(hole.u, share * wall.u) / thickness)


def _share_inside(holes: list[Reading], book: Rulebook) -> Iterator[Reading]:
    """The share of the holes, of enough, that stand further inside the white line than the limit of one hole."""
    rule = computed_by("share_inside", book)
    limit = None if rule is None else resolve(rule.low, {})
    if limit is not None and enough_for_share(len(holes), book):
        yield Reading("share_inside", "foot", sum(float(hole.value) < limit for hole in holes) / len(holes))


def _by_inset(inset: Reading, wall: MeasuredValue) -> Reading:
    """Where the hole stands by its inset and the wall there.

    The span of the wall's worst cases and the doubt about the hole are independent.
    """
    distance = wall.value - float(inset.value)
    return Reading(_QUANTITY, inset.place, distance, math.hypot(wall.u, inset.u))


def _disagreement(place: str, ways: list[_Candidate], book: Rulebook) -> Reading:
    """The two ways that lie furthest apart, as a cross-check has it."""
    most = (book.quantities["disagreement"].range or (0.0, math.inf))[1]
    messages = messages_of(book)
    size, one, other = max(
        ((_apart(one.reading, other.reading, most), one, other) for one in ways for other in ways),
        key=lambda each: each[0],
    )
    where = messages.say(
        "where.hole_disagreement",
        first=messages.named("told", one.source),
        one=messages.number(f"{one.reading.value:.4g}"),
        second=messages.named("told", other.source),
        other=messages.number(f"{other.reading.value:.4g}"),
    )
    return Reading("disagreement", place, size, 0.0, where, _QUANTITY)


def _apart(one: Reading, other: Reading, most: float) -> float:
    distance, joint = abs(float(one.value) - float(other.value)), math.hypot(one.u, other.u)
    return min(most, distance / joint) if joint > 0 else most if distance > 0 else 0.0
