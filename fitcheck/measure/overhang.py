"""Iron beyond horn along the wall: at dense stations, as means and least means of a stretch, with uncertainties.

Lengths in mm.  Every traced coordinate is uncertain by the same standard uncertainty, independently of all others; what
is computed here carries its derivatives to the points of both traces, and so shares what stations have in common.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from fitcheck.measure.curves import Curve, Floats, Footing

__all__ = ["STEP", "Averaged", "Stations", "least", "mean", "overhang_between", "reach"]

STEP: Final = 1.0
"""Greatest distance between stations along the wall (mm); well below the spacing of traced points."""

# Nearer than this (mm) the direction from wall to iron cannot be told from the two points.
_TOUCHING: Final = 1e-6


class Averaged(NamedTuple):
    """A mean overhang over a stretch of wall, its uncertainty per unit of a coordinate's, and the stretch's middle."""

    value: float
    factor: float
    along: float


@dataclass(frozen=True, slots=True)
class Stations:
    """The signed overhang at stations at equal steps along a stretch of wall; positive: iron beyond horn.

    ``gradient``, shape (n, 2), is the derivative to the place of the wall; to the place of the shoe it is the opposite.
    Stations that have no iron beside them, because the branch ends before, are left out; ``bare`` (mm) says how
    much of the stretch they are.
    """

    wall: Curve
    shoe: Curve
    along: Floats
    value: Floats
    gradient: Floats
    on_wall: Footing
    on_shoe: Footing
    step: float
    bare: float


def overhang_between(wall: Curve, shoe: Curve, start: float, end: float) -> Stations:
    """The overhang from ``start`` to ``end``, both as distance along ``wall``.

    ``shoe`` is the outer edge from heel end to heel end, in the same sense as the wall: the horn on its right.
    """
    # A hair less, so that rounding of a whole number of steps does not add one.
    count = max(1, int(np.ceil((end - start) / STEP - _TOUCHING)))
    step = (end - start) / count
    along: Floats = start + step * (np.arange(count, dtype=np.float64) + 0.5)
    on_wall = wall.footing(along)
    points = wall.at(on_wall)
    nearest = shoe.nearest(points)
    apart = points - nearest.points
    distance = np.hypot(apart[:, 0], apart[:, 1])
    inwards = shoe.right_of(nearest.at)
    inside = np.where((apart * inwards).sum(axis=1) >= 0, 1.0, -1.0)
    touching = distance < _TOUCHING
    direction = np.where(touching[:, None], inwards, (inside / np.where(touching, 1.0, distance))[:, None] * apart)
    beside = ~nearest.at_end
    return Stations(
        wall,
        shoe,
        along[beside],
        (inside * distance)[beside],
        direction[beside],
        on_wall.of(beside),
        nearest.at.of(beside),
        step,
        step * float(np.count_nonzero(~beside)),
    )


def mean(stations: Stations) -> Averaged:
    """The mean over all stations, of which there must be one at least."""
    return _averaged(stations, slice(None))


def least(stations: Stations, stretch: float) -> Averaged:
    """The least mean over any ``stretch`` (mm) of wall; over all of it where it is no longer than that."""
    count = min(len(stations.value), max(1, round(stretch / stations.step)))
    sums = np.concatenate([[0.0], np.cumsum(stations.value)])
    means = (sums[count:] - sums[:-count]) / count
    # Of stretches that are equally tight the middle one, not the one that rounding makes the least.
    tightest = np.flatnonzero(means <= means.min() + _TOUCHING)
    first = int(tightest[len(tightest) // 2])
    return _averaged(stations, slice(first, first + count))


def _averaged(stations: Stations, part: slice) -> Averaged:
    value = stations.value[part]
    gradient = stations.gradient[part] / len(value)
    variance = reach(stations.on_wall, part, gradient, len(stations.wall.points)) + reach(
        stations.on_shoe, part, gradient, len(stations.shoe.points)
    )
    return Averaged(float(value.mean()), float(np.sqrt(variance)), float(stations.along[part].mean()))


def reach(footing: Footing, part: slice, gradient: npt.NDArray[np.float64], points: int) -> float:
    """Sum of the squared derivatives to the coordinates of ``points`` traced points, of a sum over places on a line.

    ``gradient``, shape (n, 2), are the derivatives to the places.
    """
    segment, share = footing.segment[part], footing.share[part]
    total = 0.0
    for axis in (0, 1):
        derivative = np.bincount(segment, (1 - share) * gradient[:, axis], minlength=points)
        derivative += np.bincount(segment + 1, share * gradient[:, axis], minlength=points)
        total += float(derivative @ derivative)
    return total
