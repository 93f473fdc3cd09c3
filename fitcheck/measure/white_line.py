"""Each hole against the white line: its place may be told in several ways, and the worst of them counts.

Of the nail, of the shoe's hole, by the inset of the hole and the wall there (a hole as deep as the wall is thick stands
on the white line), or traced.  Where they lie further apart than their uncertainties explain, that is told.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

from fitcheck.fitting.input_value import InputValue, measured_value, only_a_word
from fitcheck.fitting.models import Fitting
from fitcheck.measure.by_limit import computed_by, enough_for_share
from fitcheck.measure.results import Readings
from fitcheck.measure.wall_at_nail import wall_between
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
    if f"wall_thinning_{fitting.pair}" not in book.parameters:
        return
    told: dict[str, list[_Candidate]] = {}
    holes = None if fitting.shoe is None else fitting.shoe.holes
    for source, stated in (("nail", fitting.observations.nails), ("shoe", holes)):
        for each in stated or ():
            told.setdefault(each.place, []).extend(_stated(source, each.place, each.to_white_line, book))
    for (quantity, place), inset in readings.items():
        if quantity == "hole_inset":
            told.setdefault(place, []).extend(_by_inset(place, inset, fitting, readings, book))
    placed = []
    for place, ways in told.items():
        if ways:
            wall = wall_between(place, fitting, readings, book)
            worst = _worst(ways, wall)
            placed.append(worst)
            yield worst
            yield from _outside_share(worst, wall)
            yield from _disagreement(place, ways, book)
    yield from _share_inside(placed, book)


def _worst(ways: list[_Candidate], wall: Reading | None) -> Reading:
    """The telling that lies furthest inside the white line, or past half the wall at the hole outside it."""
    fine = math.inf if wall is None else float(wall.value) / 2
    return max(ways, key=lambda way: max(-float(way.reading.value), float(way.reading.value) - fine)).reading


def _outside_share(hole: Reading, wall: Reading | None) -> Iterator[Reading]:
    """How far outside the white line the hole stands, as a share of the wall there; u by JCGM 100, 5.1.2."""
    distance = float(hole.value)
    if distance > 0 and wall is not None and float(wall.value) > 0:
        share = distance / float(wall.value)
        yield Reading("hole_outside_share", hole.place, share, math.hypot(hole.u, share * wall.u) / float(wall.value))


def _share_inside(holes: list[Reading], book: Rulebook) -> Iterator[Reading]:
    """The share of the holes, of enough, that stand further inside the white line than the limit of one hole."""
    rule = computed_by("share_inside", book)
    limit = None if rule is None else resolve(rule.low, {})
    if limit is not None and enough_for_share(len(holes), book):
        yield Reading("share_inside", "foot", sum(float(hole.value) < limit for hole in holes) / len(holes))


def _stated(source: str, place: str, stated: InputValue | None, book: Rulebook) -> Iterator[_Candidate]:
    if stated is not None and not only_a_word(stated, _QUANTITY, book):
        yield _Candidate(source, Reading(_QUANTITY, place, *measured_value(stated, _QUANTITY, book)))


def _by_inset(place: str, inset: Reading, fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[_Candidate]:
    wall = wall_between(place, fitting, readings, book)
    if wall is not None:
        # The span of the wall's worst cases and the doubt about the hole are independent.
        distance, u = float(wall.value) - float(inset.value), math.hypot(wall.u, inset.u)
        yield _Candidate("inset", Reading(_QUANTITY, place, distance, u))


def _disagreement(place: str, ways: list[_Candidate], book: Rulebook) -> Iterator[Reading]:
    """The two ways that lie furthest apart, as a cross-check has it."""
    if len(ways) < 2:  # noqa: PLR2004 - of one there is no other
        return
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
    yield Reading("disagreement", place, size, 0.0, where, _QUANTITY)


def _apart(one: Reading, other: Reading, most: float) -> float:
    distance, joint = abs(float(one.value) - float(other.value)), math.hypot(one.u, other.u)
    return min(most, distance / joint) if joint > 0 else most if distance > 0 else 0.0
