"""The view from below of a foot that was not traced, built from its readings.

The iron stands off the wall by the readings times a factor that is told in the drawing; so do the ends of the branches.
Web, frog and the hoof's own shape are for the eye (data of the drawing, mm).
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Final

from fitcheck.drawing.figure import SIDES, Edge, Figure, Hole, Offset, Stretches, Values, frog_and_bars
from fitcheck.drawing.svg import Point
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.readings import nail_place
from rules.model.records import Foot

__all__ = ["FACTORS", "HoofCurve", "schematic"]

FACTORS: Final = (3.0, 2.0, 1.0, 0.5, 0.2)
_WIDEST: Final = 14.0
"""How far from the wall the iron is drawn at most."""
_LENGTH_FACTORS: Final = (1.0, 0.5, 0.25)
_LONGEST: Final = (-30.0, 26.0)
"""How far before and behind the buttress a branch is drawn to end at most."""
_WEB: Final = (25.0, 16.0)
"""Width of the web at the toe and at the heel."""
_WALL: Final = 10.0
_INSET: Final = 9.0
_FIRST_HOLE: Final = 24.0
_HOLE_STEP: Final = 14.0


@dataclass(frozen=True, slots=True)
class _Seat:
    """How the iron lies beside the wall: its offset (mm as drawn) at every angle, and where each branch ends (y)."""

    curve: HoofCurve
    stretches: Stretches
    offsets: dict[str, float]
    ends: dict[str, float]

    def out(self, angle: float) -> float:
        return self.stretches.blended(angle, self.offsets)

    def web(self, angle: float) -> float:
        share = abs(angle) / self.curve.end
        return _WEB[0] + (_WEB[1] - _WEB[0]) * share

    def outer(self, angle: float) -> Point:
        return self.curve.beside(angle, self.out(angle))

    def inner(self, angle: float) -> Point:
        return self.curve.beside(angle, self.out(angle) / 2 - self.web(angle))


def schematic(fitting: Fitting, values: Values, stretches: Stretches) -> Figure:
    """The figure of a foot without traces."""
    curve = HoofCurve(fitting.pair, stretches.end)
    read = {
        place: values[quantity, place]
        for place, quantity in stretches.quantities.items()
        if (quantity, place) in values
    }
    factor = _factor(max((abs(value) for value in read.values()), default=0.0), FACTORS, _WIDEST)
    lengths = {side: values["length", f"{side}_heel"] for side in SIDES if ("length", f"{side}_heel") in values}
    length_factor = min(
        (_factor(abs(length), _LENGTH_FACTORS, abs(_LONGEST[length > 0])) for length in lengths.values()), default=1.0
    )
    buttress = curve.at(curve.end)[1]
    seat = _Seat(
        curve,
        stretches,
        {place: factor * value for place, value in read.items()},
        {side: buttress - length_factor * lengths.get(side, 0.0) for side in SIDES},
    )
    edges, iron = _shoe(seat, set(read), set(lengths))
    thickness = values.get(("wall_thickness", "foot"), _WALL)
    return Figure(
        traced=False,
        wall=curve,
        wall_thickness=thickness,
        wall_thickness_known=("wall_thickness", "foot") in values,
        iron=[iron],
        edges=edges,
        beyond=[*_inside(seat, set(read)), *_uncovered(seat, thickness)],
        offsets=[
            Offset(place, stretches.quantities[place], curve.at(angle), seat.outer(angle), value)
            for place, value in read.items()
            for angle in (stretches.middle(place),)
        ],
        holes=_holes(fitting, values, seat),
        sketched=frog_and_bars(curve.radius(90.0), buttress),
        factor=factor,
        length_factor=length_factor,
    )


def _factor(largest: float, factors: Sequence[float], room: float) -> float:
    """The greatest of ``factors`` that leaves ``largest`` within ``room``; a smaller one where none does."""
    return next((factor for factor in factors if factor * largest <= room), room / max(largest, room))


def _shoe(seat: _Seat, read: set[str], lengths: set[str]) -> tuple[list[Edge], list[Point]]:
    """The lines of the shoe's edge, and its web as one shape from the medial end over the toe to the lateral one."""
    edges: list[Edge] = []
    sides: dict[str, tuple[list[Point], list[Point]]] = {}
    for side, sign in SIDES.items():
        end = seat.ends[side]
        outer, inner = (_branch(seat, edge, sign, end) for edge in (seat.outer, seat.inner))
        sides[side] = outer, inner
        known = side in lengths
        edges += [
            Edge(f"{side}_heel", "end", [outer[-1], inner[-1]], known),
            Edge(f"{side}_heel", "inner", inner, known),
        ]
    edges += _outer_edges(seat, read, lengths)
    (medial_out, medial_in), (lateral_out, lateral_in) = sides["medial"], sides["lateral"]
    return edges, [*reversed(medial_out), *lateral_out[1:], *reversed(lateral_in), *medial_in[1:]]


def _branch(seat: _Seat, edge: Callable[[float], Point], sign: int, end: float) -> list[Point]:
    """One edge of one branch from the toe to where the branch ends."""
    points = [edge(sign * angle) for angle in seat.curve.angles(0.0, seat.curve.end)]
    return _ended(points, end)


def _ended(points: list[Point], end: float) -> list[Point]:
    """The line going back as far as y = ``end``: cut off there, or drawn straight on."""
    for number in range(1, len(points)):
        (x0, y0), (x1, y1) = points[number - 1], points[number]
        if y1 <= end < y0 and y1 < 0:
            share = (y0 - end) / (y0 - y1)
            return [*points[:number], (x0 + share * (x1 - x0), end)]
    return [*points, (points[-1][0], end)]


def _outer_edges(seat: _Seat, read: set[str], lengths: set[str]) -> list[Edge]:
    edges = []
    for place, first, last in seat.stretches.all:
        points = [seat.outer(angle) for angle in seat.curve.angles(first, last)]
        if place.endswith("_heel"):
            side = place.removesuffix("_heel")
            backwards = points if side == "lateral" else points[::-1]
            ended = _ended(backwards, seat.ends[side])
            if len(ended) == len(backwards) + 1:
                edges.append(Edge(place, "branch", ended[-2:], side in lengths))
                ended = ended[:-1]
            points = ended
        edges.append(Edge(place, "outer", points, place in read))
    return edges


def _inside(seat: _Seat, read: set[str]) -> list[list[Point]]:
    """The strips between iron and wall where the iron lies inside it."""
    strips: list[list[Point]] = []
    run: list[float] = []
    for place, first, last in seat.stretches.all:
        for angle in seat.curve.angles(first, last):
            side = "medial" if angle < 0 else "lateral"
            covered = abs(angle) <= seat.stretches.toe or seat.outer(angle)[1] >= seat.ends[side]
            if place in read and seat.out(angle) < 0 and covered:
                run.append(angle)
                continue
            strips += [_strip(seat, run)] if len(run) > 1 else []
            run = []
    return [*strips, _strip(seat, run)] if len(run) > 1 else strips


def _strip(seat: _Seat, angles: Sequence[float]) -> list[Point]:
    return [*(seat.curve.at(angle) for angle in angles), *(seat.outer(angle) for angle in reversed(angles))]


def _uncovered(seat: _Seat, thickness: float) -> list[list[Point]]:
    """The bearing wall behind a branch that ends before the buttress."""
    strips = []
    for sign, end in ((SIDES[side], end) for side, end in seat.ends.items()):
        angles = [sign * angle for angle in seat.curve.angles(90.0, seat.curve.end)]
        bare = [angle for angle in angles if seat.curve.at(angle)[1] < end]
        if len(bare) > 1:
            inner = [seat.curve.beside(angle, -thickness) for angle in reversed(bare)]
            strips.append([*(seat.curve.at(angle) for angle in bare), *inner])
    return strips


def _holes(fitting: Fitting, values: Values, seat: _Seat) -> list[Hole]:
    nails = fitting.observations.nails
    if nails is None:
        if fitting.stage == "hot_fit":
            return []
        return [
            Hole(f"nail:{side}:{hole}", seat.curve.beside(sign * _usual_angle(hole), -_INSET), known=False, driven=None)
            for side, sign in SIDES.items()
            for hole in range(1, 5)
        ]
    toe = seat.outer(0.0)[1]
    length = toe - sum(seat.ends.values()) / len(seat.ends)
    holes = []
    for nail in nails:
        place, sign = nail_place(nail), SIDES[nail.branch]
        inset = values.get(("hole_inset", place), _INSET)
        position = values.get(("position", place))
        angle = _usual_angle(nail.hole)
        if position is not None:
            angle = _angle_at(seat.curve, sign, inset, toe - position * length)
        holes.append(Hole(place, seat.curve.beside(sign * angle, -inset), known=position is not None, driven=True))
    return holes


def _usual_angle(hole: int) -> float:
    return _FIRST_HOLE + _HOLE_STEP * (hole - 1)


def _angle_at(curve: HoofCurve, sign: int, inset: float, y: float) -> float:
    """The angle at which the line ``inset`` mm inside the wall comes back to ``y``; the nearest there is."""
    low, high = 0.0, curve.end
    while high - low > math.ulp(curve.end) * 4:
        middle = (low + high) / 2
        if middle in (low, high):
            break
        low, high = (middle, high) if curve.beside(sign * middle, -inset)[1] > y else (low, middle)
    return low


# A fore foot round; a hind foot pointed at the toe and widest two thirds of the way back (LA 80, 107).
_RADII: Final[dict[Foot, Sequence[tuple[float, float]]]] = {
    "fore": ((0.0, 75.0), (45.0, 74.0), (90.0, 71.0), (120.0, 72.0), (150.0, 78.0)),
    "hind": ((0.0, 82.0), (40.0, 71.5), (75.0, 67.3), (90.0, 67.8), (106.0, 71.0), (125.0, 73.5), (150.0, 77.5)),
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
