"""Ordered probit with a known error of the measure: where words begin and end in millimetres, and how sharp they are.

R. D. McKelvey and W. Zavoina, A statistical model for the analysis of ordinal level dependent variables, Journal of
Mathematical Sociology 4 (1975) 103-120: a person sees the true value with a normal error of standard deviation
``spread`` and says the word between whose ends it falls.  The measure beside the word has its standard uncertainty u;
where the true values are spread normally about their mean, the true value lies normally about the measure drawn
towards that mean, and the error of the measure adds to that of the eye (R. J. Carroll, D. Ruppert, L. A. Stefanski,
C. M. Crainiceanu, Measurement Error in Nonlinear Models, 2nd ed. 2006, chapter 4; for the probit it is exact).  A share
of all words, the lapse rate, is said without looking (F. A. Wichmann and N. J. Hill, The psychometric function I,
Perception & Psychophysics 63 (2001) 1293-1313).

Intervals are those of the profile likelihood, with the quantile of Student's t, of degrees of freedom half-way between
those of the groups and those of the looks, and widened by what the groups, the feet of one horse, have in common (the
sandwich of K.-Y. Liang and S. L. Zeger, Longitudinal data analysis using generalized linear models, Biometrika 73
(1986) 13-22), at the least by what is usual.  An end that the data do not hold is open: None.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.special import log_ndtr, ndtr
from scipy.stats import t as student

__all__ = ["Estimate", "Fit", "Look", "Method", "ends_of", "shift_of"]

Array = npt.NDArray[np.float64]
_SMALLEST: Final = 1e-3
"""Of the width of the data: a smaller spread, or a shorter word, cannot be told from none."""
_WIDEST: Final = 4.0
"""Of the width of the data: how far beyond it an end is looked for before it is called open."""
_TINY: Final = 1e-300
_STEP: Final = 1e-5
"""Of finite differences of the gradient."""
_MOST_STEPS: Final = 60
_STILL: Final = 1e-10
_SHORTEST: Final = 1e-6
_SAME: Final = 1e-4
"""Of the log likelihood: the data do not tell the one from the other."""
_NEAR: Final = 3e-3
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


@dataclass(frozen=True, slots=True)
class Estimate:
    """A figure and its interval; an end that is None is open, and so is a value that nothing tells."""

    value: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class Fit:
    """What the words beside measures tell."""

    ends: tuple[Estimate, ...]
    """The upper end of each word but the last; of a fit by shift the shift alone."""
    spread: Estimate
    log_likelihood: float
    covariance: tuple[tuple[float, ...], ...] | None
    """Of the ends (or the shift) and the logarithm of the spread, by groups; None where the data do not hold them."""
    separate: bool
    """Whether the words lie apart from each other on the measure, so that the spread may be none at all."""


class Method(NamedTuple):
    """What is taken for known."""

    lapse: float = 0.0
    """The share of words said without looking, each word as likely."""
    shared: float = 0.0
    """The least share of the error's variance that the feet of one horse have in common."""
    level: float = 0.95
    """How often an interval holds the true value."""


class _Data(NamedTuple):
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


def _columns(looks: Sequence[Look], words: int) -> _Data:
    value = np.array([look.value for look in looks])
    u = np.array([look.u for look in looks])
    names = {name: number for number, name in enumerate(dict.fromkeys(look.group for look in looks))}
    groups = np.array([names[look.group] for look in looks])
    word = np.array([look.word for look in looks])
    width = float(np.ptp(value)) or float(np.max(u)) or 1.0
    return _Data(value, u, word - 1, np.where(word < words - 1, word, -1), np.empty((0, 0)), groups, words, width)


def _drawn_in(data: _Data) -> _Data:
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


class _Model:
    """The likelihood of looks, with either all ends free or the book's ends shifted as one.

    Parameters: the ``anchor``, one of the ends or the shift; the logarithms of the gaps between ends; that of the
    spread.
    """

    def __init__(self, data: _Data, method: Method, *, anchor: int = 0, by_shift: bool = False) -> None:
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
        for _ in range(_MOST_STEPS):
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
            low + _margin(low, high) < each < high - _margin(low, high)
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


def _margin(low: float, high: float) -> float:
    return 1e-3 * (high - low)


def _normal(z: Array) -> Array:
    return np.exp(-0.5 * np.minimum(z * z, 1e6)) / math.sqrt(2 * math.pi)


def _times(z: Array, by: Array) -> Array:
    """``z`` times ``by``, 0 at the open ends."""
    return np.where(np.isfinite(z), z, 0.0) * by


def ends_of(looks: Sequence[Look], words: int, method: Method) -> Fit:
    """Where each of ``words`` ends, every one of which was used, and how sharply, by maximum likelihood.

    Raises ValueError where fewer than two words, or not all of
    them, are used.
    """
    if words < 2 or {look.word for look in looks} != set(range(words)):  # noqa: PLR2004  (one word has no end)
        raise ValueError("at least two words, each of them used")
    data = _drawn_in(_columns(looks, words))
    model = _Model(data, method)
    best, cost = _best_of(model)
    ends: list[Estimate] = []
    spread: Estimate | None = None
    values = model.ends(best)
    for number in range(words - 1):
        anchored = _Model(data, method, anchor=number)
        here = np.concatenate([values[number : number + 1], best[1:]])
        ends.append(_interval(anchored, here, cost, 0))
        if number == 0:
            spread = _interval(anchored, here, cost, words - 1)
    if spread is None:
        raise ValueError("no end at all")
    return Fit(tuple(ends), _as_spread(spread), -cost, _covariance(model, best), _separate(data))


def shift_of(looks: Sequence[Look], words: int, method: Method) -> Fit | None:
    """How far all words lie off the ends of the book, and how sharp they are; None where no look has such an end.

    The shift is how much more is seen than there is: 1 says that every word begins 1 below its end by the book.
    """
    held = [look for look in looks if any(end is not None for end in look.ends)]
    if not held:
        return None
    data = _columns(held, words)
    offsets = np.array([[math.nan if end is None else end for end in look.ends] for look in held])
    lower, upper = data.lower.copy(), data.upper.copy()
    for row in range(len(held)):
        # A word that has no end by the book on one side reaches as far as the next that has one.
        while lower[row] >= 0 and math.isnan(offsets[row, lower[row]]):
            lower[row] -= 1
        while 0 <= upper[row] < words - 1 and math.isnan(offsets[row, upper[row]]):
            upper[row] = upper[row] + 1 if upper[row] < words - 2 else -1
    data = _drawn_in(data._replace(lower=lower, upper=upper, offsets=offsets))
    model = _Model(data, method, by_shift=True)
    best, cost = _best_of(model)
    shift, spread = (_interval(model, best, cost, at) for at in (0, 1))
    return Fit((shift,), _as_spread(spread), -cost, _covariance(model, best), _separate(data))


def _best_of(model: _Model) -> tuple[Array, float]:
    """The likeliest parameters, looked for from several spreads."""
    start = model.start()
    tries = []
    for factor in (1.0, 0.3, 3.0):
        begin = start.copy()
        begin[-1] += math.log(factor)
        tries.append(model.best(begin))
    best, cost = min(tries, key=lambda tried: tried[1])
    sharp, of_sharp = model.best(best, (best.size - 1, model.bounds[-1][0]))
    if of_sharp < cost + _SAME:
        # An eye without any error would say the same.
        return sharp, of_sharp
    best = model.polished(best)
    return best, model.cost(best)[0]


def _interval(model: _Model, best: Array, cost: float, at: int) -> Estimate:
    """The profile of one parameter, cut where its deviance is more than chance lets it be."""
    count = int(model.data.groups.max()) + 1
    low, high = model.bounds[at]
    inner = low + _margin(low, high) < best[at] < high - _margin(low, high)
    value = float(best[at]) if inner else None
    if count == 1:
        return Estimate(value, None, None)
    covariances = model.covariances(best)
    wider = 1.0 if covariances is None else max(1.0, covariances[1][at, at] / covariances[0][at, at])
    size = model.data.value.size
    sizes = np.bincount(model.data.groups)
    # What groups have in common is hardly seen of few of them: the usual size of it counts at the least.
    wider = max(wider, 1.0 + (float(sizes @ sizes) / size - 1.0) * model.method.shared)
    freedom = max(1.0, (count - 1 + size - 2) / 2)
    most = wider * float(student.ppf((1 + model.method.level) / 2, freedom)) ** 2
    step = 0.1 * (high - low) if covariances is None else 2 * math.sqrt(wider * covariances[0][at, at])

    def excess(where: float, begin: Array) -> tuple[float, Array]:
        found, there = model.best(begin, (at, where))
        return 2 * (there - cost) - most, found

    return Estimate(value, *(_crossing(excess, best, at, way * step, end) for way, end in ((-1, low), (1, high))))


def _crossing(
    excess: Callable[[float, Array], tuple[float, Array]], best: Array, at: int, step: float, end: float
) -> float | None:
    """Where the profile rises above what chance lets it be, from the best value towards ``end``; None where never."""
    inner, begin, (under, _) = float(best[at]), best, excess(float(best[at]), best)
    while True:
        outer = inner + step
        last = (outer - end) * step >= 0
        if last:
            outer = end
        over, found = excess(outer, begin)
        if over > 0:
            break
        if last:
            return None
        inner, begin, under, step = outer, found, over, step * 1.5
    most = -excess(float(best[at]), best)[0]
    for _ in range(_MOST_STEPS):
        if abs(outer - inner) < _NEAR * abs(step) or over < _NEAR * most:
            break
        # The root of the deviance is nearly straight.
        low, high = (math.sqrt(max(0.0, each + most)) for each in (under, over))
        share = (math.sqrt(most) - low) / (high - low) if high > low else 0.5
        middle = inner + min(max(share, 0.02), 0.98) * (outer - inner)
        beyond, found = excess(middle, begin)
        if beyond > 0:
            outer, over = middle, beyond
        else:
            inner, under, begin = middle, beyond, found
            if -beyond < _NEAR * most:
                break
    return outer if over < -under else inner


def _as_spread(logarithm: Estimate) -> Estimate:
    return Estimate(
        *(None if each is None else math.exp(each) for each in (logarithm.value, logarithm.low, logarithm.high))
    )


def _covariance(model: _Model, best: Array) -> tuple[tuple[float, ...], ...] | None:
    """Of ends (or shift) and log spread: by curvature, and no smaller than by groups."""
    found = model.covariances(best)
    if found is None:
        return None
    curved, grouped = found
    wider = np.sqrt(np.maximum(1.0, np.diag(grouped) / np.diag(curved)))
    whole = curved * np.outer(wider, wider)
    size = best.size
    turn = np.zeros((size, size))
    turn[-1, -1] = 1.0
    turn[:-1, 0] = 1.0
    for gap in range(model.count - 1):
        turn[gap + 1 : -1, 1 + gap] = math.exp(best[1 + gap])
    return tuple(tuple(float(each) for each in row) for row in turn @ whole @ turn.T)


def _separate(data: _Data) -> bool:
    """Whether one could cut the measure so that each word lies alone, without any error of the eye."""
    if data.offsets.size:
        edges = data.offsets
        at = np.arange(data.value.size)
        least = np.where(data.upper >= 0, edges[at, data.upper] - data.value, np.inf)
        most = np.where(data.lower >= 0, edges[at, data.lower] - data.value, -np.inf)
        return bool(np.max(most) <= np.min(least))
    tops = [float(data.value[data.lower == word - 1].max()) for word in range(data.words)]
    bottoms = [float(data.value[data.lower == word - 1].min()) for word in range(data.words)]
    return all(top <= bottom for top, bottom in zip(tops, bottoms[1:], strict=False))
