"""Iron beyond horn along the wall: at dense stations, as means and least means of a stretch, with uncertainties.

Lengths in mm.  What is computed here carries its derivatives to the points of both traces, and so shares what stations
have in common; :mod:`fitcheck.measure.trace_error` says how uncertain those are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from fitcheck.measure.curves import Curve, Floats, Footing
from fitcheck.measure.least_bias import bias_of_least, moving_means, share_seen
from fitcheck.measure.trace_error import TraceError

__all__ = ["STEP", "Averaged", "Stations", "least", "mean", "overhang_between", "reach", "seen", "wander_seen"]

STEP: Final = 1.0
"""Greatest distance between stations along the wall (mm); well below the spacing of traced points."""

# Nearer than this (mm) the direction from wall to iron cannot be told from the two points.
_TOUCHING: Final = 1e-6


class Averaged(NamedTuple):
    """A mean overhang over a stretch of wall, its standard uncertainty, and the stretch's middle (mm)."""

    value: float
    u: float
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


def seen(stations: Stations, hidden: Sequence[tuple[float, float]]) -> Stations:
    """The stations that lie in none of the ``hidden`` stretches, from and to along the wall (mm); none if most do."""
    if not hidden or not len(stations.along):
        return stations
    there = np.ones(len(stations.along), dtype=bool)
    for start, end in hidden:
        there &= (stations.along < start) | (stations.along > end)
    if 2 * np.count_nonzero(there) < len(there):
        there[:] = False
    return replace(
        stations,
        along=stations.along[there],
        value=stations.value[there],
        gradient=stations.gradient[there],
        on_wall=stations.on_wall.of(there),
        on_shoe=stations.on_shoe.of(there),
    )


def mean(stations: Stations, error: TraceError) -> Averaged:
    """The mean over all stations, of which there must be one at least."""
    return _averaged(stations, slice(None), error)


def least(stations: Stations, stretch: float, error: TraceError, seen_share: float = 1.0) -> Averaged:
    """The least mean over any ``stretch`` (mm) of wall; over all of it where it is no longer than that.

    Where a hand wanders, what it makes the least of many stretches lie too low is taken out; ``seen_share`` is that of
    :func:`wander_seen`.
    """
    count = min(len(stations.value), max(1, round(stretch / stations.step)))
    means = moving_means(stations.value, count)
    # Of stretches that are equally tight the middle one, not the one that rounding makes the least.
    tightest = np.flatnonzero(means <= means.min() + _TOUCHING)
    first = int(tightest[len(tightest) // 2])
    part = slice(first, first + count)
    found = _averaged(stations, part, error)
    if not error.wander:
        return found
    alone = seen_share * _alone(stations, part, error)
    bias = bias_of_least(means, alone, count, error.length / stations.step)
    # The bias hangs on a shape that is hardly known: it is as uncertain as half its size.
    return found._replace(value=found.value - bias, u=float(np.hypot(found.u, bias / 2)))


def wander_seen(stretches: Sequence[Stations], stretch: float, error: TraceError) -> float:
    """How much of the wander that is reckoned with the stretches of one foot show, from 0 to 1."""
    longest = max(stretches, key=lambda each: len(each.value))
    count = min(len(longest.value), max(1, round(stretch / longest.step)))
    if not error.wander or not count:
        return 1.0
    spread = _alone(longest, slice(0, count), error)
    return share_seen([each.value for each in stretches], spread, count, error.length / longest.step)


def _alone(stations: Stations, part: slice, error: TraceError) -> float:
    """Standard uncertainty (mm) of a mean overhang by what differs from place to place."""
    return _averaged(stations, part, replace(error, frame=0.0, scale=0.0)).u


def _averaged(stations: Stations, part: slice, error: TraceError) -> Averaged:
    value = stations.value[part]
    gradient = stations.gradient[part] / len(value)
    noise = reach(stations.on_wall, part, gradient, len(stations.wall.points)) + reach(
        stations.on_shoe, part, gradient, len(stations.shoe.points)
    )
    variance = error.noise**2 * noise + error.wandering(gradient, stations.step)
    overhang = float(value.mean())
    variance += error.frame**2 * float(np.square(gradient.sum(axis=0)).sum()) + (error.scale * overhang) ** 2
    return Averaged(overhang, float(np.sqrt(variance)), float(stations.along[part].mean()))


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
