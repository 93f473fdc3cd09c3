"""A shod foot from the side and from in front for the eye, by the handbooks' descriptions; nothing is measured off it.

All in mm, y up from the bearing edge.  From the side x runs back from the toe; from in front the lateral side is +x.
"""

from __future__ import annotations

import math
from typing import Final

from fitcheck.drawing.figure import SIDES, rounded
from fitcheck.drawing.foot_below import Shape
from fitcheck.drawing.svg import Point
from rules.model.records import Foot

__all__ = ["exit_of", "from_front", "from_side"]

_SLOPE: Final[dict[Foot, float]] = {"fore": 48.0, "hind": 53.0}
"""Slope of the toe (deg): a regular fore foot 45 to 50, a hind foot 50 to 55 (LA 73, 80)."""
_TOE: Final = 92.0
_HEEL: Final[dict[Foot, float]] = {"fore": 34.0, "hind": 44.0}
"""Lengths of wall at toe and heel along the slope: near to 3 to 1 on a fore foot (LA 52), 2 to 1 on a hind foot."""
_BUTTRESS: Final = 132.0
_LENGTH: Final = 11.0
_THICKNESS: Final = 11.0
"""7/16 in (LA 108)."""
_PASTERN: Final = 58.0
_BULB: Final = 13.0
_CLIP: Final = (10.0, 11.0)
"""Breadth of a clip and its height, which is the thickness of the shoe (LA 111)."""
_NAILS: Final[dict[Foot, tuple[float, float]]] = {"fore": (28.0, 72.0), "hind": (30.0, 92.0)}
"""How far from the toe the first and the last of four nails stand: front half, front two thirds (LA 110)."""
_EXIT: Final = 24.0
"""Height of an exit along the wall: 5/8 to 1 5/8 in (LA 131), all of one height."""
_CLINCH: Final = (7.0, 3.4)
_FRONT: Final = (146.0, 118.0)
"""Width of a fore foot at the ground and at the coronet."""


def exit_of(foot: Foot, number: int, holes: int = 4) -> Point:
    """Where the nail of a hole, counted from the toe, comes out of the wall, from the side."""
    first, last = _NAILS[foot]
    return _up(foot, first + (last - first) * (number - 1) / max(1, holes - 1), _EXIT)


def _up(foot: Foot, back: float, height: float) -> Point:
    """The point ``height`` up the slope of the toe from ``back``."""
    turn = math.radians(_SLOPE[foot])
    return back + height * math.cos(turn), height * math.sin(turn)


def from_side(foot: Foot) -> tuple[Shape, ...]:
    """The foot with its toe to the left, in the order in which it is drawn."""
    toe, heel = _up(foot, 0.0, _TOE), _up(foot, _BUTTRESS, _HEEL[foot])
    coronet = rounded([toe, (toe[0] + 0.36 * (heel[0] - toe[0]), toe[1] - 0.30 * (toe[1] - heel[1])), heel])
    wall = [(0.0, 0.0), toe, *coronet[1:], (_BUTTRESS, 0.0)]
    bulb = rounded(
        [heel, (heel[0] + _BULB, heel[1] + 2.0), (heel[0] + _BULB - 2.0, heel[1] - 14.0), (_BUTTRESS + 7.0, 7.0)]
    )
    top, back = _beyond(foot, toe), _beyond(foot, (heel[0] + _BULB, heel[1] + 8.0))
    end = _BUTTRESS + _LENGTH
    iron = [(-1.0, 0.0), (2.0, -_THICKNESS), (end - 2.0, -_THICKNESS), (end, -_THICKNESS / 2), (end - 3.0, 0.0)]
    clip = [
        (-1.0, 0.0),
        (-2.5, 2.0),
        _left(_up(foot, 0.0, _CLIP[1] + 2.0), 2.5),
        _up(foot, 0.0, _CLIP[1] + 3.0),
        (3.0, 0.0),
    ]
    return (
        Shape("pastern", (toe, top)),
        Shape("pastern", ((heel[0] + _BULB, heel[1] + 2.0), back)),
        Shape("bulb", (*bulb, (_BUTTRESS, 0.0), heel), closed=True, place="bulbs"),
        Shape("wall", tuple(wall), closed=True),
        Shape("coronet", tuple(coronet), place="coronet"),
        Shape("axis", (_up(foot, 34.0, 8.0), _up(foot, 34.0, _TOE + _PASTERN)), place="axis"),
        Shape("iron", tuple(iron), closed=True),
        *((Shape("clip", tuple(clip), closed=True, place="clip:toe"),) if foot == "fore" else ()),
        Shape("nail-line", tuple(exit_of(foot, number) for number in (1, 4))),
        *(each for number in range(1, 5) for each in _nail(foot, number)),
    )


def _beyond(foot: Foot, point: Point) -> Point:
    across, along = _up(foot, 0.0, _PASTERN)
    return point[0] + across, point[1] + along


def _left(point: Point, by: float) -> Point:
    return point[0] - by, point[1]


def _nail(foot: Foot, number: int) -> list[Shape]:
    """The nail within the wall, and its clinch."""
    x, y = exit_of(foot, number)
    first, last = _NAILS[foot]
    hole = first + (last - first) * (number - 1) / 3
    length, height = _CLINCH
    clinch = ((x - length / 2, y - height), (x + length / 2, y - height), (x + length / 2, y), (x - length / 2, y))
    return [
        Shape("nail", ((hole + 3.0, -_THICKNESS + 3.0), (hole, 0.0), (x, y)), place=f"nail:{number}"),
        Shape("clinch", clinch, closed=True, place=f"nail:{number}"),
    ]


def from_front(foot: Foot) -> tuple[Shape, ...]:
    """The foot from in front, in the order in which it is drawn."""
    ground, crown = (width / 2 * (1.0 if foot == "fore" else 0.94) for width in _FRONT)
    height = _up(foot, 0.0, _TOE)[1]
    coronet = rounded(
        [
            (-crown, height - 12.0),
            (-crown * 0.55, height - 1.0),
            (0.0, height + 2.0),
            (crown * 0.55, height - 1.0),
            (crown, height - 12.0),
        ]
    )
    iron = [(-ground - 1.0, 0.0), (-ground + 1.0, -_THICKNESS), (ground - 1.0, -_THICKNESS), (ground + 1.0, 0.0)]
    wide, high = _CLIP
    clips = {"clip:toe": 0.0} if foot == "fore" else {"clip:medial_toe": -34.0, "clip:lateral_toe": 34.0}
    return (
        *(
            Shape("pastern", ((sign * crown * 0.62, height), (sign * crown * 0.5, height + _PASTERN)))
            for sign in SIDES.values()
        ),
        Shape("wall", ((-ground, 0.0), *coronet, (ground, 0.0)), closed=True),
        Shape("coronet", tuple(coronet), place="coronet"),
        Shape("axis", ((0.0, 6.0), (0.0, height + _PASTERN)), place="axis"),
        Shape("iron", tuple(iron), closed=True),
        *(
            Shape(
                "clip",
                tuple(
                    rounded(
                        [
                            (x - wide, 0.0),
                            (x - wide * 0.6, high * 0.85),
                            (x, high),
                            (x + wide * 0.6, high * 0.85),
                            (x + wide, 0.0),
                        ]
                    )
                ),
                closed=True,
                place=place,
            )
            for place, x in clips.items()
        ),
        *(
            Shape(
                "clinch",
                tuple(
                    (sign * (x + s * _CLINCH[0] / 2), _EXIT * 0.75 + t * _CLINCH[1])
                    for s, t in ((-1, 0), (1, 0), (1, 1), (-1, 1))
                ),
                closed=True,
                place=f"nail:{side}:{number}",
            )
            for side, sign in SIDES.items()
            for number, x in ((1, 40.0), (2, 57.0))
        ),
    )
