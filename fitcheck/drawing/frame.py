"""From millimetres on the foot to units of the drawing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from fitcheck.drawing.svg import Point

__all__ = ["Frame"]


@dataclass(frozen=True, slots=True)
class Frame:
    """Where the foot's origin lies in the drawing, how many units a millimetre has, and which way +x runs.

    ``side`` is 1 where the foot's +x runs to the right, -1 where it runs to the left; +y runs up.
    """

    x: float
    y: float
    scale: float
    side: int

    def at(self, point: Point) -> Point:
        """The place of a point of the foot (mm) in the drawing."""
        return self.x + self.side * self.scale * point[0], self.y - self.scale * point[1]

    def all(self, points: Iterable[Point]) -> list[Point]:
        """The places of many points."""
        return [self.at(point) for point in points]
