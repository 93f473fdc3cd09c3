"""What of measured heights is noise: points averaged to spots, whether all may lie in one plane, and what noise gives.

Heights have independent standard uncertainties.  The widest of many noisy heights grows with their number though the
foot is flat, so that flatness, gaps and rock as they are computed lie too high; what noise alone gives is taken out.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np
from scipy.special import chdtrc, ndtri

from fitcheck.measure.curves import Ints
from fitcheck.measure.planes import Array, least_squares

__all__ = ["Noise", "Spots", "less_noise", "noise_of", "spots_of"]

_DRAWS: Final = 400
_SEED: Final = 1
_TOP: Final = 3  # a shoe rests on three points


class Spots(NamedTuple):
    """Places of the bearing surface: rows x, y, z (mm) and the standard uncertainty of each z (mm)."""

    points: Array
    u: Array


class Noise(NamedTuple):
    """What noise alone gives on a flat foot (mm): mean and standard deviation of the range of heights.

    ``below``, one for each spot group, is the mean gap below a shoe that rests on the three highest spots.
    ``flat``: whether the heights may all lie in one plane.
    """

    range_mean: float
    range_sd: float
    below: tuple[float, ...]
    flat: bool


def spots_of(points: Array, u: Array, stretch: float, chance: float) -> Spots:
    """Points no further apart along the wall than ``stretch`` (mm) averaged, as nearly as equal steps round it allow.

    A point that lies further from its neighbours' plane than noise allows stays one by itself: on a flat foot any point
    does so in ``chance`` of all tries at most. Of one stretch these are the highest and the lowest.
    """
    if not (u > 0).all():
        return Spots(points, u)
    radius = float(np.hypot(points[:, 0], points[:, 1]).mean())
    count = max(1, round(2 * np.pi * radius / stretch))
    sector = np.floor((np.arctan2(points[:, 0], points[:, 1]) / (2 * np.pi) + 0.5) * count).astype(int) % count
    if len(np.unique(sector)) == len(points):
        return Spots(points, u)
    furthest = -float(ndtri(chance / (2 * len(points))))
    slope = least_squares(points)
    level = points[:, 2] - points[:, :2] @ np.array([slope.along_x, slope.along_y])
    rows: list[Array] = []
    spread: list[float] = []
    for one in np.unique(sector):
        members = np.flatnonzero(sector == one)
        for part in _parts(level, u, members, furthest):
            weight = u[part] ** -2.0
            rows.append(weight @ points[part] / weight.sum())
            spread.append(float(weight.sum() ** -0.5))
    return Spots(np.array(rows), np.array(spread))


def _parts(level: Array, u: Array, members: Ints, furthest: float) -> list[Ints]:
    """The points of one stretch: together, but for the highest and the lowest where noise does not explain them."""
    if len(members) <= _TOP:
        together = [members]
        if len(members) > 1 and _too_far(level[members], u[members], furthest).any():
            together = [members[one : one + 1] for one in range(len(members))]
        return together
    off = level[members] - np.median(level[members])
    alone = [one for one in (int(off.argmax()), int(off.argmin())) if abs(off[one]) > furthest * u[members[one]]]
    rest = np.delete(members, alone)
    return [*(members[one : one + 1] for one in alone), rest]


def _too_far(heights: Array, u: Array, furthest: float) -> Array:
    far: Array = np.abs(heights - heights.mean()) > furthest * u
    return far


def noise_of(spots: Spots, groups: Sequence[Sequence[int]], chance: float) -> Noise:
    """What noise alone gives at these spots, by draws of a fixed seed, and whether it explains the heights.

    The heights may lie in one plane unless the squares of their residuals, weighted, add up to more than they would in
    ``chance`` of all tries (chi-squared, spots less three degrees of freedom).
    """
    points, u = spots
    if not (u > 0).all():
        return Noise(0.0, 0.0, (0.0,) * len(groups), flat=False)
    design = np.column_stack([points[:, :2], np.ones(len(points))]) / u[:, None]
    # The projection onto what a plane leaves over, in units of u.
    basis, _ = np.linalg.qr(design)
    scaled = points[:, 2] / u
    left = scaled - basis @ (basis.T @ scaled)
    flat = float(chdtrc(len(points) - _TOP, float(left @ left))) > chance
    draws = _drawn(len(points))
    drawn = (draws - (draws @ basis) @ basis.T) * u
    ranges = np.ptp(drawn, axis=1)
    rests = np.sort(drawn, axis=1)[:, -_TOP:].mean(axis=1)
    below = tuple(float((rests - drawn[:, list(group)].min(axis=1)).mean()) for group in groups)
    return Noise(float(ranges.mean()), float(ranges.std()), below, flat)


@lru_cache(maxsize=64)
def _drawn(count: int) -> Array:
    draws: Array = np.random.default_rng(_SEED).standard_normal((_DRAWS, count))
    return draws


def less_noise(value: float, expected: float) -> float:
    """A width without what noise of that expected width adds: none below it, nearly all where it is much wider.

    The non-negative garrote (Breiman 1995, "Better subset regression using the nonnegative garrote").
    """
    return max(0.0, value - expected**2 / value) if value > 0 else 0.0
