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
from collections.abc import Callable, Iterator, Sequence
from functools import cache
from typing import NamedTuple

from fitcheck.fitting.input_value import MeasuredValue
from fitcheck.fitting.models import Fitting
from fitcheck.measure.results import Readings, Remark, Span, around, between, span_of
from fitcheck.measure.wall_at_nail import Ends, WallAtNails
from fitcheck.text.catalogue import messages_in, messages_of
from rules import Reading, Rulebook
from rules.limits import guard_factor

__all__ = ["Known", "Run", "deepest_share", "depth_at", "horn_span", "least_horn", "nail_path", "outer_horn"]

_DERIVED = "slopes of the wall"
_MIDDLE = 0.5
_FROM_THE_GROUND = Span(0.0, 0.0)
_POINT = 1e-9  # mm; a hole and an exit no further apart are one point, and the bow is taken as deep as it can be
_STRIPS = 5  # of the slope's range: the depth turns once or twice over all slopes that a wall can have
_GOLDEN = (math.sqrt(5) - 1) / 2
_PARABOLAS = 10
_CLOSE = 1e-5  # rad; the depth changes with its square
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
    return run.bow * sides.along / sides.line if sides.line > _POINT else run.bow


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
    lift = bow * out / line if line > _POINT else 0.0
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
    return depth_at(run, _MIDDLE)


_Angle = tuple[float, float, float]
"""A slope (rad) with its sine and cosine."""

_Nail = tuple[float, float, float, float]
"""Inset of the hole and its u, height of the exit and its u (mm)."""


class _Grid(NamedTuple):
    """Where the horn is looked at: over the range of slopes, at its ends and the upright, and at both bows (mm)."""

    along: list[_Angle]
    ends: list[_Angle]
    flattest: float
    """The least sine of the slopes."""
    steepest: float
    """The greatest sine of the slopes."""
    rising: bool
    """Whether the sine rises over the whole range, as it does up to the upright."""
    bows: Span


def _grid(slopes: Span, bows: Span) -> _Grid:
    ends = [_angle(each) for each in _ends_and_upright(slopes)]
    sines = [sine for _, sine, _ in ends]
    return _Grid(
        [_angle(each) for each in _along(slopes)], ends, min(sines), max(sines), slopes.high <= math.pi / 2, bows
    )


def _angle(slope: float) -> _Angle:
    return slope, math.sin(slope), math.cos(slope)


class _Horn(NamedTuple):
    """Least and outer horn (mm) at each slope, as :func:`least_horn` and :func:`outer_horn` have them.

    Then the largest u^2 (mm2) that the readings give either at any of the slopes, and the share of its run at which the
    nail is deepest at the first of them.
    """

    inner: list[float]
    outer: list[float]
    inner_squared: float
    outer_squared: float
    deepest: float


def _horn(angles: Sequence[_Angle], wall: MeasuredValue, nail: _Nail, bow: float, start: float) -> _Horn:
    """The horn and how sure it is, which is worked out for every nail at every slope.

    Where the nail is deepest the share itself does not count for u: moving it does not change the depth.  Where its run
    is looked at from a height on, a higher exit takes that height nearer to the hole.
    """
    (thickness, wall_u), (hole, hole_u, height, height_u), sqrt = wall, nail, math.sqrt
    inner, outer, inner_squares, outer_squares, first_share = [], [], [], [], -1.0
    for _, sine, cosine in angles:
        # _sides, _bow_depth, _share_at and deepest_share, written out: a slope takes 1.9 us in place of 7.5.
        depth, along = hole * sine, height - hole * cosine
        if along < 0:
            along = 0.0
        line = sqrt(depth * depth + along * along)
        dip = bow * along / line if line > _POINT else bow
        from_ = 0.0
        if start > 0:
            rise, out = height * sine, hole - height * cosine
            straight = sqrt(rise * rise + out * out)
            lift = bow * out / straight if straight > _POINT else 0.0
            first = rise + 4 * lift
            under_root = first * first - 16 * lift * start
            from_ = 1.0
            if under_root >= 0 and first > 0:
                from_ = min(1.0, 2 * start / (first + sqrt(under_root)))
        share = from_
        if dip > 0 and depth < 4 * dip:
            share = max(from_, _MIDDLE - depth / (8 * dip))
        rest, bowed = 1 - share, 4 * share * (1 - share)
        inner.append(thickness * sine - rest * depth - bowed * dip)
        outer.append(_MIDDLE * depth + dip)
        if first_share < 0:
            first_share = share
        by_hole = of_exit = of_exit_inner = 0.0
        if line > _POINT:
            turn = bow * depth / (line * line * line)
            by_hole, of_exit = turn * (cosine * depth + sine * along), turn * depth * height_u
            of_exit_inner = bowed * of_exit
            if share == from_ and 0 < from_ < 1 and height > 0:
                of_exit_inner += (depth - 4 * dip * (1 - 2 * share)) * share / height * height_u
        else:
            rest = 1.0
        of_wall, of_hole = sine * wall_u, (rest * sine - bowed * by_hole) * hole_u
        inner_squares.append(of_wall * of_wall + of_hole * of_hole + of_exit_inner * of_exit_inner)
        of_hole = (_MIDDLE * sine - by_hole) * hole_u
        outer_squares.append(of_hole * of_hole + of_exit * of_exit)
    return _Horn(inner, outer, max(inner_squares), max(outer_squares), first_share)


def _horn_at(slope: float, wall: MeasuredValue, nail: _Nail, bow: float, start: float) -> _Horn:
    return _horn([_angle(slope)], wall, nail, bow, start)


def horn_span(
    known: Known, slopes: Span, bows: Span, factor: float, starts: Span = _FROM_THE_GROUND
) -> tuple[Span, Span]:
    """Least and outer horn (mm), each from least to greatest over ``slopes`` (rad) and ``bows`` (mm).

    The run counts from a height within ``starts`` (mm) above the ground up.

    Each is then widened by ``factor`` times the largest standard uncertainty that the readings give it anywhere in
    these ranges (JCGM 100, 5.1.2: they are independent).
    """
    wall = MeasuredValue(float(known.wall.value), known.wall.u)
    nail = float(known.hole.value), known.hole.u, float(known.exit.value), known.exit.u
    span = _horn_span(Ends(wall, wall), nail, factor, starts, _grid(slopes, bows))
    return span.inner, span.outer


class _HornSpan(NamedTuple):
    """Least and outer horn (mm), and where the nail is deepest with the most sloping wall and the greatest bow."""

    inner: Span
    outer: Span
    deepest: float


def _horn_span(walls: Ends, nail: _Nail, factor: float, starts: Span, grid: _Grid) -> _HornSpan:
    # More bow always goes deeper, so over the bow only its ends count.
    run = (walls.thinnest, nail, grid.bows.high, starts.low)
    bowed = _horn(grid.along, *run)
    inner_low = _extreme(grid.along, bowed.inner, 1, lambda slope: _horn_at(slope, *run).inner[0])
    outer_high = _extreme(grid.along, bowed.outer, -1, lambda slope: _horn_at(slope, *run).outer[0])
    inner_high, outer_low, inner_squared, outer_squared = _least_bowed(walls, nail, starts, grid)
    inner_u = factor * math.sqrt(max(inner_squared, bowed.inner_squared))
    outer_u = factor * math.sqrt(max(outer_squared, bowed.outer_squared))
    inner, outer = Span(inner_low - inner_u, inner_high + inner_u), Span(outer_low - outer_u, outer_high + outer_u)
    return _HornSpan(inner, outer, bowed.deepest)


class _LeastBowed(NamedTuple):
    """The most least horn and the least outer horn (mm), and the largest u^2 (mm2) of either: with the least bow."""

    inner_high: float
    outer_low: float
    inner_squared: float
    outer_squared: float


def _least_bowed(walls: Ends, nail: _Nail, starts: Span, grid: _Grid) -> _LeastBowed:
    hole, hole_u, height, height_u = nail
    bow, (thinnest, thickest) = grid.bows.low, walls
    outer_low = _MIDDLE * min(hole * grid.flattest, hole * grid.steepest)
    if bow <= 0 and starts.high <= 0:
        # Straight, the nail is deepest at its hole, and all goes with the sine of the slope: only the ends of its range
        # and the upright count.
        inner_high = max([thickest.value * sine - hole * sine for _, sine, _ in grid.ends])
        of_wall, of_hole = grid.steepest * thinnest.u, grid.steepest * hole_u
        inner_squared, outer_squared = of_wall * of_wall + of_hole * of_hole, _MIDDLE * of_hole * (_MIDDLE * of_hole)
        return _LeastBowed(inner_high, outer_low, inner_squared, outer_squared)
    within = thickest.value >= hole
    if bow == 0 and grid.rising and 0 <= hole < height - _POINT and (within or height * grid.flattest >= starts.high):
        # Straight, it is deepest where it comes to the height z: with the slope's sine s wall s - hole (s - z / height)
        # is left, or wall s where it never comes to z.  That rises with s where the wall is as thick as the hole is
        # deep, and else falls where the nail comes to z at all; and every part of u rises with s.  At the six slopes it
        # takes 19 us, and 3 so.
        sine = grid.steepest if within else grid.flattest
        inner_high = thickest.value * sine - max(0.0, hole * (sine - starts.high / height))
        sine, low = grid.steepest, min(grid.steepest, max(0.0, starts.low) / height)
        squares = (sine * thinnest.u) ** 2 + ((sine - low) * hole_u) ** 2
        if low < sine:
            squares += (hole * low / height * height_u) ** 2
        return _LeastBowed(inner_high, outer_low, squares, (_MIDDLE * sine * hole_u) ** 2)
    run = (thickest, nail, bow, starts.high)
    horn = _horn(grid.along, *run)
    inner_high = _extreme(grid.along, horn.inner, -1, lambda slope: _horn_at(slope, *run).inner[0])
    if bow > 0:
        outer_low = _extreme(grid.along, horn.outer, 1, lambda slope: _horn_at(slope, *run).outer[0])
    surest = _horn(grid.along, thinnest, nail, bow, starts.low)
    return _LeastBowed(inner_high, outer_low, surest.inner_squared, surest.outer_squared)


def _ends_and_upright(slopes: Span) -> list[float]:
    upright = [math.pi / 2] if slopes.low < math.pi / 2 < slopes.high else []
    return [slopes.low, *upright, slopes.high]


def _along(span: Span) -> list[float]:
    if span.low == span.high:
        return [span.low]
    step = (span.high - span.low) / _STRIPS
    return [span.low + number * step for number in range(_STRIPS)] + [span.high]


def _extreme(angles: Sequence[_Angle], values: list[float], sign: int, function: Callable[[float], float]) -> float:
    """The least (``sign`` 1) or the greatest (-1) of a smooth function that has these values at these slopes.

    It is at an end, or found round the best of the slopes.
    """
    pick = min if sign > 0 else max
    best, last = values.index(pick(values)), len(values) - 1
    if last == 0 or (best == 0 and sign * _rise(values[0], values[1], values[2]) >= 0):
        return values[0]
    if best == last and sign * _rise(values[-1], values[-2], values[-3]) >= 0:
        return values[-1]
    middle = min(max(best, 1), last - 1)
    three = [(angles[number][0], sign * values[number]) for number in (middle - 1, middle, middle + 1)]
    found = _by_parabolas(three, lambda slope: sign * function(slope))
    if found is None:
        low, high = angles[max(0, best - 1)][0], angles[min(last, best + 1)][0]
        found = _by_golden_section(low, high, lambda slope: sign * function(slope))
    return pick(values[best], sign * found)


_Point = tuple[float, float]
"""A slope (rad) and a value there."""


def _by_parabolas(three: list[_Point], function: Callable[[float], float]) -> float | None:
    """The least value within the stretch, at the vertex of a parabola through three points of it, again and again.

    None where that does not settle, as at a kink.  5 looks at the function in place of the golden section's 18: 50 us,
    and 16 so.
    """
    (low, at_low), (middle, at_middle), (high, at_high) = three
    for _ in range(_PARABOLAS):
        left, right = (middle - low) * (at_middle - at_high), (middle - high) * (at_middle - at_low)
        if left == right:
            return None
        slope = middle - ((middle - low) * left - (middle - high) * right) / (2 * (left - right))
        if not low < slope < high:
            return None
        if abs(slope - middle) < _CLOSE:
            return at_middle
        value = function(slope)
        if value < at_middle:
            if slope < middle:
                high, at_high = middle, at_middle
            else:
                low, at_low = middle, at_middle
            middle, at_middle = slope, value
        elif slope < middle:
            low, at_low = slope, value
        else:
            high, at_high = slope, value
    return None


def _by_golden_section(low: float, high: float, function: Callable[[float], float]) -> float:
    """The least value within the stretch, where there is one trough."""
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
    return min(at_left, at_right)


def _rise(first: float, second: float, third: float) -> float:
    """How steeply, but for a factor, a function rises from the first of equal steps: by the parabola through three."""
    return 4 * second - 3 * first - third


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
        inner, outer, deepest = _horn_span(wall, run, k, starts, grid)
        yield between("least_horn", place, *inner, k, _where(round(deepest * 100), book.language))
        yield between("outer_horn", place, *outer, k, middle)
    yield Remark("nail_path")


def _starts(readings: Readings, book: Rulebook, factor: float) -> Span:
    """The height (mm) of the sole's inner face: its thickness, or the book's figure; 0 where that has none."""
    usual = book.parameters.get("sole_inner_face")
    if usual is None:
        return _FROM_THE_GROUND
    sole = readings.get(("sole_thickness", "foot"))
    span = span_of(usual) if sole is None else around(sole, factor)
    return Span(max(0.0, span.low), max(0.0, span.high))


def _grid_of(readings: Readings, book: Rulebook, factor: float) -> _Grid:
    """The grid over the slopes that the wall may have, within what is possible."""
    angle, physical_range = readings.get(("wall_angle", "foot")), book.quantities["wall_angle"].range
    bows = span_of(book.parameters["nail_bow"])
    if angle is not None and physical_range is not None:
        span = around(angle, factor)
        return _grid(_radians(Span(max(physical_range[0], span.low), min(physical_range[1], span.high))), bows)
    # Without a slope that was measured it is the book's, made once for all feet: 9 us.
    known: _Grid | None = book.derived.get(_DERIVED)
    if known is None:
        known = book.derived[_DERIVED] = _grid(_radians(span_of(book.parameters["wall_angle"])), bows)
    return known


def _radians(slopes: Span) -> Span:
    return Span(math.radians(slopes.low), math.radians(slopes.high))


@cache
def _where(percent: int, language: str) -> str:
    """Where on the run the horn is least, with the most sloping wall and the greatest bow; a hundred texts at most."""
    messages = messages_in(language)
    return messages.say("where.share_of_run", percent=percent) if percent else messages.say("where.at_hole")
