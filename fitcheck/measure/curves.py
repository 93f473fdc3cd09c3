"""A traced line as a curve: distance along it, the nearest point of it, and where a ray cuts it.

Lengths in mm, angles in degrees round a centre: 0 towards +y, positive towards +x.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

__all__ = ["Centre", "Curve", "Floats", "Footing", "Ints", "Nearest", "centre_of"]

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]


# A place no further (mm) than this from a point of the curve is that point.
_CORNER = 1e-8
_MOST_AT_ONCE = 2**16


class Centre(NamedTuple):
    """Middle of a line's extent in both directions, and the points that set it: least x, most x, least y, most y."""

    x: float
    y: float
    set_by: tuple[int, int, int, int]


def centre_of(points: Floats) -> Centre:
    """The middle of the length axis and of the greatest width of ``points``, shape (n, 2)."""
    (left, back), (right, front) = points.argmin(axis=0), points.argmax(axis=0)
    x = (points[left, 0] + points[right, 0]) / 2
    y = (points[back, 1] + points[front, 1]) / 2
    return Centre(float(x), float(y), (int(left), int(right), int(back), int(front)))


class Footing(NamedTuple):
    """Places on a curve: ``(1 - share) * points[segment] + share * points[segment + 1]``."""

    segment: Ints
    share: Floats

    def of(self, chosen: npt.NDArray[np.bool_]) -> Footing:
        """The places that are chosen."""
        return Footing(self.segment[chosen], self.share[chosen])


class Nearest(NamedTuple):
    """The places of a curve nearest to some points, and whether such a place is the very end of the curve."""

    at: Footing
    points: Floats
    at_end: npt.NDArray[np.bool_]


class Curve:
    """A line through ``points``, shape (n, 2), no two in succession alike."""

    def __init__(self, points: Floats) -> None:
        self.points = points
        self.steps = np.diff(points, axis=0)
        self.along = np.concatenate([[0.0], np.cumsum(np.hypot(self.steps[:, 0], self.steps[:, 1]))])
        """Distance along the curve at each point, from its first point."""

    @property
    def length(self) -> float:
        """Length of the whole curve."""
        return float(self.along[-1])

    def footing(self, along: Floats) -> Footing:
        """The places at these distances along the curve."""
        segment = np.clip(np.searchsorted(self.along, along, side="right") - 1, 0, len(self.steps) - 1)
        share = (along - self.along[segment]) / (self.along[segment + 1] - self.along[segment])
        return Footing(segment, np.clip(share, 0.0, 1.0))

    def at(self, footing: Footing) -> Floats:
        """The points at these places, shape (n, 2)."""
        points: Floats = self.points[footing.segment] + footing.share[:, None] * self.steps[footing.segment]
        return points

    def nearest(self, points: Floats) -> Nearest:
        """For each of ``points``, shape (n, 2), the nearest place of the curve."""
        along = np.concatenate([self._nearest_along(part) for part in _parts(points, len(self.steps))])
        footing = self.footing(along)
        return Nearest(footing, self.at(footing), (along <= _CORNER) | (along >= self.length - _CORNER))

    def _nearest_along(self, points: Floats) -> Floats:
        """Distance along the curve of the place nearest to each point: of all sides' nearest places the nearest."""
        step_x, step_y = self.steps[:, 0], self.steps[:, 1]
        away_x, away_y = points[:, :1] - self.points[:-1, 0], points[:, 1:] - self.points[:-1, 1]
        share = np.clip((away_x * step_x + away_y * step_y) / (step_x * step_x + step_y * step_y), 0.0, 1.0)
        away_x -= share * step_x
        away_y -= share * step_y
        segment = (away_x * away_x + away_y * away_y).argmin(axis=1)
        along: Floats = self.distance_along(Footing(segment, share[np.arange(len(points)), segment]))
        return along

    def right_of(self, footing: Footing) -> Floats:
        """A vector to the right of the curve at these places, shape (n, 2): square to the line, at a corner between.

        Of a point whose nearest place is such a corner, the mean of the two normals tells the side, where the
        normal of one line alone may not (Baerentzen and Aanaes 2005, "Signed distance computation using the angle
        weighted pseudonormal"; in the plane the weights are alike).
        """
        sides = np.diff(self.along)
        normals: Floats = np.column_stack([self.steps[:, 1], -self.steps[:, 0]]) / sides[:, None]
        segment, into = footing.segment, footing.share * sides[footing.segment]
        at_first, at_last = into <= _CORNER, sides[segment] - into <= _CORNER
        other = np.where(at_first, segment - 1, np.where(at_last, segment + 1, segment))
        between: Floats = normals[segment] + normals[np.clip(other, 0, len(sides) - 1)]
        return between / np.hypot(between[:, 0], between[:, 1])[:, None]

    def angles(self, centre: Centre) -> Floats:
        """Angle of each point round ``centre``, without jumps, least at the toe."""
        angles = np.unwrap(np.arctan2(self.points[:, 0] - centre.x, self.points[:, 1] - centre.y))
        toe = int(np.argmax(self.points[:, 1]))
        around: Floats = np.degrees(angles - 2 * np.pi * np.round(angles[toe] / (2 * np.pi)))
        return around

    def cut_by_ray(self, centre: Centre, degrees: float) -> Footing | None:
        """Where the curve, followed from the toe to that side, first comes to this angle; None where it never does.

        The curve runs from -x over the toe to +x.
        """
        side = 1 if degrees > 0 else -1
        angles = self.angles(centre) * side
        toe = int(np.argmin(np.abs(angles)))
        # From one point in front of the toe on, since the ray of a small angle may cut right beside it.
        follow = angles[max(toe - 1, 0) :] if side > 0 else angles[: toe + 2][::-1]
        past = np.flatnonzero((follow[1:] >= abs(degrees)) & (follow[:-1] < abs(degrees)))
        if not past.size:
            return None
        step = int(past[0])
        segment = max(toe - 1, 0) + step if side > 0 else min(toe + 1, len(self.points) - 1) - step - 1
        across = ray_normal(degrees)
        before = float((self.points[segment] - (centre.x, centre.y)) @ across)
        after = float((self.points[segment + 1] - (centre.x, centre.y)) @ across)
        return Footing(np.array([segment]), np.array([before / (before - after)]))

    def distance_along(self, footing: Footing) -> Floats:
        """Distance along the curve at these places."""
        before, after = self.along[footing.segment], self.along[footing.segment + 1]
        along: Floats = before + footing.share * (after - before)
        return along


def _parts(points: Floats, sides: int) -> list[Floats]:
    """``points`` in parts, each of so few that a number for each of them and each side takes little memory."""
    return np.array_split(points, max(1, len(points) * sides // _MOST_AT_ONCE))


def ray_normal(degrees: float) -> Floats:
    """The unit vector square to the ray at this angle."""
    angle = np.radians(degrees)
    return np.array([np.cos(angle), -np.sin(angle)])
