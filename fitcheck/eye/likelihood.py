"""The likelihood of words beside measures, and where it is greatest: an ordered probit by Newton's method."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.special import log_ndtr, ndtr

__all__ = [
    "MOST_STEPS",
    "Array",
    "Columns",
    "Look",
    "Method",
    "Model",
    "columns_of",
    "drawn_in",
    "ends_beside",
    "margin",
    "shared_by",
]

Array = npt.NDArray[np.float64]
_SMALLEST: Final = 1e-3
"""Of the width of the data: a smaller spread, or a shorter word, cannot be told from none."""
_WIDEST: Final = 4.0
"""Of the width of the data: how far beyond it an end is looked for before it is called open."""
_TINY: Final = 1e-300
_STEP: Final = 1e-5
"""Of finite differences of the gradient."""
MOST_STEPS: Final = 60
_STILL: Final = 1e-10
_SHORTEST: Final = 1e-6
_GAIN: Final = 1e-6
"""Of the log likelihood: less is not worth another step."""


class Look(NamedTuple):
    """One word beside one measure."""

    value: float
    """What was measured."""
    u: float
    """Its standard uncertainty, in the same unit."""
    word: int
    """The place of the word in the order of the words, 0 for the one of the least values."""
    group: str
    """What looks that belong together share: the horse."""
    ends: tuple[float | None, ...] = ()
    """Where the words end by the book, one fewer than words; None where the book has no end."""


class Method(NamedTuple):
    """What is taken for known."""

    lapse: float = 0.0
    """The share of words said without looking, each word as likely."""
    shared: float = 0.0
    """The least share of the error's variance that the feet of one horse have in common."""
    level: float = 0.95
    """How often an interval holds the true value."""


class Columns(NamedTuple):
    """Looks as columns; ``lower`` and ``upper``: which end lies below and above the word, -1 for none."""

    value: Array
    u: Array
    lower: npt.NDArray[np.intp]
    upper: npt.NDArray[np.intp]
    offsets: Array
    """Book ends of each look, a column an end; no column where the ends themselves are looked for."""
    groups: npt.NDArray[np.intp]
    words: int
    width: float


def columns_of(looks: Sequence[Look], words: int) -> Columns:
    """The ``looks`` as columns."""
    value = np.array([look.value for look in looks])
    u = np.array([look.u for look in looks])
    names = {name: number for number, name in enumerate(dict.fromkeys(look.group for look in looks))}
    groups = np.array([names[look.group] for look in looks])
    word = np.array([look.word for look in looks])
    width = float(np.ptp(value)) or float(np.max(u)) or 1.0
    return Columns(value, u, word - 1, np.where(word < words - 1, word, -1), np.empty((0, 0)), groups, words, width)


def ends_beside(word: npt.NDArray[np.intp], ends: Array) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
    """Which end lies below and above each word, -1 for none.

    A word that has no end by the book on one side reaches as far as the next that has one.
    """
    low, high = word - 1, np.where(word < ends.shape[1], word, -1)
    for row in range(word.size):
        while low[row] >= 0 and math.isnan(ends[row, low[row]]):
            low[row] -= 1
        while high[row] >= 0 and math.isnan(ends[row, high[row]]):
            high[row] = high[row] + 1 if high[row] < ends.shape[1] - 1 else -1
    return low, high


def shared_by(sizes: npt.NDArray[np.intp], shared: float) -> float:
    """By how much the variance is greater than that of as many looks of as many horses: the design effect.

    ``sizes``: how many looks there are of each horse; ``shared``: what those of one have in common.
    """
    return 1.0 + (float(sizes @ sizes) / float(sizes.sum()) - 1.0) * shared


def drawn_in(data: Columns) -> Columns:
    """The most likely true values in the place of the measures, with their standard deviations."""
    variance = float(np.var(data.value, ddof=1)) if data.value.size > 1 else 0.0
    among = max(variance - float(np.mean(data.u**2)), variance / 4)
    if among <= 0 or not np.any(data.u):
        return data
    share = among / (among + data.u**2)
    mean = float(np.average(data.value, weights=share))
    return data._replace(value=mean + share * (data.value - mean), u=np.sqrt(share) * data.u)


def _downhill(hessian: Array, slope: Array) -> Array:
    """Newton's step, or one along the slope as far as the surface is not curved upward."""
    values, vectors = np.linalg.eigh(hessian)
    curved = np.maximum(np.abs(values), 1e-8 * max(1.0, float(np.max(np.abs(values)))))
    return np.asarray(vectors @ ((vectors.T @ slope) / curved))


class Model:
    """The likelihood of looks, with either all ends free or the book's ends shifted as one.

    Parameters: the ``anchor``, one of the ends or the shift; the logarithms of the gaps between ends; that of the
    spread.
    """

    def __init__(self, data: Columns, method: Method, *, anchor: int = 0, by_shift: bool = False) -> None:
        self.data, self.method, self.anchor, self.by_shift = data, method, anchor, by_shift
        self.count = 1 if by_shift else data.words - 1
        spread = math.log(_SMALLEST * data.width), math.log(_WIDEST * data.width)
        middle = float(np.mean(data.value))
        around = (-_WIDEST * data.width, _WIDEST * data.width)
        first = around if by_shift else (middle + around[0], middle + around[1])
        gap = math.log(_SMALLEST * data.width), math.log(2 * _WIDEST * data.width)
        self.bounds = [first, *[gap] * (self.count - 1), spread]

    def ends(self, parameters: Array) -> Array:
        """The ends, or the shift, of ``parameters``."""
        if self.count == 1:
            return parameters[:1]
        gaps = np.exp(parameters[1 : self.count])
        upward, downward = np.cumsum(gaps[self.anchor :]), np.cumsum(gaps[: self.anchor][::-1])[::-1]
        return np.concatenate([parameters[0] - downward, parameters[:1], parameters[0] + upward])

    def start(self) -> Array:
        """Where to begin: ends between the means of what words lie beside."""
        data = self.data
        spread = math.log(max(data.width / 6, 2 * _SMALLEST * data.width))
        if self.by_shift:
            return np.array([0.0, spread])
        ranked = np.sort(data.value)
        shares = [np.mean(data.lower < end) for end in range(self.count)]
        ends = np.array([float(np.quantile(ranked, share)) for share in shares])
        gaps = np.log(np.maximum(np.diff(ends), data.width / 20))
        return np.concatenate([ends[self.anchor : self.anchor + 1], gaps, [spread]])

    def scores(self, parameters: Array) -> tuple[Array, Array]:
        """The log likelihood of each look, and its gradient by ``parameters``, a row a look."""
        data, lapse, ends = self.data, self.method.lapse, self.ends(parameters)
        spread = math.exp(parameters[-1])
        total = np.sqrt(spread**2 + data.u**2)
        at = np.arange(data.value.size)
        if self.by_shift:
            edges = data.offsets - ends[0]
            low = np.where(data.lower >= 0, edges[at, data.lower], -np.inf)
            high = np.where(data.upper >= 0, edges[at, data.upper], np.inf)
        else:
            low = np.where(data.lower >= 0, ends[data.lower], -np.inf)
            high = np.where(data.upper >= 0, ends[data.upper], np.inf)
        below, above = (low - data.value) / total, (high - data.value) / total
        # On the side of the smaller numbers, where differences keep their figures.
        turned = below > 0
        left, right = np.where(turned, -above, below), np.where(turned, -below, above)
        probability = ndtr(right) - ndtr(left)
        chance = np.maximum((1 - lapse) * probability + lapse / data.words, _TINY)
        density = (1 - lapse) / (chance * total)
        by_low, by_high = -density * _normal(below), density * _normal(above)
        by_total = -(_times(below, by_low) + _times(above, by_high))
        gradient = np.zeros((data.value.size, parameters.size))
        if self.by_shift:
            gradient[:, 0] = -(by_low + by_high)
        else:
            by_end = np.zeros((data.value.size, self.count))
            has_low, has_high = data.lower >= 0, data.upper >= 0
            by_end[at[has_low], data.lower[has_low]] = by_low[has_low]
            by_end[at[has_high], data.upper[has_high]] = by_high[has_high]
            gradient[:, 0] = by_end.sum(axis=1)
            for gap in range(self.count - 1):
                size = math.exp(parameters[1 + gap])
                moved = -by_end[:, : gap + 1] if gap < self.anchor else by_end[:, gap + 1 :]
                gradient[:, 1 + gap] = size * moved.sum(axis=1)
        gradient[:, -1] = by_total * spread**2 / total
        if not lapse:
            # Far out the chance itself is nothing, and its logarithm is not.
            far = probability < _TINY
            log_chance = np.where(far, np.minimum(log_ndtr(right), log_ndtr(-left)), np.log(chance))
        else:
            log_chance = np.log(chance)
        return log_chance, gradient

    def cost(self, parameters: Array) -> tuple[float, Array]:
        """Minus the log likelihood and its gradient."""
        each, gradient = self.scores(parameters)
        return -float(each.sum()), -gradient.sum(axis=0)

    def best(self, start: Array, fixed: tuple[int, float] | None = None) -> tuple[Array, float]:
        """The likeliest parameters from ``start`` on, one of them ``fixed``, and minus their log likelihood."""
        free = np.array([at for at in range(start.size) if fixed is None or at != fixed[0]])
        whole = start.copy()
        if fixed is not None:
            whole[fixed[0]] = fixed[1]
        for at in free:
            whole[at] = min(max(whole[at], self.bounds[at][0]), self.bounds[at][1])

        value, slope = self.cost(whole)
        for _ in range(MOST_STEPS):
            # What is pressed against an end of what is looked for stays there.
            moving = [at for at in free if not self._pressed(whole[at], slope[at], at)]
            if not moving:
                return whole, value
            step = _downhill(self.hessian(whole, moving), slope[moving])
            length, better = 1.0, False
            while not better and length > _SHORTEST:
                tried = whole.copy()
                tried[moving] -= length * step
                for at in moving:
                    tried[at] = min(max(tried[at], self.bounds[at][0]), self.bounds[at][1])
                there, its_slope = self.cost(tried)
                better = there < value
                length /= 2
            if not better:
                return whole, value
            gained, whole, value, slope = value - there, tried, there, its_slope
            if gained < _GAIN:
                return whole, value
        return whole, value

    def _pressed(self, where: float, slope: float, at: int) -> bool:
        low, high = self.bounds[at]
        return (where <= low and slope > 0) or (where >= high and slope < 0)

    def hessian(self, parameters: Array, moving: Sequence[int]) -> Array:
        """Of minus the log likelihood, by those of the ``parameters`` that are ``moving``."""
        rows = np.empty((len(moving), len(moving)))
        for row, at in enumerate(moving):
            step = np.zeros(parameters.size)
            step[at] = _STEP
            slopes = self.cost(parameters + step)[1] - self.cost(parameters - step)[1]
            rows[row] = slopes[moving] / (2 * _STEP)
        return (rows + rows.T) / 2

    def polished(self, parameters: Array) -> Array:
        """``parameters`` after Newton's steps, where they lie inside the bounds and the steps lead down."""
        for _ in range(8):
            if not self.inside(parameters):
                break
            gradient = self.cost(parameters)[1]
            try:
                step = np.linalg.solve(self.hessian(parameters, range(parameters.size)), gradient)
            except np.linalg.LinAlgError:
                break
            tried = parameters - step
            if not np.all(np.isfinite(tried)) or self.cost(tried)[0] > self.cost(parameters)[0] + 1e-12:
                break
            parameters = tried
            if float(np.max(np.abs(step))) < _STILL:
                break
        return parameters

    def inside(self, parameters: Array) -> bool:
        """Whether no parameter lies at an end of what is looked for."""
        return all(
            low + margin(low, high) < each < high - margin(low, high)
            for each, (low, high) in zip(parameters, self.bounds, strict=True)
        )

    def covariances(self, parameters: Array) -> tuple[Array, Array] | None:
        """Of the parameters: by the curvature alone, and by the groups; None where the data do not hold them."""
        if not self.inside(parameters):
            return None
        try:
            curved = np.linalg.inv(self.hessian(parameters, range(parameters.size)))
        except np.linalg.LinAlgError:
            return None
        if not np.all(np.isfinite(curved)) or np.any(np.diag(curved) <= 0):
            return None
        scores = self.scores(parameters)[1]
        count = int(self.data.groups.max()) + 1
        sums = np.zeros((count, parameters.size))
        np.add.at(sums, self.data.groups, scores)
        meat = sums.T @ sums * (count / max(count - 1, 1))
        return np.asarray(curved), np.asarray(curved @ meat @ curved)


def margin(low: float, high: float) -> float:
    """How near an end of what is looked for is on it."""
    return 1e-3 * (high - low)


def _normal(z: Array) -> Array:
    return np.exp(-0.5 * np.minimum(z * z, 1e6)) / math.sqrt(2 * math.pi)


def _times(z: Array, by: Array) -> Array:
    """``z`` times ``by``, 0 at the open ends."""
    return np.where(np.isfinite(z), z, 0.0) * by
