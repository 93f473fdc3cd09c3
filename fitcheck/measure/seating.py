"""A rigid flat shoe laid on measured heights: where it bears, the gaps below it, and how far it rocks.

Points are rows x, y, z in one unit of length, z pointing from the horn to the shoe.  The shoe rests on the upper
convex hull of the points, on the facet above their centroid, and tips from facet to facet over their common edges.
It is followed as it tips, always over the edge that the pressed spot lies furthest outside of.  Gaps and drops are
linear in the heights, and so is their uncertainty in those of the heights (JCGM 100:2008, 5.1.2, independent
uncertainties).
"""

from __future__ import annotations

import math
from typing import NamedTuple, TypeVar

import numpy as np

from fitcheck.measure.planes import Array, least_squares

__all__ = ["Rock", "Seat", "bears_on", "seat"]

_TINY = 1e-9  # where rounding begins, relative to the size of the figure

_Facet = tuple[int, int, int]
_Numbers = TypeVar("_Numbers", float, Array)


class Rock(NamedTuple):
    """How far the shoe drops at ``point`` when pressed there; it tips over the line between the two ``hinge`` points.

    ``hinge`` is None where the shoe bears wherever it is pressed.
    """

    depth: float
    u: float
    point: int
    hinge: tuple[int, int] | None


class Seat(NamedTuple):
    """Where the shoe bears, the gap at each point with its uncertainty, and the rock."""

    bears_on: _Facet
    gaps: Array
    u: Array
    rock: Rock


def bears_on(points: Array) -> tuple[int, int, int]:
    """The three points that the shoe rests on, as :func:`seat` has them."""
    return _Hull(points).resting()


def seat(points: Array, press_inset: float, u: Array | None = None) -> Seat:
    """Lay the shoe on the points and press it everywhere; distances are perpendicular to the seated plane.

    A shoe is pressed on its web, not on its very rim: the spot pressed for a point lies ``press_inset`` (unit of the
    points) nearer the centroid.  Without that, a dip between two high spots close together at the rim would count as
    rocking, over a lever of next to nothing.  The points must not lie on one line in plan, nor two on one spot; ``u``
    is the standard uncertainty of each height, 1 where it is not given.
    """
    u = np.ones(len(points)) if u is None else u
    hull = _Hull(points)
    resting = hull.resting()
    shares = hull.shares(hull.plan, resting)
    slope = least_squares(points[list(resting)])
    upright = 1.0 / math.hypot(1.0, slope.along_x, slope.along_y)
    rock = Rock(0.0, 0.0, 0, None)
    for point, at in enumerate(hull.plan):
        pressed = at * max(0.0, 1.0 - press_inset / max(math.hypot(*at), _TINY))
        x, y = pressed.tolist()
        tipped = hull.under(x, y, resting)
        if tipped.hinge is None:
            continue
        change = np.zeros(len(points))
        change[list(resting)] = shares[point]
        x, y = at.tolist()
        change[list(tipped.facet)] -= hull.shares_at(x, y, tipped.facet)
        depth = max(0.0, float(change @ hull.heights)) * upright
        if rock.hinge is None or depth > rock.depth:
            rock = Rock(depth, float(np.linalg.norm(change * u)) * upright, point, tipped.hinge)
    gaps = np.maximum(0.0, shares @ hull.heights[list(resting)] - hull.heights) * upright
    gaps_u = np.sqrt((shares**2) @ u[list(resting)] ** 2 + u**2) * upright
    # Where it bears there is no gap, whatever the heights.
    gaps[list(resting)] = gaps_u[list(resting)] = 0.0
    return Seat(resting, gaps, gaps_u, rock)


class _Tipped(NamedTuple):
    facet: _Facet
    hinge: tuple[int, int] | None


class _Hull:
    """The upper convex hull, walked facet by facet; a facet is three points whose plane no point rises above."""

    def __init__(self, points: Array) -> None:
        self.plan = points[:, :2] - points[:, :2].mean(axis=0)
        slope = least_squares(points)
        # Heights over their own plane: the hull is the same, and rounding stays small on a slope.
        residual = points[:, 2] - self.plan @ np.array([slope.along_x, slope.along_y])
        self.heights: Array = residual - residual.mean()
        self._size = float(np.abs(self.plan).max())
        self._spots: list[list[float]] = self.plan.tolist()
        self._tips: dict[tuple[_Facet, int], tuple[int, int, int | None]] = {}
        """Tips found before: pressed at neighbouring points, the shoe tips the same way."""

    def shares(self, spots: Array, facet: _Facet) -> Array:
        """Barycentric coordinates of plan positions in a facet, one row each; negative: outside that corner's edge."""
        return np.column_stack(self.shares_at(spots[:, 0], spots[:, 1], facet))

    def shares_at(self, x: _Numbers, y: _Numbers, facet: _Facet) -> tuple[_Numbers, _Numbers, _Numbers]:
        """The same of one position or of many: two equations each, by Cramer's rule."""
        (left, low), (first_x, first_y), (second_x, second_y) = (self._spots[corner] for corner in facet)
        first_x, first_y, second_x, second_y = first_x - left, first_y - low, second_x - left, second_y - low
        whole = first_x * second_y - second_x * first_y
        away_x, away_y = x - left, y - low
        of_first = (away_x * second_y - second_x * away_y) / whole
        of_second = (first_x * away_y - away_x * first_y) / whole
        return 1.0 - of_first - of_second, of_first, of_second

    def resting(self) -> _Facet:
        """The facet above the centroid."""
        return self.under(0.0, 0.0, self.some_facet()).facet

    def some_facet(self) -> _Facet:
        """Let a level plane down on the highest point, then turn it towards the centroid, twice, until it bears."""
        first = int(self.heights.argmax())
        inwards = -self.plan[first]
        if math.hypot(*inwards) < _TINY * self._size:
            inwards = np.array([1.0, 0.0])
        outside = (self.plan - self.plan[first]) @ inwards / math.hypot(*inwards)
        drop = self.heights[first] - self.heights
        second, turn = self._touched(drop, outside)
        drop = drop - turn * outside
        outside = self._outside(first, second, self.plan)
        centroid = float(self._outside(first, second, np.zeros((1, 2)))[0])
        if centroid < 0.0 or (outside <= _TINY * self._size).all():
            outside = -outside
        third, _ = self._touched(drop, outside)
        return first, second, third

    def under(self, x: float, y: float, facet: _Facet) -> _Tipped:
        """The facet that the shoe lies on when pressed at a spot, tipping from ``facet``, and the first hinge."""
        hinge: tuple[int, int] | None = None
        for _ in self.heights:
            inside = self.shares_at(x, y, facet)
            lifted = inside.index(min(inside))
            if inside[lifted] >= -_TINY:
                break
            tip = facet, lifted
            if tip not in self._tips:
                self._tips[tip] = self._tipped_over(*tip)
            first, second, touched = self._tips[tip]
            if touched is None:
                break  # the spot lies on the rim, but for rounding
            hinge = hinge or (first, second)
            facet = (first, second, touched)
        return _Tipped(facet, hinge)

    def _tipped_over(self, facet: _Facet, lifted: int) -> tuple[int, int, int | None]:
        """The edge across from a corner, and the point touched when the shoe tips over it; None where it is the rim."""
        first, second = (corner for number, corner in enumerate(facet) if number != lifted)
        outside = self._outside(first, second, self.plan)
        if outside[facet[lifted]] > 0.0:
            outside = -outside
        if (outside <= _TINY * self._size).all():
            return first, second, None
        drop = self.shares(self.plan, facet) @ self.heights[list(facet)] - self.heights
        return first, second, self._touched(drop, outside)[0]

    def _outside(self, first: int, second: int, spots: Array) -> Array:
        """Signed distances in plan from the line through two points."""
        along = self.plan[second] - self.plan[first]
        away = spots - self.plan[first]
        distance: Array = (along[0] * away[:, 1] - along[1] * away[:, 0]) / math.hypot(*along)
        return distance

    def _touched(self, drop: Array, outside: Array) -> tuple[int, float]:
        """The point that a plane meets first as it turns down on the outer side, and how far it turns (slope)."""
        beyond = np.flatnonzero(outside > _TINY * self._size)
        turns = np.maximum(0.0, drop[beyond]) / outside[beyond]
        least = float(turns.min())
        # Of several met together the furthest out: a wide facet is surer than a narrow one.
        together = beyond[turns <= least + _TINY * float(np.ptp(self.heights)) / self._size]
        return int(together[outside[together].argmax()]), least
