"""The foot from below, ready to be drawn: lines and points in mm, the toe towards +y, the lateral side towards +x.

The origin is the middle of the hoof, round which the angles of the bearing wall are counted: 0 at the toe, positive to
the lateral side.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Protocol

from fitcheck.drawing.svg import Point
from rules import Rulebook

__all__ = [
    "BACK",
    "HALF_WIDTH",
    "SIDES",
    "Edge",
    "Figure",
    "Frame",
    "Hole",
    "Offset",
    "Stretches",
    "Values",
    "Wall",
    "frog_and_bars",
    "rounded",
    "stretches_of",
]

SIDES: Final = {"medial": -1, "lateral": 1}
"""The sides of the foot, and the sign of x and of angles on each."""

_LEVEL: Final = 0.3
"""The share of a stretch, about its middle, over which its own reading holds; from there it runs into the next."""


@dataclass(frozen=True)
class Stretches:
    """The angles (deg), to either side, at which the toe, the quarters and the heels end."""

    toe: float
    quarter: float
    end: float

    @property
    def all(self) -> list[tuple[str, float, float]]:
        """Every place from medial over the toe to lateral: its name, and the angles from which to which it runs."""
        return [
            ("medial_heel", -self.end, -self.quarter),
            ("medial_quarter", -self.quarter, -self.toe),
            ("toe", -self.toe, self.toe),
            ("lateral_quarter", self.toe, self.quarter),
            ("lateral_heel", self.quarter, self.end),
        ]

    @property
    def quantities(self) -> dict[str, str]:
        """What says how far the iron lies beyond the wall at each place."""
        return {place: "width" if place.endswith("_heel") else "overhang" for place, _, _ in self.all}

    def middle(self, place: str) -> float:
        """The angle in the middle of a place."""
        return next((first + last) / 2 for name, first, last in self.all if name == place)

    def blended(self, angle: float, at_places: Mapping[str, float]) -> float:
        """The value at an angle: a place's own about its middle, smoothly into the next; 0 where none is given."""
        knots: list[tuple[float, float]] = []
        for place, first, last in self.all:
            middle, half = (first + last) / 2, (last - first) / 2 * _LEVEL
            value = at_places.get(place, 0.0)
            knots += [(middle - half, value), (middle + half, value)]
        if angle <= knots[0][0]:
            return knots[0][1]
        for (before, start), (after, stop) in pairwise(knots):
            if angle <= after:
                share = (angle - before) / (after - before)
                return start + (stop - start) * share * share * (3 - 2 * share)
        return knots[-1][1]


def stretches_of(book: Rulebook) -> Stretches:
    """The stretches as ``book`` has them."""
    ends = []
    for name in ("place_toe", "place_quarter", "place_heel"):
        high = book.parameters[name].high
        if high is None:
            raise ValueError(f"the rulebook's parameter {name} has no upper end")
        ends.append(high)
    return Stretches(*ends)


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


HALF_WIDTH: Final = 71.0
BACK: Final = 67.5
_PARTS: Final = 6
# One side of the frog, from its point to the cleft between the bulbs; half of the cleft; a bar.
_FROG: Final = (
    (0.0, 17.0),
    (2.2, 14.0),
    (5.5, -2.0),
    (9.5, -22.0),
    (14.5, -44.0),
    (18.0, -58.0),
    (17.6, -65.0),
    (13.0, -69.0),
    (6.5, -68.0),
    (2.0, -63.0),
    (0.0, -58.0),
)
_CLEFT: Final = ((0.0, -31.0), (1.5, -36.0), (2.3, -43.0), (1.7, -51.0), (0.0, -58.0))
_BAR: Final = ((31.5, -63.5), (27.5, -61.0), (23.5, -52.0), (20.0, -41.0), (16.5, -29.0), (14.0, -21.0))


def frog_and_bars(half_width: float, back: float) -> list[list[Point]]:
    """The lines for a hoof of this half width whose heels end at y = ``back`` (mm)."""
    across, along = half_width / HALF_WIDTH, -back / BACK if back < 0 else 1.0

    def stretched(points: Sequence[Point], side: int = 1) -> list[Point]:
        return [(side * x * across, y * along) for x, y in rounded(points)]

    return [
        [*stretched(_FROG), *reversed(stretched(_FROG, -1))],
        [*stretched(_CLEFT), *reversed(stretched(_CLEFT, -1))],
        stretched(_BAR),
        stretched(_BAR, -1),
    ]


def rounded(points: Sequence[Point]) -> list[Point]:
    """A smooth line through the points (Catmull and Rom's spline)."""
    padded = [points[0], *points, points[-1]]
    line = [
        _between(padded[start : start + 4], step / _PARTS) for start in range(len(points) - 1) for step in range(_PARTS)
    ]
    return [*line, points[-1]]


def _between(four: Sequence[Point], t: float) -> Point:
    weights = (
        -0.5 * t + t**2 - 0.5 * t**3,
        1 - 2.5 * t**2 + 1.5 * t**3,
        0.5 * t + 2 * t**2 - 1.5 * t**3,
        -0.5 * t**2 + 0.5 * t**3,
    )
    pairs = list(zip(weights, four, strict=True))
    return sum(weight * x for weight, (x, _) in pairs), sum(weight * y for weight, (_, y) in pairs)
