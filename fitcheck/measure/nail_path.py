"""The run of each nail through the wall, and the least horn that is left between it and the white line's inner side.

In the upright plane across the wall at the nail, the outer surface is a straight line that leaves the ground at the
wall's slope.  The hole stands on the ground, inwards of it; the nail comes out on it.  Between the two the nail runs
along the straight line, bowed inwards as a parabola that stands off furthest in the middle.  The white line's inner
side is parallel to the outer surface.  Depths are square to the outer surface, in mm; slopes are angles in rad.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from typing import NamedTuple

from fitcheck.fitting import Fitting
from fitcheck.measure.results import Observed, Remark, of_range
from fitcheck.measure.spans import Span, around, span_of
from fitcheck.messages import Messages, messages_of
from fitcheck.observe import nail_place
from rules import Reading, Rulebook
from rules.terms import guard_factor

__all__ = ["Known", "Run", "deepest_share", "depth_at", "horn_span", "least_horn", "nail_path", "outer_horn"]

_MIDDLE = 0.5
_STRIPS = 5  # of the slope's range: the depth turns once or twice over all slopes that a wall can have
_GOLDEN = (math.sqrt(5) - 1) / 2
_NARROWINGS = 16  # to a thousandth of a degree; the depth there changes with its square


class Run(NamedTuple):
    """One nail: ``hole`` in from the wall's edge, ``exit`` up the wall, ``bow`` off the line (mm), ``slope`` (rad)."""

    hole: float
    exit: float
    slope: float
    bow: float


class Known(NamedTuple):
    """What is measured at one nail: thickness of the wall on the ground, inset of the hole, height of the exit (mm)."""

    wall: Reading
    hole: Reading
    exit: Reading


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
    return run.bow * sides.along / sides.line if sides.line > 0 else 0.0


def depth_at(run: Run, share: float) -> float:
    """Depth (mm) of the nail below the outer surface at a ``share`` of its run, 0 at the hole, 1 at the exit."""
    sides = _sides(run)
    return (1 - share) * sides.depth + 4 * share * (1 - share) * _bow_depth(run, sides)


def deepest_share(run: Run) -> float:
    """The share of its run (0 at the hole) at which the nail is deepest: where the parabola's slope is nought."""
    sides = _sides(run)
    bow = _bow_depth(run, sides)
    return max(0.0, 0.5 - sides.depth / (8 * bow)) if sides.depth < 4 * bow else 0.0


def least_horn(wall: float, run: Run) -> float:
    """Least horn (mm, below 0: none) between the nail and the white line's inner side, ``wall`` mm in on the ground.

    >>> round(least_horn(12, Run(hole=9, exit=25, slope=math.radians(90), bow=0)), 6)
    3.0
    """
    return wall * math.sin(run.slope) - depth_at(run, deepest_share(run))


def outer_horn(run: Run) -> float:
    """Horn (mm) outside the nail at the middle of its run; little horn is a fine hold."""
    return depth_at(run, _MIDDLE)


class _Slope(NamedTuple):
    """A slope (rad) with its sine and cosine, which all nails of a foot share."""

    angle: float
    sine: float
    cosine: float


class _Horn(NamedTuple):
    """Over several slopes at one bow: least and outer horn, and the largest u that the readings give each (mm)."""

    inner: list[float]
    outer: list[float]
    inner_u: float
    outer_u: float
    deepest: float
    """The share of its run at which the nail is deepest, at the first of the slopes."""


def _slope(angle: float) -> _Slope:
    return _Slope(angle, math.sin(angle), math.cos(angle))


def _horn(known: Known, slopes: Iterable[_Slope], bow: float) -> _Horn:
    """Least and outer horn as :func:`least_horn` and :func:`outer_horn` have them, with their u.

    Written out in one loop, since it is done for every nail at every slope.  Where the nail is deepest the share itself
    does not count: moving it does not change the depth.
    """
    wall, wall_u = float(known.wall.value), known.wall.u
    hole, hole_u = float(known.hole.value), known.hole.u
    height, height_u = float(known.exit.value), known.exit.u
    inner, outer, inner_most, outer_most, deepest = [], [], 0.0, 0.0, -1.0
    for _, sine, cosine in slopes:
        depth, along = hole * sine, height - hole * cosine
        along = max(along, 0.0)
        share, bowed, dip, by_hole, by_exit = 0.0, 0.0, 0.0, 0.0, 0.0
        if bow > 0 and (depth > 0 or along > 0):
            line = math.sqrt(depth * depth + along * along)
            dip = bow * along / line
            if depth < 4 * dip:
                share = _MIDDLE - depth / (8 * dip)
                bowed = 4 * share * (1 - share)
            turn = bow * depth / (line * line * line)
            by_hole, by_exit = turn * (cosine * depth + sine * along), turn * depth
        if deepest < 0:
            deepest = share
        inner.append(wall * sine - (1 - share) * depth - bowed * dip)
        outer.append(_MIDDLE * depth + dip)
        of_wall, of_hole, of_exit = sine * wall_u, ((1 - share) * sine - bowed * by_hole) * hole_u, by_exit * height_u
        squared = of_wall * of_wall + of_hole * of_hole + (bowed * of_exit) ** 2
        inner_most = max(inner_most, squared)
        of_hole = (_MIDDLE * sine - by_hole) * hole_u
        squared = of_hole * of_hole + of_exit * of_exit
        outer_most = max(outer_most, squared)
    return _Horn(inner, outer, math.sqrt(inner_most), math.sqrt(outer_most), deepest)


class _Grid(NamedTuple):
    """Where the horn is looked at: over the range of slopes, and at its ends and the upright."""

    along: list[_Slope]
    ends: list[_Slope]
    bows: Span


def _grid(slopes: Span, bows: Span) -> _Grid:
    return _Grid([_slope(each) for each in _along(slopes)], [_slope(each) for each in _ends_and_upright(slopes)], bows)


def horn_span(known: Known, slopes: Span, bows: Span, factor: float) -> tuple[Span, Span]:
    """Least and outer horn (mm), each from least to greatest over ``slopes`` (rad) and ``bows`` (mm).

    Each is then widened by ``factor`` times the largest standard uncertainty that the readings give it anywhere in
    these ranges (JCGM 100, 5.1.2: they are independent).
    """
    inner, outer, _ = _horn_span(known, _grid(slopes, bows), factor)
    return inner, outer


def _horn_span(known: Known, grid: _Grid, factor: float) -> tuple[Span, Span, float]:
    """Both spans, and where the nail is deepest with the most sloping wall and the greatest bow."""
    # More bow always goes deeper, so over the bow only its ends count.
    points, (bow_low, bow_high) = grid.along, grid.bows

    def inner_at(bow: float) -> Callable[[float], float]:
        return lambda angle: _horn(known, (_slope(angle),), bow).inner[0]

    def outer_at(bow: float) -> Callable[[float], float]:
        return lambda angle: _horn(known, (_slope(angle),), bow).outer[0]

    bowed = _horn(known, points, bow_high)
    inner_low = _least(points, bowed.inner, inner_at(bow_high))
    outer_high = _greatest(points, bowed.outer, outer_at(bow_high))
    # Straight, both go with the sine of the slope: only the ends of its range and the upright count.
    less = _horn(known, points if bow_low > 0 else grid.ends, bow_low)
    if bow_low > 0:
        inner_high = _greatest(points, less.inner, inner_at(bow_low))
        outer_low = _least(points, less.outer, outer_at(bow_low))
    else:
        inner_high, outer_low = max(less.inner), min(less.outer)
    inner_u = factor * max(less.inner_u, bowed.inner_u)
    outer_u = factor * max(less.outer_u, bowed.outer_u)
    return (
        Span(inner_low - inner_u, inner_high + inner_u),
        Span(outer_low - outer_u, outer_high + outer_u),
        bowed.deepest,
    )


def _ends_and_upright(slopes: Span) -> list[float]:
    upright = [math.pi / 2] if slopes.low < math.pi / 2 < slopes.high else []
    return [slopes.low, *upright, slopes.high]


def _along(span: Span) -> list[float]:
    if span.low == span.high:
        return [span.low]
    step = (span.high - span.low) / _STRIPS
    return [span.low + number * step for number in range(_STRIPS)] + [span.high]


def _greatest(points: list[_Slope], values: list[float], function: Callable[[float], float]) -> float:
    return -_least(points, [-each for each in values], lambda angle: -function(angle))


def _least(points: list[_Slope], values: list[float], function: Callable[[float], float]) -> float:
    """The least of a smooth function, known at ``points``: at an end, or by golden section round the best point."""
    best = values.index(min(values))
    if len(points) == 1 or (best in (0, len(points) - 1) and _rises_inwards(values, best)):
        return values[best]
    low, high = points[max(0, best - 1)].angle, points[min(len(points) - 1, best + 1)].angle
    left, right = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
    at_left, at_right = function(left), function(right)
    for _ in range(_NARROWINGS):
        if at_left < at_right:
            high, right, at_right = right, left, at_left
            left = high - _GOLDEN * (high - low)
            at_left = function(left)
        else:
            low, left, at_left = left, right, at_right
            right = low + _GOLDEN * (high - low)
            at_right = function(right)
    return min(values[best], at_left, at_right)


def _rises_inwards(values: list[float], end: int) -> bool:
    """Whether a function rises from an end of its equal steps, by the parabola through three of them."""
    first, second, third = values[:3] if end == 0 else values[:-4:-1]
    return 4 * second - 3 * first - third >= 0


def nail_path(fitting: Fitting, observed: Observed, book: Rulebook) -> Iterator[Reading | Remark]:
    """Least and outer horn (mm) of every nail whose hole, exit and wall thickness are known, at their worst and best.

    The wall's slope is the one measured at the toe, ``k`` standard uncertainties to either side (``k`` that of a
    guarded limit); where it was not measured, and for the bow, the rulebook's ranges stand.
    """
    wall = observed.get(("wall_thickness", "foot"))
    known = {
        place: Known(wall, observed["hole_inset", place], observed["exit_height", place])
        for place in map(nail_place, fitting.observations.nails or ())
        if wall is not None and ("hole_inset", place) in observed and ("exit_height", place) in observed
    }
    if not known:
        return
    k = guard_factor(book.levels["guarded"].probability)
    slopes, bows = _slopes(observed, book, k), span_of(book.parameters["nail_bow"])
    grid = _grid(slopes, bows)
    for place, nail in known.items():
        inner, outer, deepest = _horn_span(nail, grid, k)
        yield of_range("least_horn", place, *inner, book, _where(deepest, messages_of(book)))
        yield of_range("outer_horn", place, *outer, book, messages_of(book).say("where.middle_of_run"))
    yield Remark("nail_path")


def _slopes(observed: Observed, book: Rulebook, factor: float) -> Span:
    """The slopes (rad) that the wall may have, within what is possible."""
    angle = observed.get(("wall_angle", "foot"))
    possible = book.quantities["wall_angle"].range
    span = span_of(book.parameters["wall_angle"])
    if angle is not None and possible is not None:
        span = around(angle, factor)
        span = Span(max(possible[0], span.low), min(possible[1], span.high))
    return Span(math.radians(span.low), math.radians(span.high))


def _where(deepest: float, messages: Messages) -> str:
    """Where on the run the horn is least, with the most sloping wall and the greatest bow."""
    percent = round(deepest * 100)
    return messages.say("where.share_of_run", percent=percent) if percent else messages.say("where.at_hole")
