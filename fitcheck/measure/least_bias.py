"""How far too low the least of many noisy means lies, for the shape that they show.

Of means that wander the least lies low though the line is straight, and hardly low where one stands out far. The shape
is taken as the means drawn towards their own mean by what wander alone gives; the bias is that of draws about it, as in
a parametric bootstrap (Efron and Tibshirani 1993, "An Introduction to the Bootstrap", chapter 10).
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from statistics import NormalDist
from typing import Final

import numpy as np

from fitcheck.measure.curves import Floats

__all__ = ["bias_of_least", "moving_means", "share_seen"]

_DRAWS: Final = 256
_SEED: Final = 2
_LONGEST: Final = 400  # stations; a longer stretch of wall is no foot's
_FEW: Final = 1.4
"""A variance by the median of a few differences that hang together, cut off above, lies lower than the true one."""
_EITHER_WAY: Final = 1.4
"""The furthest of a few normal variables to either side lies further off than the furthest to one."""
_TINY: Final = 1e-9
_MEDIAN_OF_SQUARES: Final = 0.4549  # of a normal variable of variance 1: chi-squared of one degree of freedom


def moving_means(values: Floats, count: int) -> Floats:
    """The means of ``count`` values in succession along the last axis."""
    sums = np.cumsum(values, axis=-1)
    first = np.zeros_like(sums[..., :1])
    sums = np.concatenate([first, sums], axis=-1)
    means: Floats = (sums[..., count:] - sums[..., :-count]) / count
    return means


def bias_of_least(means: Floats, spread: float, count: int, length: float) -> float:
    """The bias of the least of ``means``, each over ``count`` stations, with standard deviation ``spread`` by wander.

    ``length``: over how many stations the wander fades. 0 or less.
    """
    if spread <= 0 or len(means) < 2 or len(means) > _LONGEST:  # noqa: PLR2004
        return 0.0
    # Stretches further apart than they and the wander are long count as independent; Blom 1958 for their extreme.
    independent = max(2.0, (len(means) + count) / (count + length))
    extreme = _EITHER_WAY * spread * NormalDist().inv_cdf((independent - 0.375) / (independent + 0.25))
    off = means - means.mean()
    # The non-negative garrote (Breiman 1995).
    kept = np.sign(off) * np.maximum(0.0, np.abs(off) - extreme**2 / np.maximum(np.abs(off), _TINY))
    draws = spread * _wandering(count, max(1, round(length)))[:, : len(means)]
    return float((kept + draws).min(axis=1).mean() - kept.min())


def share_seen(profiles: Iterable[Floats], spread: float, count: int, length: float) -> float:
    """The share of the variance of a wander of ``spread``, in moving means of ``count`` stations, in ``profiles``.

    By their second differences over ``length`` stations, which no slope has a part in, and of these the median, which
    few bends have one in. From 0 to 1; what is left by noise that does not wander is small, as its variance is.
    """
    lag = max(1, round(length))
    expected = _difference_expected(count, lag)
    found = [_second_differences(moving_means(each, count), lag) for each in profiles if len(each) > count + 2 * lag]
    if spread <= 0 or not found:
        return 1.0
    variance = float(np.median(np.square(np.concatenate(found)))) / _MEDIAN_OF_SQUARES
    return min(1.0, _FEW * variance / expected / spread**2)


@lru_cache(maxsize=64)
def _difference_expected(count: int, lag: int) -> float:
    """The mean square of second differences of moving means of a line that wanders, of standard deviation 1."""
    return float(np.square(_second_differences(_wandering(count, lag), lag)).mean())


def _second_differences(values: Floats, lag: int) -> Floats:
    differences: Floats = values[..., : -2 * lag] - 2 * values[..., lag:-lag] + values[..., 2 * lag :]
    return differences


@lru_cache(maxsize=64)
def _wandering(count: int, length: int) -> Floats:
    """Draws of moving means of a line that wanders, of standard deviation 1, shape (draws, stations)."""
    reach = np.arange(-3 * length, 3 * length + 1)
    kernel = np.exp(-np.square(reach / length))  # two of these make exp(-d^2 / (2 length^2))
    white = np.random.default_rng(_SEED).standard_normal((_DRAWS, _LONGEST + count + len(kernel)))
    line = np.array([np.convolve(row, kernel, "valid") for row in white])
    means = moving_means(line, count)
    unit: Floats = means / means.std()
    return unit
