"""The foot from below, ready to be drawn: lines and points in mm, the toe towards +y, the lateral side towards +x.

The origin is the middle of the hoof, round which the angles of the bearing wall are counted: 0 at the toe, positive to
the lateral side.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from fitcheck.drawing.svg import Point

__all__ = ["Edge", "Figure", "Frame", "Hole", "Offset", "Values", "Wall"]

Values = Mapping[tuple[str, str], float]
"""The numbers of an assessment by quantity and place, each in its quantity's own unit."""


class Wall(Protocol):
    """The outer edge of the bearing wall."""

    @property
    def closed(self) -> bool:
        """Whether the line comes back to its beginning."""
        ...

    @property
    def whole(self) -> Sequence[Point]:
        """All of it, from medial over the toe to lateral."""
        ...

    def at(self, angle: float) -> Point:
        """The point at an angle (deg); beyond its ends, the end."""
        ...

    def between(self, first: float, last: float) -> Sequence[Point]:
        """From one angle to another, both points among them."""
        ...


@dataclass(frozen=True, slots=True)
class Edge:
    """A line of the shoe's edge at a place; not ``known`` where what it hangs on was not read."""

    place: str
    part: str
    """``outer``, ``inner``, ``branch`` (past the buttress) or ``end``."""
    points: Sequence[Point]
    known: bool


@dataclass(frozen=True, slots=True)
class Hole:
    """One nail hole: its place such as ``nail:medial:1``, and whether it was said how far back it stands.

    ``driven`` is None where nails were not observed.
    """

    place: str
    point: Point
    known: bool
    driven: bool | None


@dataclass(frozen=True, slots=True)
class Offset:
    """Iron beyond horn at a place: from the wall to the iron, square to the wall; ``value`` (mm) as it was read."""

    place: str
    quantity: str
    wall: Point
    iron: Point
    value: float


@dataclass(frozen=True)
class Figure:
    """Everything that the view from below shows of hoof and shoe."""

    traced: bool
    wall: Wall
    wall_thickness: float
    wall_thickness_known: bool
    iron: Sequence[Sequence[Point]]
    """The web of the shoe: shapes, and holes in them."""
    edges: Sequence[Edge]
    beyond: Sequence[Sequence[Point]]
    """Where horn lies beyond iron."""
    offsets: Sequence[Offset]
    holes: Sequence[Hole]
    sketched: Sequence[Sequence[Point]]
    """Frog and bars: for the eye only."""
    factor: float
    """How many times wider than it is the iron beyond the wall is drawn."""
    length_factor: float
    """How many times longer than they are the branches past the buttress are drawn."""

    @property
    def extent(self) -> tuple[float, float, float, float]:
        """Least x, most x, least y, most y of all that is drawn."""
        points = [*self.wall.whole, *(point for edge in self.edges for point in edge.points)]
        points += [hole.point for hole in self.holes]
        across, along = [x for x, _ in points], [y for _, y in points]
        return min(across), max(across), min(along), max(along)


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
