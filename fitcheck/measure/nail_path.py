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
from collections.abc import Callable, Iterator
from typing import NamedTuple

from fitcheck.fitting.models import Fitting
from fitcheck.measure.results import Readings, Remark, Span, around, between, span_of
from fitcheck.measure.wall_at_nail import wall_at_nail
from fitcheck.text.catalogue import messages_in, messages_of
from rules import Reading, Rulebook
from rules.limits import guard_factor

__all__ = ["Known", "Run", "deepest_share", "depth_at", "horn_span", "least_horn", "nail_path", "outer_horn"]

_MIDDLE = 0.5
_FROM_THE_GROUND = Span(0.0, 0.0)
_POINT = 1e-9  # mm; a hole and an exit no further apart are one point, and the bow is taken as deep as it can be
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
    return run.bow * sides.along / sides.line if sides.line > _POINT else run.bow


def depth_at(run: Run, share: float) -> float:
    """Depth (mm) of the nail below the outer surface at a ``share`` of its run, 0 at the hole, 1 at the exit."""
    sides = _sides(run)
    return (1 - share) * sides.depth + 4 * share * (1 - share) * _bow_depth(run, sides)


def deepest_share(run: Run, start: float = 0.0) -> float:
    """The share of its run (0 at the hole) at which the nail is deepest, from ``start`` mm above the ground up."""
    sides = _sides(run)
    bow = _bow_depth(run, sides)
    from_ = _share_at(start, run.hole, run.exit, (run.slope, math.sin(run.slope), math.cos(run.slope)), run.bow)
    # Where the parabola's slope is zero, if that is not further down.
    return max(from_, 0.5 - sides.depth / (8 * bow)) if bow > 0 and sides.depth < 4 * bow else from_


def _share_at(start: float, hole: float, height: float, angle: _Angle, bow: float) -> float:
    """The share of its run at which the nail comes to ``start`` mm above the ground; 1 where it never does."""
    if start <= 0:
        return 0.0
    _, sine, cosine = angle
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

_Slope = tuple[float, float, float, float]
"""The wall at one slope: sine and cosine, depth of the white line's inner side (mm), square of that depth's u."""

_Nail = tuple[float, float, float, float]
"""Inset of the hole and its u, height of the exit and its u (mm)."""


class _Grid(NamedTuple):
    """Where the horn is looked at: over the range of slopes, at its ends and the upright, and at both bows (mm)."""

    along: list[_Angle]
    ends: list[_Angle]
    bows: Span


def _grid(slopes: Span, bows: Span) -> _Grid:
    return _Grid([_angle(each) for each in _along(slopes)], [_angle(each) for each in _ends_and_upright(slopes)], bows)


def _angle(slope: float) -> _Angle:
    return slope, math.sin(slope), math.cos(slope)


class _Wall:
    """The wall of one foot at every slope that is looked at, which all its nails share, and the bows of these."""

    def __init__(self, thickness: Reading, grid: _Grid) -> None:
        self._thickness, self._u = float(thickness.value), thickness.u
        self.bow_low, self.bow_high = grid.bows
        self.angles = [slope for slope, _, _ in grid.along]
        self.along = [self._at(angle) for angle in grid.along]
        self.ends = [self._at(angle) for angle in grid.ends]
        self.flattest, self.steepest = min(self.ends), max(self.ends)  # by the sine, which stands first

    def at(self, slope: float) -> list[_Slope]:
        """The wall at one further slope (rad)."""
        return [self._at(_angle(slope))]

    def _at(self, angle: _Angle) -> _Slope:
        _, sine, cosine = angle
        of_wall = sine * self._u
        return sine, cosine, self._thickness * sine, of_wall * of_wall


def _horn(slopes: list[_Slope], nail: _Nail, bow: float, start: float) -> tuple[list[float], list[float], float]:
    """Least and outer horn (mm) at each slope, as :func:`least_horn` and :func:`outer_horn` have them.

    Last the share of its run at which the nail is deepest at the first of the slopes.  Written out in one loop, since
    it is done for every nail at every slope.
    """
    hole, _, height, _ = nail
    inner, outer, deepest = [], [], -1.0
    for sine, cosine, wall, _ in slopes:
        depth, along = hole * sine, height - hole * cosine
        if along < 0:
            along = 0.0
        line = math.sqrt(depth * depth + along * along)
        dip = bow * along / line if line > _POINT else bow
        outer.append(_MIDDLE * depth + dip)
        share = _share_at(start, hole, height, (0.0, sine, cosine), bow) if start > 0 else 0.0
        if dip > 0 and depth < 4 * dip:
            share = max(share, _MIDDLE - depth / (8 * dip))
        inner.append(wall - (1 - share) * depth - 4 * share * (1 - share) * dip)
        if deepest < 0:
            deepest = share
    return inner, outer, deepest


def _largest_squares(slopes: list[_Slope], nail: _Nail, bow: float, start: float) -> tuple[float, float]:
    """The largest u^2 (mm2) that the readings give least and outer horn at any of the slopes.

    Where the nail is deepest the share itself does not count: moving it does not change the depth.  Where its run is
    looked at from a height on, a higher exit takes that height nearer to the hole.
    """
    hole, hole_u, height, height_u = nail
    inner, outer = [], []
    for sine, cosine, _, of_wall in slopes:
        depth, along = hole * sine, max(height - hole * cosine, 0.0)
        line = math.sqrt(depth * depth + along * along)
        share, bowed, by_hole, of_exit = 0.0, 0.0, 0.0, 0.0
        if line > _POINT:
            dip, turn = bow * along / line, bow * depth / (line * line * line)
            by_hole, of_exit = turn * (cosine * depth + sine * along), turn * depth * height_u
            from_ = _share_at(start, hole, height, (0.0, sine, cosine), bow) if start > 0 else 0.0
            deepest = _MIDDLE - depth / (8 * dip) if dip > 0 and depth < 4 * dip else 0.0
            share = max(from_, deepest)
            bowed = 4 * share * (1 - share)
            moved = 0.0
            if deepest < from_ < 1 and height > 0:
                moved = (depth - 4 * dip * (1 - 2 * share)) * share / height * height_u
            of_exit_inner = bowed * of_exit + moved
        else:
            of_exit_inner = 0.0
        of_hole = ((1 - share) * sine - bowed * by_hole) * hole_u
        inner.append(of_wall + of_hole * of_hole + of_exit_inner * of_exit_inner)
        of_hole = (_MIDDLE * sine - by_hole) * hole_u
        outer.append(of_hole * of_hole + of_exit * of_exit)
    return max(inner), max(outer)


def _surer_bowed(wall: _Wall, nail: _Nail) -> bool:
    """Whether no bow makes either horn less sure than it is of a straight nail in the steepest wall.

    With the slope's sine s, the hole's depth d, the exit's height e up the wall, the bow b and the line's length L, a
    change of the hole moves the depth at the middle by s/2 - h with h = b d s e / L^3, and one of the exit by
    x = b d^2 / L^3.  L is at least e less the hole's inset, and neither d nor s e is more than L.  So L >= 2b/s gives
    h <= s/2, and 2 b u(exit)^2 <= s^2 e u(hole)^2 then gives x^2 u(exit)^2 <= h (s - h) u(hole)^2: what the exit adds
    is no more than what the bow takes off the hole's part, s/2.  Where the nail is deepest it takes off more.  A hole
    outside the wall, which only a yard's own range lets in, is not sure.
    """
    hole, hole_u, height, height_u = nail
    bow, sine = wall.bow_high, wall.flattest[0]
    return (
        hole >= 0
        and (height - hole) * sine >= 2 * bow
        and 2 * bow * height_u * height_u <= sine * sine * height * hole_u * hole_u
    )


def horn_span(
    known: Known, slopes: Span, bows: Span, factor: float, starts: Span = _FROM_THE_GROUND
) -> tuple[Span, Span]:
    """Least and outer horn (mm), each from least to greatest over ``slopes`` (rad) and ``bows`` (mm).

    The run counts from a height within ``starts`` (mm) above the ground up.

    Each is then widened by ``factor`` times the largest standard uncertainty that the readings give it anywhere in
    these ranges (JCGM 100, 5.1.2: they are independent).
    """
    wall = _Wall(known.wall, _grid(slopes, bows))
    inner_low, inner_high, outer_low, outer_high, _ = _horn_span((wall, wall), known.hole, known.exit, factor, starts)
    return Span(inner_low, inner_high), Span(outer_low, outer_high)


def _horn_span(
    walls: tuple[_Wall, _Wall], hole: Reading, exit_: Reading, factor: float, starts: Span
) -> tuple[float, ...]:
    """The ends of both spans, and where the nail is deepest with the most sloping wall and the greatest bow.

    ``walls``: at its thinnest and at its thickest.
    """
    wall, thickest = walls
    nail = float(hole.value), hole.u, float(exit_.value), exit_.u
    # More bow always goes deeper, so over the bow only its ends count.
    low, high = wall.bow_low, wall.bow_high
    inner, outer, deepest = _horn(wall.along, nail, high, starts.low)
    inner_low = _extreme(wall.angles, inner, 1, lambda slope: _horn(wall.at(slope), nail, high, starts.low)[0][0])
    outer_high = _extreme(wall.angles, outer, -1, lambda slope: _horn(wall.at(slope), nail, high, starts.low)[1][0])
    straight = low <= 0 and starts.high <= 0
    if not straight:
        inner, outer, _ = _horn(thickest.along, nail, low, starts.high)
        inner_high = _extreme(
            wall.angles, inner, -1, lambda slope: _horn(thickest.at(slope), nail, low, starts.high)[0][0]
        )
        outer_low = (
            _extreme(wall.angles, outer, 1, lambda slope: _horn(wall.at(slope), nail, low, starts.high)[1][0])
            if low > 0
            else _MIDDLE * min(nail[0] * wall.flattest[0], nail[0] * wall.steepest[0])
        )
        inner_squared, outer_squared = _largest_squares(wall.along, nail, low, starts.low)
    else:
        # Straight, the nail is deepest at its hole, and all goes with the sine of the slope: only the ends of its range
        # and the upright count.
        inset, inset_u, _, _ = nail
        inner_high = max([at_wall - inset * sine for sine, _, at_wall, _ in thickest.ends])
        outer_low = _MIDDLE * min(inset * wall.flattest[0], inset * wall.steepest[0])
        sine, _, _, of_wall = wall.steepest
        of_hole = sine * inset_u
        inner_squared, outer_squared = of_wall + of_hole * of_hole, _MIDDLE * of_hole * (_MIDDLE * of_hole)
    if not straight or not _surer_bowed(wall, nail):
        bowed_inner, bowed_outer = _largest_squares(wall.along, nail, high, starts.low)
        inner_squared, outer_squared = max(inner_squared, bowed_inner), max(outer_squared, bowed_outer)
    inner_u, outer_u = factor * math.sqrt(inner_squared), factor * math.sqrt(outer_squared)
    return inner_low - inner_u, inner_high + inner_u, outer_low - outer_u, outer_high + outer_u, deepest


def _ends_and_upright(slopes: Span) -> list[float]:
    upright = [math.pi / 2] if slopes.low < math.pi / 2 < slopes.high else []
    return [slopes.low, *upright, slopes.high]


def _along(span: Span) -> list[float]:
    if span.low == span.high:
        return [span.low]
    step = (span.high - span.low) / _STRIPS
    return [span.low + number * step for number in range(_STRIPS)] + [span.high]


def _extreme(slopes: list[float], values: list[float], sign: int, function: Callable[[float], float]) -> float:
    """The least (``sign`` 1) or the greatest (-1) of a smooth function that has these values at these slopes.

    It is at an end, or found by golden section round the best of the slopes.
    """
    pick = min if sign > 0 else max
    best, last = values.index(pick(values)), len(values) - 1
    if last == 0 or (best == 0 and sign * _rise(values[0], values[1], values[2]) >= 0):
        return values[0]
    if best == last and sign * _rise(values[-1], values[-2], values[-3]) >= 0:
        return values[-1]
    low, high = slopes[max(0, best - 1)], slopes[min(last, best + 1)]
    left, right = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
    at_left, at_right = function(left), function(right)
    for _ in range(_NARROWINGS):
        if sign * at_left < sign * at_right:
            high, right, at_right = right, left, at_left
            left = high - _GOLDEN * (high - low)
            at_left = function(left)
        else:
            low, left, at_left = left, right, at_right
            right = low + _GOLDEN * (high - low)
            at_right = function(right)
    return pick(values[best], at_left, at_right)


def _rise(first: float, second: float, third: float) -> float:
    """How steeply, but for a factor, a function rises from the first of equal steps: by the parabola through three."""
    return 4 * second - 3 * first - third


def nail_path(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading | Remark]:
    """Least and outer horn (mm) of every nail whose hole, exit and wall thickness are known, at their worst and best.

    The wall is that at the nail, and the run counts from the height of the sole's inner face up, for a book that knows
    of these.  The wall's slope is the one measured at the toe, ``k`` standard uncertainties to either side (``k`` that
    of a guarded limit); where it was not measured, and for the bow, the rulebook's ranges stand.
    """
    known = []
    for nail in fitting.observations.nails or ():
        place = nail.place
        hole, exit_ = readings.get(("hole_inset", place)), readings.get(("exit_height", place))
        thickness = wall_at_nail(place, fitting, readings, book)
        if hole is not None and exit_ is not None and thickness is not None:
            known.append((place, hole, exit_, thickness))
    if not known:
        return
    k = guard_factor(book.levels["guarded"].probability)
    grid = _grid(_slopes(readings, book, k), span_of(book.parameters["nail_bow"]))
    walls = {each: _Wall(each, grid) for *_, ends in known for each in ends}
    starts = _starts(readings, book, k)
    middle = messages_of(book).say("where.middle_of_run")
    for place, hole, exit_, (thinnest, thickest) in known:
        inner_low, inner_high, outer_low, outer_high, deepest = _horn_span(
            (walls[thinnest], walls[thickest]), hole, exit_, k, starts
        )
        where = _where(round(deepest * 100), book.language)
        yield between("least_horn", place, inner_low, inner_high, k, where)
        yield between("outer_horn", place, outer_low, outer_high, k, middle)
    yield Remark("nail_path")


def _starts(readings: Readings, book: Rulebook, factor: float) -> Span:
    """The height (mm) of the sole's inner face: its thickness, or the book's figure; 0 where that has none."""
    usual = book.parameters.get("sole_inner_face")
    if usual is None:
        return _FROM_THE_GROUND
    sole = readings.get(("sole_thickness", "foot"))
    span = span_of(usual) if sole is None else around(sole, factor)
    return Span(max(0.0, span.low), max(0.0, span.high))


def _slopes(readings: Readings, book: Rulebook, factor: float) -> Span:
    """The slopes (rad) that the wall may have, within what is possible."""
    angle = readings.get(("wall_angle", "foot"))
    physical_range = book.quantities["wall_angle"].range
    span = span_of(book.parameters["wall_angle"])
    if angle is not None and physical_range is not None:
        span = around(angle, factor)
        span = Span(max(physical_range[0], span.low), min(physical_range[1], span.high))
    return Span(math.radians(span.low), math.radians(span.high))


def _where(percent: int, language: str) -> str:
    """Where on the run the horn is least, with the most sloping wall and the greatest bow."""
    messages = messages_in(language)
    return messages.say("where.share_of_run", percent=percent) if percent else messages.say("where.at_hole")
