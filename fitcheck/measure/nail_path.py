"""The run of each nail through the wall, and the least horn that is left between it and the quick.

In the upright plane across the wall at the nail, the outer surface is a straight line that leaves the ground at the
wall's slope.  The hole stands on the ground, inwards of it; the nail comes out on it.  Between the two the nail runs
along the straight line, bowed inwards as a parabola that stands off furthest in the middle.  The white line's inner
side is parallel to the outer surface.  Depths are square to the outer surface, in mm; slopes are angles in rad.

A hole as deep as the wall is thick is right: on the ground it stands on the white line, and the quick begins only at
the height of the sole's inner face.  So the run counts from ``start`` mm above the ground up.  A rulebook that says
nothing of that height, as the first contract's, has it counted from the ground.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import cache
from typing import NamedTuple

from fitcheck.fitting.models import Fitting
from fitcheck.measure.nail_range import FROM_THE_GROUND, MIDDLE, POINT, Grid, grid_over, horn_of
from fitcheck.measure.results import Readings, Remark, Span, around, between, span_of
from fitcheck.measure.wall_at_nail import WallAtNails
from fitcheck.text.catalogue import messages_in, messages_of
from rules import Reading, Rulebook
from rules.limits import guard_factor

__all__ = ["Run", "deepest_share", "depth_at", "least_horn", "nail_path", "outer_horn"]

_DERIVED = "slopes of the wall"


class Run(NamedTuple):
    """One nail: ``hole`` in from the wall's edge, ``exit`` up the wall, ``bow`` off the line (mm), ``slope`` (rad)."""

    hole: float
    exit: float
    slope: float
    bow: float


class _Sides(NamedTuple):
    """Of the triangle under the straight line: depth of the hole, length along the wall, the line itself (mm)."""

    depth: float
    along: float
    line: float


def _sides(run: Run) -> _Sides:
    depth = run.hole * math.sin(run.slope)
    # An exit no higher than the foot of the hole's perpendicular leaves no run along the wall to bow.
    along = max(0.0, run.exit - run.hole * math.cos(run.slope))
    return _Sides(depth, along, math.hypot(depth, along))


def _bow_depth(run: Run, sides: _Sides) -> float:
    """How deep (mm) the bow goes at its middle: the bow stands square to the nail, not to the wall."""
    return run.bow * sides.along / sides.line if sides.line > POINT else run.bow


def depth_at(run: Run, share: float) -> float:
    """Depth (mm) of the nail below the outer surface at a ``share`` of its run, 0 at the hole, 1 at the exit."""
    sides = _sides(run)
    return (1 - share) * sides.depth + 4 * share * (1 - share) * _bow_depth(run, sides)


def deepest_share(run: Run, start: float = 0.0) -> float:
    """The share of its run (0 at the hole) at which the nail is deepest, from ``start`` mm above the ground up."""
    sides = _sides(run)
    bow = _bow_depth(run, sides)
    from_ = _share_at(start, run.hole, run.exit, math.sin(run.slope), math.cos(run.slope), run.bow)
    # Where the parabola's slope is zero, if that is not further down.
    return max(from_, 0.5 - sides.depth / (8 * bow)) if bow > 0 and sides.depth < 4 * bow else from_


def _share_at(start: float, hole: float, height: float, sine: float, cosine: float, bow: float) -> float:
    """The share of its run at which the nail comes to ``start`` mm above the ground; 1 where it never does."""
    if start <= 0:
        return 0.0
    rise, out = height * sine, hole - height * cosine
    line = math.sqrt(rise * rise + out * out)
    # z(s) = (rise + 4 lift) s - 4 lift s^2: the bow stands square to the nail, and so lifts one that runs outwards.
    lift = bow * out / line if line > POINT else 0.0
    first = rise + 4 * lift
    under_root = first * first - 16 * lift * start
    if under_root < 0 or first <= 0:
        return 1.0
    return min(1.0, 2 * start / (first + math.sqrt(under_root)))


def least_horn(wall: float, run: Run, start: float = 0.0) -> float:
    """Least horn (mm, below 0: none) between the nail and the white line's inner side, ``wall`` mm in on the ground.

    From ``start`` mm above the ground up.

    >>> round(least_horn(12, Run(hole=9, exit=25, slope=math.radians(90), bow=0)), 6)
    3.0
    """
    return wall * math.sin(run.slope) - depth_at(run, deepest_share(run, start))


def outer_horn(run: Run) -> float:
    """Horn (mm) outside the nail at the middle of its run; little horn is a fine hold."""
    return depth_at(run, MIDDLE)


def nail_path(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading | Remark]:
    """Least and outer horn (mm) of every nail whose hole, exit and wall thickness are known, at their worst and best.

    The wall is that at the nail, and the run counts from the height of the sole's inner face up, for a book that knows
    of these.  The wall's slope is the one measured at the toe, ``k`` standard uncertainties to either side (``k`` that
    of a guarded limit); where it was not measured, and for the bow, the rulebook's ranges stand.
    """
    nails = []
    walls = WallAtNails(fitting, readings, book)
    for nail in fitting.observations.nails or ():
        place = nail.place
        hole, exit_ = readings.get(("hole_inset", place)), readings.get(("exit_height", place))
        wall = None if hole is None or exit_ is None else walls.at(place)
        if hole is not None and exit_ is not None and wall is not None:
            nails.append((place, wall, (float(hole.value), hole.u, float(exit_.value), exit_.u)))
    if not nails:
        return
    k = guard_factor(book.levels["guarded"].probability)
    grid, starts = _grid_of(readings, book, k), _starts(readings, book, k)
    middle = messages_of(book).say("where.middle_of_run")
    for place, wall, run in nails:
        inner, outer, deepest = horn_of(wall, run, k, starts, grid)
        yield between("least_horn", place, *inner, k, _where(round(deepest * 100), book.language))
        yield between("outer_horn", place, *outer, k, middle)
    yield Remark("nail_path")


def _starts(readings: Readings, book: Rulebook, factor: float) -> Span:
    """The height (mm) of the sole's inner face: its thickness, or the book's figure; 0 where that has none."""
    usual = book.parameters.get("sole_inner_face")
    if usual is None:
        return FROM_THE_GROUND
    sole = readings.get(("sole_thickness", "foot"))
    span = span_of(usual) if sole is None else around(sole, factor)
    return Span(max(0.0, span.low), max(0.0, span.high))


def _grid_of(readings: Readings, book: Rulebook, factor: float) -> Grid:
    """The grid over the slopes that the wall may have, within what is possible."""
    angle, physical_range = readings.get(("wall_angle", "foot")), book.quantities["wall_angle"].range
    bows = span_of(book.parameters["nail_bow"])
    if angle is not None and physical_range is not None:
        span = around(angle, factor)
        return grid_over(_radians(Span(max(physical_range[0], span.low), min(physical_range[1], span.high))), bows)
    # Without a slope that was measured it is the book's, made once for all feet: 3.5 us.
    known: Grid | None = book.derived.get(_DERIVED)
    if known is None:
        known = book.derived[_DERIVED] = grid_over(_radians(span_of(book.parameters["wall_angle"])), bows)
    return known


def _radians(slopes: Span) -> Span:
    return Span(math.radians(slopes.low), math.radians(slopes.high))


@cache
def _where(percent: int, language: str) -> str:
    """Where on the run the horn is least, with the most sloping wall and the greatest bow; a hundred texts at most."""
    messages = messages_in(language)
    return messages.say("where.share_of_run", percent=percent) if percent else messages.say("where.at_hole")
