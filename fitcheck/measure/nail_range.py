"""Least and outer horn of one nail over all slopes of its wall and all its bows, and how sure both are.

The geometry is that of :mod:`fitcheck.measure.nail_path`, written out for speed; tests hold the two together.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from fitcheck.fitting.input_value import MeasuredValue
from fitcheck.measure.extremes import extreme
from fitcheck.measure.results import Span
from fitcheck.measure.wall_at_nail import Ends
from rules import Reading

__all__ = [
    "FROM_THE_GROUND",
    "MIDDLE",
    "POINT",
    "Grid",
    "HornSpan",
    "Known",
    "Nail",
    "grid_over",
    "horn_of",
    "horn_span",
]

MIDDLE = 0.5
FROM_THE_GROUND = Span(0.0, 0.0)
POINT = 1e-9  # mm; a hole and an exit no further apart are one point, and the bow is taken as deep as it can be
_STRIPS = 5  # of the slope's range: the depth turns once or twice over all slopes that a wall can have


class Known(NamedTuple):
    """What is measured at one nail: thickness of the wall on the ground, inset of the hole, height of the exit (mm)."""

    wall: Reading
    hole: Reading
    exit: Reading


_Angle = tuple[float, float, float]
"""A slope (rad) with its sine and cosine."""

Nail = tuple[float, float, float, float]
"""Inset of the hole and its u, height of the exit and its u (mm)."""


class Grid(NamedTuple):
    """Where the horn is looked at: over the range of slopes, at its ends and the upright, and at both bows (mm)."""

    slopes: list[float]
    along: list[_Angle]
    ends: list[_Angle]
    flattest: float
    """The least sine of the slopes."""
    steepest: float
    """The greatest sine of the slopes."""
    rising: bool
    """Whether the sine rises over the whole range, as it does up to the upright."""
    bows: Span


def grid_over(slopes: Span, bows: Span) -> Grid:
    """The grid over ``slopes`` (rad) and ``bows`` (mm)."""
    along, ends = _along(slopes), [_angle(each) for each in _ends_and_upright(slopes)]
    sines = [sine for _, sine, _ in ends]
    rising = slopes.high <= math.pi / 2
    return Grid(along, [_angle(each) for each in along], ends, min(sines), max(sines), rising, bows)


def _angle(slope: float) -> _Angle:
    return slope, math.sin(slope), math.cos(slope)


class _Horn(NamedTuple):
    """Least or outer horn (mm) at each slope, and the largest u^2 (mm2) that the readings give it at any of them.

    Of the least horn also the share of its run at which the nail is deepest at the first of the slopes.
    """

    at: list[float]
    squared: float
    deepest: float = 0.0


def _least(angles: Sequence[_Angle], wall: MeasuredValue, nail: Nail, bow: float, start: float) -> _Horn:
    """The horn of :func:`least_horn`, and how sure it is.

    Where the nail is deepest the share itself does not count for u: moving it does not change the depth.  Where its run
    is looked at from a height on, a higher exit takes that height nearer to the hole.
    """
    (thickness, wall_u), (hole, hole_u, height, height_u), sqrt = wall, nail, math.sqrt
    inner, squares, first_share = [], [], None
    for _, sine, cosine in angles:
        # _sides, _bow_depth, _share_at and deepest_share, written out: a slope takes 1.4 us in place of 2.3 without u.
        depth, along = hole * sine, height - hole * cosine
        if along < 0:
            along = 0.0
        line = sqrt(depth * depth + along * along)
        dip = bow * along / line if line > POINT else bow
        from_ = 0.0
        if start > 0:
            rise, out = height * sine, hole - height * cosine
            straight = sqrt(rise * rise + out * out)
            lift = bow * out / straight if straight > POINT else 0.0
            first = rise + 4 * lift
            under_root = first * first - 16 * lift * start
            from_ = 1.0
            if under_root >= 0 and first > 0:
                from_ = min(1.0, 2 * start / (first + sqrt(under_root)))
        share = from_
        if dip > 0 and depth < 4 * dip:
            share = max(from_, MIDDLE - depth / (8 * dip))
        rest, bowed = 1 - share, 4 * share * (1 - share)
        inner.append(thickness * sine - rest * depth - bowed * dip)
        if first_share is None:
            first_share = share
        of_wall, of_hole, of_exit = sine * wall_u, sine * hole_u, 0.0
        if line > POINT:
            turn = bow * depth / (line * line * line)
            of_hole = (rest * sine - bowed * turn * (cosine * depth + sine * along)) * hole_u
            of_exit = bowed * turn * depth * height_u
            if share == from_ and 0 < from_ < 1 and height > 0:
                of_exit += (depth - 4 * dip * (1 - 2 * share)) * share / height * height_u
        squares.append(of_wall * of_wall + of_hole * of_hole + of_exit * of_exit)
    return _Horn(inner, max(squares), first_share or 0.0)


def _least_at(slope: float, wall: MeasuredValue, nail: Nail, bow: float, start: float) -> float:
    return _least([_angle(slope)], wall, nail, bow, start).at[0]


def _outer(angles: Sequence[_Angle], nail: Nail, bow: float) -> _Horn:
    """The horn of :func:`outer_horn`, and how sure it is."""
    hole, hole_u, height, height_u = nail
    outer, squares = [], []
    for _, sine, cosine in angles:
        depth, along = hole * sine, max(0.0, height - hole * cosine)
        line = math.sqrt(depth * depth + along * along)
        dip, by_hole, of_exit = bow, 0.0, 0.0
        if line > POINT:
            dip, turn = bow * along / line, bow * depth / (line * line * line)
            by_hole, of_exit = turn * (cosine * depth + sine * along), turn * depth * height_u
        outer.append(MIDDLE * depth + dip)
        of_hole = (MIDDLE * sine - by_hole) * hole_u
        squares.append(of_hole * of_hole + of_exit * of_exit)
    return _Horn(outer, max(squares))


def _outer_at(slope: float, nail: Nail, bow: float) -> float:
    return _outer([_angle(slope)], nail, bow).at[0]


def _most_outer(nail: Nail, starts: Span, grid: Grid) -> tuple[float, float]:
    """The greatest outer horn (mm), with the greatest bow, and its largest u^2 (mm2) with any.

    Of an everyday nail both stand at the steepest slope: 6 us for looking at all, and 2 so.

    The horn is d/2 + b e/L: with the slope's sine s and cosine c, the depth d of the hole h, the exit's height H above
    the ground and e up the wall, the bow b and the line's length L.  It rises by h c/2 + b h^2 s (h - H c)/L^3, which
    is h c (1/2 - b H/L^2) at the least; and L is H - h at the least.

    A change of the hole moves it by s/2 - m with m = b d s e / L^3, and one of the exit by x = b d^2 / L^3.  Neither d
    nor s e is more than L.  So L >= 2b/s gives m <= s/2, and 2 b u(exit)^2 <= s^2 H u(hole)^2 then gives
    x^2 u(exit)^2 <= m (s - m) u(hole)^2: what the exit adds is no more than what the bow takes off the hole's part.
    """
    hole, hole_u, height, height_u = nail
    bow, sine, long = grid.bows.high, grid.flattest, height - hole
    if (
        grid.rising
        and grid.bows.low <= 0 <= hole
        and long > POINT
        and long * long >= 2 * bow * height
        and long * sine >= 2 * bow
        and 2 * bow * height_u * height_u <= sine * sine * height * hole_u * hole_u
    ):
        return _outer(grid.along[-1:], nail, bow).at[0], (MIDDLE * grid.steepest * hole_u) ** 2
    if grid.bows.low <= 0 and starts.high <= 0:
        least_bowed = (MIDDLE * grid.steepest * hole_u) ** 2
    else:
        least_bowed = _outer(grid.along, nail, grid.bows.low).squared
    horn = _outer(grid.along, nail, bow)
    greatest = extreme(grid.slopes, horn.at, -1, lambda slope: _outer_at(slope, nail, bow))
    return greatest, max(horn.squared, least_bowed)


def horn_span(
    known: Known, slopes: Span, bows: Span, factor: float, starts: Span = FROM_THE_GROUND
) -> tuple[Span, Span]:
    """Least and outer horn (mm), each from least to greatest over ``slopes`` (rad) and ``bows`` (mm).

    The run counts from a height within ``starts`` (mm) above the ground up.

    Each is then widened by ``factor`` times the largest standard uncertainty that the readings give it anywhere in
    these ranges (JCGM 100, 5.1.2: they are independent).
    """
    wall = MeasuredValue(float(known.wall.value), known.wall.u)
    nail = float(known.hole.value), known.hole.u, float(known.exit.value), known.exit.u
    span = horn_of(Ends(wall, wall), nail, factor, starts, grid_over(slopes, bows))
    return span.inner, span.outer


class HornSpan(NamedTuple):
    """Least and outer horn (mm), and where the nail is deepest with the most sloping wall and the greatest bow."""

    inner: Span
    outer: Span
    deepest: float


def horn_of(walls: Ends, nail: Nail, factor: float, starts: Span, grid: Grid) -> HornSpan:
    """The horn of one nail as :func:`horn_span` has it, its wall at its thinnest and at its thickest."""
    # More bow always goes deeper, so over the bow only its ends count.
    bowed = _least(grid.along, walls.thinnest, nail, grid.bows.high, starts.low)
    inner_low = extreme(
        grid.slopes, bowed.at, 1, lambda slope: _least_at(slope, walls.thinnest, nail, grid.bows.high, starts.low)
    )
    inner_high, straight_squared = _most_inner(walls, nail, starts, grid)
    outer_high, outer_squared = _most_outer(nail, starts, grid)
    if grid.bows.low > 0:
        horn = _outer(grid.along, nail, grid.bows.low)
        outer_low = extreme(grid.slopes, horn.at, 1, lambda slope: _outer_at(slope, nail, grid.bows.low))
    else:
        outer_low = MIDDLE * min(nail[0] * grid.flattest, nail[0] * grid.steepest)
    inner_u = factor * math.sqrt(max(bowed.squared, straight_squared))
    outer_u = factor * math.sqrt(outer_squared)
    inner, outer = Span(inner_low - inner_u, inner_high + inner_u), Span(outer_low - outer_u, outer_high + outer_u)
    return HornSpan(inner, outer, bowed.deepest)


def _most_inner(walls: Ends, nail: Nail, starts: Span, grid: Grid) -> tuple[float, float]:
    """The greatest least horn (mm), and its largest u^2 (mm2), both with the least bow."""
    hole, hole_u, height, height_u = nail
    bow, (thinnest, thickest) = grid.bows.low, walls
    if bow <= 0 and starts.high <= 0:
        # Straight, the nail is deepest at its hole, and all goes with the sine of the slope: only the ends of its range
        # and the upright count.
        of_wall, of_hole = grid.steepest * thinnest.u, grid.steepest * hole_u
        inner_high = max([thickest.value * sine - hole * sine for _, sine, _ in grid.ends])
        return inner_high, of_wall * of_wall + of_hole * of_hole
    within = thickest.value >= hole
    if bow == 0 and grid.rising and 0 <= hole < height - POINT and (within or height * grid.flattest >= starts.high):
        # Straight, it is deepest where it comes to the height z: with the slope's sine s wall s - hole (s - z / height)
        # is left, or wall s where it never comes to z.  That rises with s where the wall is as thick as the hole is
        # deep, and else falls where the nail comes to z at all; and every part of u rises with s.  At the six slopes it
        # takes 16 us, and 2 so.
        sine = grid.steepest if within else grid.flattest
        inner_high = thickest.value * sine - max(0.0, hole * (sine - starts.high / height))
        sine, low = grid.steepest, min(grid.steepest, max(0.0, starts.low) / height)
        squared = (sine * thinnest.u) ** 2 + ((sine - low) * hole_u) ** 2
        if low < sine:
            squared += (hole * low / height * height_u) ** 2
        return inner_high, squared
    horn = _least(grid.along, thickest, nail, bow, starts.high)
    # Kinked where the nail begins to come to that height.
    inner_high = extreme(
        grid.slopes, horn.at, -1, lambda slope: _least_at(slope, thickest, nail, bow, starts.high), kinked=True
    )
    return inner_high, _least(grid.along, thinnest, nail, bow, starts.low).squared


def _ends_and_upright(slopes: Span) -> list[float]:
    upright = [math.pi / 2] if slopes.low < math.pi / 2 < slopes.high else []
    return [slopes.low, *upright, slopes.high]


def _along(span: Span) -> list[float]:
    if span.low == span.high:
        return [span.low]
    step = (span.high - span.low) / _STRIPS
    return [span.low + number * step for number in range(_STRIPS)] + [span.high]
