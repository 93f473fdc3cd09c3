"""The run of each nail through the wall, and the least horn that is left between it and the white line's inner side.

In the upright plane across the wall at the nail, the outer surface is a straight line that leaves the ground at the
wall's slope.  The hole stands on the ground, inwards of it; the nail comes out on it.  Between the two the nail runs
along the straight line, bowed inwards as a parabola that stands off furthest in the middle.  The white line's inner
side is parallel to the outer surface.  Depths are square to the outer surface, in mm; slopes are angles in rad.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import NamedTuple

from fitcheck.fitting import Fitting
from fitcheck.measure.results import Observed, Remark, of_range
from fitcheck.measure.spans import Span, around, span_of
from fitcheck.observe import nail_place
from rules import Reading, Rulebook
from rules.facts import guard_factor

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


class _At(NamedTuple):
    """At one slope and bow: least and outer horn and the standard uncertainty that the readings give each (mm)."""

    inner: float
    outer: float
    inner_u: float
    outer_u: float


def _at(known: Known, slope: float, bow: float) -> _At:
    """Least and outer horn in one go, as :func:`least_horn` and :func:`outer_horn` have them, with their u.

    Where the nail is deepest the share itself does not count: moving it does not change the depth.
    """
    (_, _, wall, wall_u, _, _), (_, _, hole, hole_u, _, _), (_, _, height, height_u, _, _) = known
    sine, cosine = math.sin(slope), math.cos(slope)
    depth, along = hole * sine, max(0.0, height - hole * cosine)  # type: ignore[operator]  # numbers, as Known has it
    line = math.hypot(depth, along)
    share, bowed, dip, by_hole, by_exit = 0.0, 0.0, 0.0, 0.0, 0.0
    if bow > 0 and line > 0:
        dip = bow * along / line
        if depth < 4 * dip:
            share = _MIDDLE - depth / (8 * dip)
            bowed = 4 * share * (1 - share)
        turn = bow * depth / line**3
        by_hole, by_exit = turn * (cosine * depth + sine * along), turn * depth
    return _At(
        wall * sine - (1 - share) * depth - bowed * dip,  # type: ignore[operator]
        _MIDDLE * depth + dip,
        math.hypot(sine * wall_u, ((1 - share) * sine - bowed * by_hole) * hole_u, bowed * by_exit * height_u),
        math.hypot((_MIDDLE * sine - by_hole) * hole_u, by_exit * height_u),
    )


def horn_span(known: Known, slopes: Span, bows: Span, factor: float) -> tuple[Span, Span]:
    """Least and outer horn (mm), each from least to greatest over ``slopes`` (rad) and ``bows`` (mm).

    Each is then widened by ``factor`` times the largest standard uncertainty that the readings give it anywhere in
    these ranges (JCGM 100, 5.1.2: they are independent).
    """
    # More bow always goes deeper, so over the bow only its ends count.
    points = _along(slopes)
    bowed = [_at(known, slope, bows.high) for slope in points]
    inner_low = _least(points, [each.inner for each in bowed], lambda slope: _at(known, slope, bows.high).inner)
    outer_high = -_least(points, [-each.outer for each in bowed], lambda slope: -_at(known, slope, bows.high).outer)
    # Straight, both go with the sine of the slope: only the ends of its range and the upright count.
    less_points = points if bows.low > 0 else _ends_and_upright(slopes)
    less = [_at(known, slope, bows.low) for slope in less_points]
    if bows.low > 0:
        inner_high = -_least(points, [-each.inner for each in less], lambda slope: -_at(known, slope, bows.low).inner)
        outer_low = _least(points, [each.outer for each in less], lambda slope: _at(known, slope, bows.low).outer)
    else:
        inner_high, outer_low = max(each.inner for each in less), min(each.outer for each in less)
    inner_u = factor * max(each.inner_u for each in (*less, *bowed))
    outer_u = factor * max(each.outer_u for each in (*less, *bowed))
    return Span(inner_low - inner_u, inner_high + inner_u), Span(outer_low - outer_u, outer_high + outer_u)


def _ends_and_upright(slopes: Span) -> list[float]:
    upright = [math.pi / 2] if slopes.low < math.pi / 2 < slopes.high else []
    return [slopes.low, *upright, slopes.high]


def _along(span: Span) -> list[float]:
    if span.low == span.high:
        return [span.low]
    step = (span.high - span.low) / _STRIPS
    return [span.low + number * step for number in range(_STRIPS)] + [span.high]


def _least(points: list[float], values: list[float], function: Callable[[float], float]) -> float:
    """The least of a smooth function, known at ``points``: at an end, or by golden section round the best point."""
    best = min(range(len(points)), key=values.__getitem__)
    if len(points) == 1 or (best in (0, len(points) - 1) and _rises_inwards(values, best)):
        return values[best]
    low, high = points[max(0, best - 1)], points[min(len(points) - 1, best + 1)]
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
    for place, nail in known.items():
        inner, outer = horn_span(nail, slopes, bows, k)
        yield of_range("least_horn", place, *inner, book, _where(nail, slopes, bows))
        yield of_range("outer_horn", place, *outer, book, "at the middle of its run")
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


def _where(nail: Known, slopes: Span, bows: Span) -> str:
    """Where on the run the horn is least, with the most sloping wall and the greatest bow."""
    run = Run(float(nail.hole.value), float(nail.exit.value), slopes.low, bows.high)
    percent = round(deepest_share(run) * 100)
    return f"about {percent} % of the way from the hole to the exit" if percent else "at the hole"
