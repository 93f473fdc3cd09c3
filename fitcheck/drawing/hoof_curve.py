"""The edge of a hoof that was not traced: our own plain curve, for the eye only.

Its radii (mm) at some angles (deg) are data of the drawing; they are no measures of any foot and judge nothing.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from functools import cached_property
from itertools import pairwise
from typing import Final

from fitcheck.drawing.svg import Point
from rules.model import Foot

__all__ = ["HoofCurve"]

# A fore foot rounder, a hind foot longer and narrower at the toe: common practice, no source.
_RADII: Final[dict[Foot, Sequence[tuple[float, float]]]] = {
    "fore": ((0.0, 75.0), (45.0, 74.0), (90.0, 71.0), (120.0, 72.0), (150.0, 78.0)),
    "hind": ((0.0, 81.0), (45.0, 72.5), (90.0, 67.0), (120.0, 69.0), (150.0, 77.0)),
}
_STEP: Final = 2.0
_HAIR: Final = 1e-3


class HoofCurve:
    """A smooth curve through the radii, from ``-end`` to ``end`` degrees, alike on both sides."""

    closed = False

    def __init__(self, foot: Foot, end: float) -> None:
        self.end = end
        self._knots = _RADII[foot]
        radii = [radius for _, radius in self._knots]
        angles = [angle for angle, _ in self._knots]
        chords = [(r1 - r0) / (a1 - a0) for (a0, r0), (a1, r1) in pairwise(self._knots)]
        inner = [
            (radii[i + 1] - radii[i - 1]) / (angles[i + 1] - angles[i - 1]) for i in range(1, len(self._knots) - 1)
        ]
        # Level at the toe, where both sides meet.
        self._slopes = [0.0, *inner, chords[-1]]

    def radius(self, angle: float) -> float:
        """Distance from the middle (mm): a cubic between two knots, by their radii and slopes."""
        turn = abs(angle)
        last = bisect_right([knot for knot, _ in self._knots], turn, hi=len(self._knots) - 1)
        (a0, r0), (a1, r1) = self._knots[last - 1], self._knots[last]
        width = a1 - a0
        t = (turn - a0) / width
        if t > 1:
            return r1 + self._slopes[last] * (turn - a1)
        return (
            (2 * t**3 - 3 * t**2 + 1) * r0
            + (t**3 - 2 * t**2 + t) * width * self._slopes[last - 1]
            + (3 * t**2 - 2 * t**3) * r1
            + (t**3 - t**2) * width * self._slopes[last]
        )

    def at(self, angle: float) -> Point:
        """The point at an angle; beyond the ends, the end."""
        turn = max(-self.end, min(self.end, angle))
        return self._point(turn)

    def _point(self, angle: float) -> Point:
        radius = self.radius(angle)
        return radius * math.sin(math.radians(angle)), radius * math.cos(math.radians(angle))

    def outward(self, angle: float) -> Point:
        """The direction square to the curve, away from the hoof, of length 1."""
        turn = max(-self.end, min(self.end, angle))
        (x0, y0), (x1, y1) = self._point(turn - _HAIR), self._point(turn + _HAIR)
        length = math.hypot(x1 - x0, y1 - y0)
        return (y0 - y1) / length, (x1 - x0) / length

    def beside(self, angle: float, out: float) -> Point:
        """The point ``out`` mm outside the curve, square to it."""
        (x, y), (across, along) = self.at(angle), self.outward(angle)
        return x + out * across, y + out * along

    def angles(self, first: float, last: float) -> list[float]:
        """Both angles, and even steps between them."""
        steps = max(1, math.ceil((last - first) / _STEP))
        return [first + (last - first) * step / steps for step in range(steps + 1)]

    def between(self, first: float, last: float) -> list[Point]:
        """From one angle to another."""
        return [self.at(angle) for angle in self.angles(first, last)]

    @cached_property
    def whole(self) -> list[Point]:
        """From heel to heel."""
        return self.between(-self.end, self.end)
