"""The nail holes of a traced foot: side by side from the toe back, how far in, how far back."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from fitcheck.measure.curves import Floats
from fitcheck.measure.overhang import reach
from fitcheck.measure.plan import SIDES, Plan

__all__ = ["Hole", "holes_of"]


@dataclass(frozen=True, slots=True)
class Hole:
    """One nail hole; a ``factor`` is a standard uncertainty per unit of that of a traced coordinate."""

    index: int
    """Its number among the holes as given, from 0."""
    along: float
    """Distance along the wall of the place nearest to it (mm)."""
    inset: float
    """Distance from the outer edge of the wall (mm)."""
    inset_factor: float
    position: float
    """How far back it stands, as a share of the shoe's length from its toe."""
    position_factor: float


def holes_of(points: Floats, plan: Plan) -> dict[str, list[Hole]]:
    """The holes at ``points``, shape (n, 2), by side, each side from the toe back."""
    sides: dict[str, list[Hole]] = {side: [] for side in SIDES}
    if not len(points):
        return sides
    nearest = plan.wall.nearest(points)
    along = plan.wall.distance_along(nearest.at)
    apart = points - nearest.points
    inset = np.hypot(apart[:, 0], apart[:, 1])
    gradient = apart / np.where(inset > 0, inset, 1.0)[:, None]
    position = (plan.toe - points[:, 1]) / plan.shoe_length
    angles = np.abs(np.arctan2(points[:, 0] - plan.centre.x, points[:, 1] - plan.centre.y))
    for number in np.argsort(angles, kind="stable"):
        one = slice(number, number + 1)
        # The hole itself is traced too: its two coordinates make up the 1.
        variance = 1.0 + reach(nearest.at, one, gradient[one], len(plan.wall.points))
        side = "lateral" if points[number, 0] > plan.centre.x else "medial"
        sides[side].append(
            Hole(
                int(number),
                float(along[number]),
                float(inset[number]),
                math.sqrt(variance),
                float(position[number]),
                _position_factor(float(position[number]), plan),
            )
        )
    return sides


def _position_factor(position: float, plan: Plan) -> float:
    """Of (toe - hole) / (toe - heel ends): the toe of the shoe stands in both."""
    return math.sqrt((1 - position) ** 2 + 1.0 + position**2 * plan.heel_ends_variance) / plan.shoe_length
