"""The frame of traces: its scale, which way the toe points, and where the buttresses are said to be."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final, Protocol

import numpy as np

from fitcheck.errors import Problem
from fitcheck.fitting.models import Outline
from fitcheck.fitting.observables import OUTLINE
from fitcheck.measure.curves import Curve, Floats, centre_of

__all__ = ["buttresses_of", "in_scale", "scale_problems", "turned_problems"]

_FALSE: Final = 0.1
"""A frame whose known distance is off by more than this share is in no millimetres."""
_OFF: Final = 10.0  # mm: further off the border a point is no buttress of it
_ASKEW: Final = 0.4  # the buttresses of a foot that lies straight differ less than this share of their distance
_CLOSING: Final = 0.3  # a straight side this share of the trace's width is the line across the heels
_SIGNS: Final = {"medial": -1, "lateral": 1}


class _Line(Protocol):
    """A traced line in order, the lateral side towards +x."""

    @property
    def points(self) -> Floats:
        """Its points, shape (n, 2)."""

    @property
    def closed(self) -> bool:
        """Whether it goes all round."""


def buttresses_of(outline: Outline) -> Mapping[str, tuple[float, float]]:
    """The buttresses that are said to be at a point, by side, as they were given."""
    said = outline.buttresses
    points = {} if said is None else {"medial": said.medial, "lateral": said.lateral}
    return {side: (point[0], point[1]) for side, point in points.items() if point is not None}


def _measured(outline: Outline) -> float | None:
    """How many millimetres a unit of the frame is by its known distance; None where none is given."""
    scale = outline.scale
    if scale is None:
        return None
    apart = float(np.hypot(scale.to[0] - scale.from_[0], scale.to[1] - scale.from_[1]))
    return scale.mm / apart if apart > 0 else np.inf


def scale_problems(outline: Outline) -> Iterator[Problem]:
    """A known distance that the frame has far longer or shorter."""
    factor = _measured(outline)
    if factor is None or abs(factor - 1) <= _FALSE or outline.scale is None:
        return
    detail = f"{outline.scale.mm:g} mm are {outline.scale.mm / factor:.4g} in the frame of the traces. Send them in mm."
    yield Problem(f"{OUTLINE}.scale", outline.scale.mm, "the distance of its two points, within a tenth", detail)


def in_scale(outline: Outline) -> Outline:
    """The outline with every point in the millimetres of its known distance."""
    factor = _measured(outline)
    if factor is None or factor == 1:
        return outline
    said = outline.buttresses
    return outline.model_copy(
        update={
            "hoof": _times(outline.hoof, factor),
            "shoe": _times(outline.shoe, factor),
            "nail_holes": None if outline.nail_holes is None else _times(outline.nail_holes, factor),
            "hidden": None if outline.hidden is None else [_times(each, factor) for each in outline.hidden],
            "buttresses": None
            if said is None
            else said.model_copy(
                update={side: _times([list(at)], factor)[0] for side, at in buttresses_of(outline).items()}
            ),
        }
    )


def _times(points: list[list[float]], factor: float) -> list[list[float]]:
    return [[each * factor for each in point] for point in points]


def turned_problems(outline: Outline, hoof: _Line, shoe: _Line, buttress: Mapping[str, Floats]) -> Iterator[Problem]:
    """Toe down, sides swapped, askew, or a buttress that is not on the border."""
    allowed = "the toe towards +y, the lateral side as outline.lateral says"
    for name, line in (("hoof", hoof), ("shoe", shoe)):
        if line.closed and _closed_in_front(line.points):
            detail = "The straight line across the heels lies towards +y: the trace is turned round. Turn it."
            yield Problem(f"{OUTLINE}.{name}", f"a list of {len(line.points)}", allowed, detail)
    centre, border = centre_of(hoof.points), Curve(hoof.points)
    if hoof.closed:
        border = Curve(np.concatenate([hoof.points, hoof.points[:1]]))
    if len(buttress) == len(_SIGNS):
        across, along = np.abs(buttress["lateral"] - buttress["medial"])
        if along > _ASKEW * across:
            detail = f"One buttress lies {along:.0f} mm in front of the other: the trace lies askew. Turn it straight."
            yield Problem(f"{OUTLINE}.buttresses", f"{along:.0f} mm", "buttresses about as far back", detail)
            return
    for side, point in buttress.items():
        field, at = f"{OUTLINE}.buttresses.{side}", "[{:g}, {:g}]".format(*buttresses_of(outline)[side])
        off = float(np.hypot(*(border.nearest(point[None, :]).points[0] - point)))
        if off > _OFF:
            detail = f"The {side} buttress lies {off:.0f} mm off the traced border of the hoof. Correct it."
            yield Problem(field, at, f"a point within {_OFF:g} mm of the border", detail)
        elif point[1] >= centre.y:
            detail = f"The {side} buttress lies in front of the middle: the trace is turned round or lies sideways."
            yield Problem(field, at, allowed, detail)
        elif (point[0] - centre.x) * _SIGNS[side] <= 0:
            detail = f"The {side} buttress lies on the other side: medial and lateral are swapped, or outline.lateral."
            yield Problem(field, at, allowed, detail)


def _closed_in_front(points: Floats) -> bool:
    """Whether the longest side of a closed trace is a straight line across, in front of its middle."""
    following = np.roll(points, -1, axis=0)
    sides = np.hypot(*(following - points).T)
    longest = int(sides.argmax())
    if sides[longest] < _CLOSING * np.ptp(points[:, 0]):
        return False
    return bool((points[longest, 1] + following[longest, 1]) / 2 > centre_of(points).y)
