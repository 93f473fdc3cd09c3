"""How likely the true measure lies where a person's word puts it, by that person's curve.

The theorem of Bayes twice.  First the curve: how far each word ends off the book's end and how sharp the eye is, as the
pairs make it likely from what eyes are usually like (``shift_before`` and its kind in ``scales.toml``), so that few
pairs already tell a little and words that lie apart do not make an eye perfect.  Then a word: how likely each true
value is before anything was said, as the measured feet of the yard are spread, times how likely the person says the
word at it, over all curves that are still likely (JCGM 106:2012, 6.2 and 7: prior knowledge of the property, an
observation of it, the probability that it lies beyond a limit).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.optimize import minimize
from scipy.special import ndtr

from fitcheck.eye.likelihood import ends_beside, shared_by
from fitcheck.eye.models import Curve
from fitcheck.eye.ordered_probit import Look, Method

__all__ = ["Usual", "chance_between", "curve_of"]

Array = npt.NDArray[np.float64]
_QUANTILES: Final = 25
_POINTS: Final = 401
_CURVES: Final = 200
_SEED: Final = 1
"""Of the curves that are tried: always the same, so that one word has one chance."""
_WIDE: Final = 4.0
_STEP: Final = 1e-4
_DIGITS: Final = 4


class Usual(NamedTuple):
    """What eyes are like before anything is known of one, in standard deviations of the true values."""

    shift: float
    """Standard deviation of the shift of all ends."""
    end: float
    """Standard deviation of each end's own way beside it."""
    spread: float
    """The middle of the spread."""
    factor: float
    """Standard deviation of the natural logarithm of the spread."""


class _Before(NamedTuple):
    middle: Array
    precision: Array


class _Columns(NamedTuple):
    """Looks as columns; ``low`` and ``high``: which end lies below and above the word, -1 for none."""

    values: Array
    u: Array
    ends: Array
    low: npt.NDArray[np.intp]
    high: npt.NDArray[np.intp]
    words: int


def curve_of(
    looks: Sequence[Look],
    words: Sequence[str],
    unit: str,
    method: Method,
    usual: Usual,
    measures: Sequence[tuple[float, float]] = (),
) -> Curve | None:
    """The likeliest curve of ``looks`` with its doubt; None where all measures are alike or none has a book's end.

    ``measures``: what anybody measured of the quantity, each with its standard uncertainty: how true values are spread
    in the yard; those of the looks where there are not more.
    """
    looks = [look for look in looks if any(end is not None for end in look.ends)]
    values = np.array([look.value for look in looks])
    if values.size < 2 or not float(np.ptp(values)):  # noqa: PLR2004  (one tells nothing of a spread)
        return None
    u = np.array([look.u for look in looks])
    variance, error = float(np.var(values, ddof=1)), float(np.mean(u**2))
    among = max(variance - error, variance / 4)
    share = among / (among + u**2)
    middle = float(np.average(values, weights=share))
    likely, u = middle + share * (values - middle), np.sqrt(share) * u
    size = math.sqrt(among)
    ends = np.array([[math.nan if end is None else end for end in look.ends] for look in looks])
    low, high = ends_beside(np.array([look.word for look in looks]), ends)
    columns = _Columns(likely, u, ends, low, high, len(words))
    before = _usual(len(words) - 1, size, usual)

    def cost(parameters: Array) -> tuple[float, Array]:
        return _cost(parameters, columns, before, method.lapse)

    found = minimize(cost, before.middle, jac=True, method="BFGS", options={"gtol": 1e-6})
    best = np.asarray(found.x)
    curved = np.empty((best.size, best.size))
    for at in range(best.size):
        step = np.zeros(best.size)
        step[at] = _STEP
        curved[at] = (cost(best + step)[1] - cost(best - step)[1]) / (2 * _STEP)
    # Feet of one horse tell less than as many of others.
    less = shared_by(np.unique([look.group for look in looks], return_counts=True)[1], method.shared)
    data = (curved + curved.T) / 2 - before.precision
    covariance = np.linalg.inv(before.precision + data / less)
    covariance = (covariance + covariance.T) / 2
    if not np.all(np.isfinite(covariance)) or np.min(np.linalg.eigvalsh(covariance)) <= 0:
        covariance = np.linalg.inv(before.precision)
    if len(measures) > len(looks):
        values = np.array([value for value, _ in measures])
        middle, variance = float(np.mean(values)), float(np.var(values, ddof=1))
        size = math.sqrt(max(variance - float(np.mean([error**2 for _, error in measures])), variance / 4))
    drawn = middle + (values - middle) * (size / math.sqrt(variance))
    # B. W. Silverman, Density Estimation for Statistics and Data Analysis, 1986, (3.31).
    between = float(np.subtract(*np.percentile(drawn, [75, 25]))) / 1.34
    width = 0.9 * (min(size, between) or size) * values.size**-0.2
    shares = (np.arange(_QUANTILES) + 0.5) / _QUANTILES
    return Curve(
        words=tuple(words),
        unit=unit,
        offsets=_rounded(best[:-1]),
        spread=round(math.exp(best[-1]), _DIGITS),
        lapse=method.lapse,
        covariance=tuple(_rounded(row) for row in covariance),
        values=_rounded(np.quantile(drawn, shares)),
        width=round(width, _DIGITS),
    )


def _rounded(figures: Array) -> tuple[float, ...]:
    return tuple(round(float(each), _DIGITS) for each in figures)


def _usual(count: int, size: float, usual: Usual) -> _Before:
    covariance = np.zeros((count + 1, count + 1))
    covariance[:-1, :-1] = (usual.shift * size) ** 2 + np.eye(count) * (usual.end * size) ** 2
    covariance[-1, -1] = usual.factor**2
    middle = np.array([*[0.0] * count, math.log(usual.spread * size)])
    return _Before(middle, np.asarray(np.linalg.inv(covariance)))


def _cost(parameters: Array, columns: _Columns, before: _Before, lapse: float) -> tuple[float, Array]:
    """Minus the logarithm of how likely a curve is, before and by the looks, and its gradient."""
    values, u, ends, low, high, words = columns
    at = np.arange(values.size)
    spread = math.exp(min(parameters[-1], 50.0))
    total = np.sqrt(spread**2 + u**2)
    edges = ends + parameters[:-1]
    below = np.where(low >= 0, (edges[at, low] - values) / total, -np.inf)
    above = np.where(high >= 0, (edges[at, high] - values) / total, np.inf)
    turned = below > 0
    left, right = np.where(turned, -above, below), np.where(turned, -below, above)
    chance = np.maximum((1 - lapse) * (ndtr(right) - ndtr(left)) + lapse / words, 1e-300)
    by_low = -(1 - lapse) * _normal(below) / (chance * total)
    by_high = (1 - lapse) * _normal(above) / (chance * total)
    gradient = np.zeros(parameters.size)
    np.add.at(gradient, low[low >= 0], by_low[low >= 0])
    np.add.at(gradient, high[high >= 0], by_high[high >= 0])
    by_total = -(np.where(low >= 0, below, 0.0) * by_low + np.where(high >= 0, above, 0.0) * by_high)
    gradient[-1] = float(np.sum(by_total * spread**2 / total))
    off = parameters - before.middle
    return (
        -float(np.log(chance).sum()) + float(off @ before.precision @ off) / 2,
        -gradient + before.precision @ off,
    )


def _normal(z: Array) -> Array:
    return np.exp(-0.5 * np.minimum(z * z, 1e6)) / math.sqrt(2 * math.pi)


def chance_between(
    curve: Curve, word: str, ends: Sequence[float | None], low: float | None, high: float | None
) -> float | None:
    """How likely the true value lies from ``low`` to ``high`` where the person says ``word``.

    ``ends``: where the words end by the book in this situation. None of a word that the curve does not have, or where
    the book has no end.
    """
    if word not in curve.words or all(end is None for end in ends):
        return None
    points, weights = _after(curve, word, tuple(ends))
    inside = np.ones(points.size, dtype=bool)
    if low is not None:
        inside &= points > low
    if high is not None:
        inside &= points < high
    return float(weights[inside].sum() / weights.sum())


@lru_cache(maxsize=256)
def _after(curve: Curve, word: str, ends: tuple[float | None, ...]) -> tuple[Array, Array]:
    """True values, and how likely each is once the word is there."""
    values = np.array(curve.values)
    reach = _WIDE * max(curve.width, curve.spread)
    points = np.linspace(values[0] - reach, values[-1] + reach, _POINTS)
    before = np.exp(-0.5 * ((points[:, None] - values) / curve.width) ** 2).sum(axis=1)
    there = np.array([[math.nan if end is None else end for end in ends]])
    low, high = (int(each[0]) for each in ends_beside(np.array([curve.words.index(word)]), there))
    offsets, spreads = _curves(curve)
    begins = there[0, low] + offsets[:, low] if low >= 0 else np.full(_CURVES, -np.inf)
    stops = there[0, high] + offsets[:, high] if high >= 0 else np.full(_CURVES, np.inf)
    says = np.maximum(
        0.0,
        ndtr((stops[:, None] - points) / spreads[:, None]) - ndtr((begins[:, None] - points) / spreads[:, None]),
    ).mean(axis=0)
    return points, before * ((1 - curve.lapse) * says + curve.lapse / len(curve.words))


@lru_cache(maxsize=64)
def _curves(curve: Curve) -> tuple[Array, Array]:
    """Offsets and spreads as the pairs leave them likely, each as likely."""
    middle = np.array([*curve.offsets, math.log(curve.spread)])
    normal = np.random.default_rng(_SEED).standard_normal((_CURVES, middle.size))
    values, vectors = np.linalg.eigh(np.array(curve.covariance))
    moved = middle + normal @ (vectors * np.sqrt(np.maximum(values, 0.0))).T
    return moved[:, :-1], np.exp(moved[:, -1])
