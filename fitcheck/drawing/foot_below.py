"""A shod foot from below for the eye, by the handbooks' descriptions; no reading is drawn, nothing measured off it.

All in mm, the toe towards +y, the lateral side towards +x, the origin where the angles of the bearing wall are counted.
Facts are those of the trade's handbooks; pages stand beside the numbers, and sizes without one are common practice.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

from fitcheck.drawing.figure import SIDES, frog_and_bars, rounded
from fitcheck.drawing.schematic import HoofCurve
from fitcheck.drawing.svg import Point
from rules.model.records import Foot

__all__ = ["FootBelow", "Shape"]

_END: Final = 150.0
"""Angle of the buttress (deg)."""
_WALL: Final[dict[Foot, tuple[float, float]]] = {"fore": (12.0, 8.0), "hind": (10.5, 9.5)}
"""Thickness of the wall at toe and quarter: LA 53 (fore 3/8 to 5/8 in and 2/8 to 3/8 in; hind nearly alike)."""
_WHITE_LINE: Final = 2.5
_WEB: Final = (25.0, 17.0)
"""Web at toe and heel: about twice the wall, widest at the toe (LA 107)."""
_FULL: Final = 3.0
"""How far the iron stands beyond the horn at the heels; flush as far as the last nail (LA 119-120)."""
_LENGTH: Final = 11.0
"""How far a branch reaches past the buttress: the thickness of the shoe (LA 114)."""
_LAST: Final = 141.0
"""Where the branch leaves the curve of the wall (deg), and how far inward it then runs."""
_INWARD: Final = 14.0
_FIRST_HOLE: Final[dict[Foot, float]] = {"fore": 27.0, "hind": 31.0}
_LAST_HOLE: Final[dict[Foot, float]] = {"fore": 83.0, "hind": 98.0}
"""Angles of the first and last of four holes: front half of a fore shoe, front two thirds of a hind shoe (LA 110)."""
_FULLER: Final = (20.0, 104.0)
_FULLER_WIDTH: Final = 5.0
_HOLE: Final = (5.0, 3.2)
_CLIPS: Final[dict[Foot, tuple[str, ...]]] = {"fore": ("toe",), "hind": ("medial_toe", "lateral_toe")}
"""A toe clip in front; clips at inner and outer toe behind (LA 111, 122)."""
_CLIP_AT: Final = {
    "toe": 0.0,
    "medial_toe": -33.0,
    "lateral_toe": 33.0,
    "medial_quarter": -62.0,
    "lateral_quarter": 62.0,
}
"""Angles of the places that clips have; those of the quarters are common practice, no source."""
_CLIP: Final = (11.0, 6.5)
"""Half its foot and its half breadth at the top; a low, wide clip (HU 75)."""
_CLIP_OUT: Final = 5.0
_STRETCHES: Final = {"toe": (0.0, 24.0), "quarter": (24.0, 104.0), "heel": (104.0, _END)}


@dataclass(frozen=True, slots=True)
class Shape:
    """One line or area of the drawing: what it is, where, and its points (mm)."""

    part: str
    points: tuple[Point, ...]
    closed: bool = False
    place: str | None = None


class FootBelow:
    """A fore or a hind foot with its shoe: how many nail holes a branch has, and at which places it has clips."""

    def __init__(self, foot: Foot, holes: int = 4, clips: Sequence[str] | None = None) -> None:
        self._foot: Foot = foot
        self._number = holes
        self._clipped = _CLIPS[foot] if clips is None else clips
        self._curve = HoofCurve(foot, _END)
        self.buttress = self._curve.at(_END)[1]

    @cached_property
    def shapes(self) -> tuple[Shape, ...]:
        """Everything, in the order in which it is drawn."""
        return (
            *self._bulbs(),
            Shape("horn", tuple(self._curve.whole), closed=True),
            *self._sole(),
            self._iron(),
            *self._fuller(),
            *(hole for side in SIDES for hole in self._holes(side)),
            *self._clips(),
            Shape("wall", tuple(self._curve.whole)),
            Shape("white-line", tuple(self._inside(1.0))),
        )

    @cached_property
    def places(self) -> tuple[Shape, ...]:
        """The stretches that a place's name stands for, along the wall; sole and frog as areas."""
        found = []
        for part, (first, last) in _STRETCHES.items():
            if part == "toe":
                found.append(Shape("place", self._along(-last, last), place="toe"))
                continue
            found += [
                Shape("place", self._along(*sorted((sign * first, sign * last))), place=f"{side}_{part}")
                for side, sign in SIDES.items()
            ]
        frog = frog_and_bars(self._curve.radius(90.0), self.buttress)[0]
        return (
            *found,
            Shape("place", tuple(frog), closed=True, place="frog"),
            Shape("place", self._sole_area(), closed=True, place="sole"),
        )

    def hole(self, side: str, number: int) -> Point:
        """The middle of a nail hole, counted from the toe: as deep from the edge as the wall is thick (LA 110-111)."""
        angle = self._hole_angle(side, number)
        return self._curve.beside(angle, -self._wall_at(angle))

    def _hole_angle(self, side: str, number: int) -> float:
        first, last = _FIRST_HOLE[self._foot], _LAST_HOLE[self._foot]
        return SIDES[side] * (first + (last - first) * (number - 1) / max(1, self._number - 1))

    def _wall_at(self, angle: float) -> float:
        toe, quarter = _WALL[self._foot]
        return toe + (quarter - toe) * min(1.0, abs(angle) / 100.0)

    def _inside(self, share: float) -> list[Point]:
        """The line that lies ``share`` of the wall's thickness inside its outer edge."""
        return [self._curve.beside(turn, -share * self._wall_at(turn)) for turn in self._curve.angles(-_END, _END)]

    def _along(self, first: float, last: float, out: float = 0.0) -> tuple[Point, ...]:
        return tuple(self._curve.beside(turn, out) for turn in self._curve.angles(first, last))

    def _bulbs(self) -> list[Shape]:
        """The bulbs of the heels behind the buttresses."""
        shapes = []
        for side, sign in SIDES.items():
            x, y = self._curve.at(sign * _END)
            points = [
                (x * 1.10, y + 9.0),
                (x * 1.02, y - 6.0),
                (x * 0.80, y - 16.0),
                (x * 0.46, y - 19.0),
                (sign * 5.0, y - 13.0),
                (sign * 1.2, y - 4.0),
                (sign * 0.8, y + 6.0),
            ]
            shapes.append(Shape("bulb", tuple(rounded(points)), closed=True, place=f"bulb:{side}"))
        return shapes

    def _sole(self) -> list[Shape]:
        frog, cleft, *bars = frog_and_bars(self._curve.radius(90.0), self.buttress)
        corners = [
            Shape("seat-of-corn", tuple(self._corner(sign)), closed=True, place=f"seat_of_corn:{side}")
            for side, sign in SIDES.items()
        ]
        return [
            *corners,
            *(Shape("bar", tuple(bar)) for bar in bars),
            Shape("frog", tuple(frog), closed=True),
            Shape("cleft", tuple(cleft), closed=True),
        ]

    def _corner(self, sign: int) -> list[Point]:
        """The seat of corn: the sole between bar and wall at the heel."""
        along = [
            self._curve.beside(sign * turn, -self._wall_at(turn) - _WHITE_LINE)
            for turn in (104.0, 114.0, 124.0, 134.0, 142.0)
        ]
        x, y = along[-1]
        return rounded(
            [*along, (x - sign * 7.0, y + 4.0), (x - sign * 13.0, y + 20.0), (x - sign * 8.0, y + 33.0), along[0]]
        )

    def _sole_area(self) -> tuple[Point, ...]:
        inner = [self._curve.beside(turn, -_WEB[0] - 2.0) for turn in self._curve.angles(-95.0, 95.0)]
        return (*inner, (inner[-1][0] - 14.0, -14.0), (0.0, 22.0), (inner[0][0] + 14.0, -14.0))

    def _out(self, angle: float) -> float:
        """How far the iron stands beyond the horn: flush to the last nail, fuller towards the heel."""
        last_nail = _LAST_HOLE[self._foot]
        past = (abs(angle) - last_nail) / (_END - last_nail)
        return _FULL * max(0.0, min(1.0, past))

    def _web_at(self, angle: float) -> float:
        return _WEB[0] + (_WEB[1] - _WEB[0]) * abs(angle) / _END

    def _iron(self) -> Shape:
        turns = self._curve.angles(-_LAST, _LAST)
        outer = [self._curve.beside(turn, self._out(turn)) for turn in turns]
        inner = [self._curve.beside(turn, self._out(turn) - self._web_at(turn)) for turn in turns]
        medial, lateral = (self._heel_end(sign, outer[at], inner[at]) for sign, at in ((-1, 0), (1, -1)))
        return Shape("iron", (*outer, *lateral, *reversed(inner), *reversed(medial)), closed=True)

    def _heel_end(self, sign: int, outer: Point, inner: Point) -> list[Point]:
        """The branch past the buttress, running inward a little, and its rounded end: outer edge to inner."""
        along = (-sign * math.sin(math.radians(_INWARD)), -math.cos(math.radians(_INWARD)))
        half = math.dist(outer, inner) / 2
        middle = ((outer[0] + inner[0]) / 2, (outer[1] + inner[1]) / 2)
        reach = (self.buttress - _LENGTH - middle[1]) / along[1] - half
        centre = (middle[0] + reach * along[0], middle[1] + reach * along[1])
        across = (-sign * along[1], sign * along[0])
        turns = [math.radians(turn) for turn in range(0, 181, 12)]
        return [
            (
                centre[0] + half * (math.cos(turn) * across[0] + math.sin(turn) * along[0]),
                centre[1] + half * (math.cos(turn) * across[1] + math.sin(turn) * along[1]),
            )
            for turn in turns
        ]

    def _fuller(self) -> list[Shape]:
        """The groove in which the nail heads lie, along each branch."""
        shapes = []
        for sign in SIDES.values():
            first, last = sorted(sign * turn for turn in _FULLER)
            turns = self._curve.angles(first, last)
            sides = [
                [self._curve.beside(turn, -self._wall_at(turn) + half) for turn in turns]
                for half in (_FULLER_WIDTH / 2, -_FULLER_WIDTH / 2)
            ]
            shapes.append(Shape("fuller", (*sides[0], *reversed(sides[1])), closed=True))
        return shapes

    def _holes(self, side: str) -> list[Shape]:
        return [self._hole(side, number) for number in range(1, self._number + 1)]

    def _hole(self, side: str, number: int) -> Shape:
        angle = self._hole_angle(side, number)
        (x, y), (across, along) = self.hole(side, number), self._curve.outward(angle)
        length, width = (half / 2 for half in _HOLE)
        points = [
            (x + length * s * -along + width * t * across, y + length * s * across + width * t * along)
            for s, t in ((1, 1), (-1, 1), (-1, -1), (1, -1))
        ]
        return Shape("hole", tuple(points), closed=True, place=f"nail:{side}:{number}")

    def _clips(self) -> list[Shape]:
        """Each clip, drawn up from the edge of the iron."""
        shapes = []
        for place in self._clipped:
            angle = _CLIP_AT[place]
            (x, y), (across, along) = self._curve.at(angle), self._curve.outward(angle)
            foot, top = _CLIP
            corners = rounded(
                [
                    (-foot, -2.0),
                    (-foot, 0.0),
                    (-top, _CLIP_OUT * 0.9),
                    (0.0, _CLIP_OUT),
                    (top, _CLIP_OUT * 0.9),
                    (foot, 0.0),
                    (foot, -2.0),
                ]
            )
            points = tuple((x - s * along + out * across, y + s * across + out * along) for s, out in corners)
            shapes.append(Shape("clip", points, closed=True, place=f"clip:{place}"))
        return shapes
