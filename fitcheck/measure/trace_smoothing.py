"""A densely traced line without the shaking of its points: runs of points averaged as far as they shake."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
import shapely

from fitcheck.measure.curves import Floats

__all__ = ["Smoothed", "shaking", "smoothed"]

_FEWEST: Final = 60
"""Points below which a line is taken as it is: averaged, it would cut its corners off."""
_APART: Final = 6.0
"""Averaged points lie this many times as far apart as single ones shake, so that the line hardly turns back."""
_FURTHEST: Final = 6.0  # mm: an arc of this chord bulges by less than 0.1 mm on a foot
# A third difference of independent points has 1 + 9 + 9 + 1 times their variance; half of a normal spread lies within
# 0.6745 standard deviations.
_THIRD: Final = 20.0
_HALF: Final = 0.6745


class Smoothed(NamedTuple):
    """A line of averages: how far its points shook before (mm, standard deviation), and how many make one average."""

    points: Floats
    shaking: float
    averaged: int


def shaking(points: Floats) -> float:
    """Standard deviation (mm) of single points across their line, by the median of their third differences.

    Wandering over many points is none of it, and neither are a few corners.
    """
    third = np.diff(points, n=3, axis=0)
    # The way of the line by points well apart: those close by shake to and fro.
    near, apart = np.arange(len(third)), len(points) // 20 + 1
    along = points[np.minimum(near + 3 + apart, len(points) - 1)] - points[np.maximum(near - apart, 0)]
    length = np.hypot(along[:, 0], along[:, 1])
    across = np.abs(third[:, 0] * along[:, 1] - third[:, 1] * along[:, 0]) / np.where(length > 0, length, 1.0)
    return float(np.median(across)) / (_HALF * float(np.sqrt(_THIRD)))


def smoothed(points: Floats) -> Smoothed:
    """``points``, shape (n, 2), averaged in runs where they lie nearer to one another than they shake.

    The ends of an open line are those of straight lines through its first and its last points.
    """
    rough = shaking(points) if len(points) >= _FEWEST else 0.0
    around = float(shapely.MultiPoint(points).convex_hull.length)
    count = int(min(_APART * rough, _FURTHEST) * len(points) / around) if around > 0 else 1
    if count < 2:  # noqa: PLR2004
        return Smoothed(points, rough, 1)
    runs = np.array_split(points, len(points) // count)
    averages = np.array([run.mean(axis=0) for run in runs])
    ends = _end(points[: 2 * count]), _end(points[::-1][: 2 * count])
    if np.hypot(*(ends[0] - ends[1])) > 2 * count * around / len(points):
        averages = np.concatenate([ends[:1], averages, ends[1:]])
    return Smoothed(averages, rough, count)


def _end(points: Floats) -> Floats:
    """Where a straight line through the points, evenly run along, begins."""
    number = np.arange(len(points)) - (len(points) - 1) / 2
    slope = number @ points / (number @ number)
    end: Floats = points.mean(axis=0) + slope * number[0]
    return end
