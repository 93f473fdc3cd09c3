"""How likely the true measure lies where a person's word puts it, by that person's curve.

The theorem of Bayes twice.  First the curve: how far each word ends off the book's end and how sharp the eye is, as the
pairs make it likely from what eyes are usually like (``shift_before`` and its kind in ``known.toml``), so that few
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
from scipy.special import ndtr

from fitcheck.eye.horses import doubt_of
from fitcheck.eye.likelihood import (
    Columns,
    Look,
    Method,
    Spreads,
    columns_of,
    drawn_in,
    ends_beside,
    shared_by,
    size_of,
)
from fitcheck.eye.model import MOST_LAPSES, Model
from fitcheck.eye.models import Curve

__all__ = ["Usual", "chance_between", "curve_of"]

Array = npt.NDArray[np.float64]
_QUANTILES: Final = 25
_POINTS: Final = 401
_CURVES: Final = 200
_SEED: Final = 1
"""Of the curves that are tried: always the same, so that one word has one chance."""
_WIDE: Final = 4.0
_FAR: Final = 6.0
"""Standard deviations of what eyes are usually like, within which a curve is looked for."""
_FIGURES: Final = 6
"""Significant figures of a curve: of a share of the whole a variance is a matter of ten thousandths."""


class Usual(NamedTuple):
    """What eyes are like before anything is known of one."""

    shift: float
    """Standard deviation of the shift of all ends, in standard deviations of the true values."""
    end: float
    """The same of each end's own way beside it."""
    spreads: Spreads


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
    if len(looks) < 2:  # noqa: PLR2004  (one tells nothing of a spread)
        return None
    data = columns_of(looks, len(words), by_book=True)
    size = size_of(data.value, data.u)
    if not size:
        return None
    values = data.value
    if len(measures) > len(looks) and (of_yard := size_of(*np.array(measures).T)):
        size, values = of_yard, np.array([value for value, _ in measures])
    # Feet of one horse tell less than as many of others: as much less as is usual, or as these horses show.
    usually = shared_by(np.bincount(data.groups), method.shared)
    data = drawn_in(data)
    model = _ByWays(data, method, size, usual, usually)
    best = model.best(model.start())[0]
    doubt = doubt_of(model, best)
    if doubt is not None and data.groups.max() and (more := doubt.ratio_of_all()) > 1:
        model = _ByWays(data, method, size, usual, usually * more)
        best = model.best(best)[0]
        doubt = doubt_of(model, best)
    covariance = np.linalg.inv(model.before.precision) if doubt is None else doubt.curved
    spread_at = model.spread_at
    lapse = method.lapse
    if method.lapse_factor:
        # Chances are straight in the share of lapses: its mean is all that counts.
        lapse = min(math.exp(best[-1] + covariance[-1, -1] / 2), MOST_LAPSES)
    covariance = covariance[: spread_at + 1, : spread_at + 1]
    middle = float(np.mean(values))
    drawn = middle + (values - middle) * (size / float(np.std(values, ddof=1)))
    # B. W. Silverman, Density Estimation for Statistics and Data Analysis, 1986, (3.31).
    between = float(np.subtract(*np.percentile(drawn, [75, 25]))) / 1.34
    width = 0.9 * (min(size, between) or size) * values.size**-0.2
    shares = (np.arange(_QUANTILES) + 0.5) / _QUANTILES
    return Curve(
        words=tuple(words),
        unit=unit,
        offsets=_rounded(best[:spread_at]),
        spread=_short(math.exp(best[spread_at])),
        lapse=_short(lapse),
        covariance=tuple(_rounded(row) for row in covariance),
        values=_rounded(np.quantile(drawn, shares)),
        width=_short(width),
    )


class _ByWays(Model):
    """Each end of the book off its own way, and a spread, from what eyes are usually like."""

    def __init__(self, data: Columns, method: Method, size: float, usual: Usual, less: float) -> None:
        super().__init__(data, method, less=less)
        count = self.ends
        covariance = np.zeros((count + 1, count + 1))
        covariance[:-1, :-1] = (usual.shift * size) ** 2 + np.eye(count) * (usual.end * size) ** 2
        covariance[-1, -1] = usual.spreads.factor**2
        middle = np.array([*[0.0] * count, math.log(usual.spreads.middle_of(size))])
        far = _FAR * np.sqrt(np.diag(covariance))
        self.bounds = [(each - reach, each + reach) for each, reach in zip(middle, far, strict=True)]
        self.known(middle, np.asarray(np.linalg.inv(covariance)))

    def offsets(self, parameters: Array) -> tuple[Array, Array]:
        """How far each end lies off the book's."""
        return parameters[: self.ends], np.eye(self.ends)

    def start(self) -> Array:
        """What eyes are usually like."""
        return self.before.middle


def _rounded(figures: Array) -> tuple[float, ...]:
    return tuple(_short(float(each)) for each in figures)


def _short(figure: float) -> float:
    return float(f"{figure:.{_FIGURES}g}") + 0.0


def chance_between(
    curve: Curve, word: str, ends: Sequence[float | None], low: float | None, high: float | None
) -> float | None:
    """How likely the true value lies from ``low`` to ``high`` where the person says ``word``.

    ``ends``: where the words end by the book in this situation; all on the line on which the eye errs alike everywhere
    (:meth:`fitcheck.scales.Scale.on_line`). None of a word that the curve does not have, or where
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
    normal = np.random.default_rng(_SEED).standard_normal((_CURVES // 2, middle.size))
    covariance = np.array(curve.covariance)
    # By correlations, so that the same looks in another unit have the same chances.
    sizes = np.sqrt(np.diag(covariance))
    values, vectors = np.linalg.eigh(covariance / np.outer(sizes, sizes))
    off = normal @ (vectors * np.sqrt(np.maximum(values, 0.0))).T * sizes
    moved = middle + np.concatenate([off, -off])
    return moved[:, :-1], np.exp(moved[:, -1])
