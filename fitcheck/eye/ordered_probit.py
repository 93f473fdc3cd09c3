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
from typing import Final

import numpy as np
from scipy.stats import t as student

from fitcheck.eye.likelihood import (
    MOST_STEPS,
    Array,
    Columns,
    Look,
    Method,
    Model,
    columns_of,
    drawn_in,
    ends_beside,
    margin,
    shared_by,
)

__all__ = ["Estimate", "Fit", "Look", "Method", "ends_of", "shift_of"]

_SAME: Final = 1e-4
"""Of the log likelihood: the data do not tell the one from the other."""
_NEAR: Final = 3e-3
"""Of what the profile may rise: near enough to the end of an interval."""


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


def ends_of(looks: Sequence[Look], words: int, method: Method) -> Fit:
    """Where each of ``words`` ends, every one of which was used, and how sharply, by maximum likelihood.

    Raises ValueError where fewer than two words, or not all of
    them, are used.
    """
    if words < 2 or {look.word for look in looks} != set(range(words)):  # noqa: PLR2004  (one word has no end)
        raise ValueError("at least two words, each of them used")
    data = drawn_in(columns_of(looks, words))
    model = Model(data, method)
    best, cost = _best_of(model)
    ends: list[Estimate] = []
    spread: Estimate | None = None
    values = model.ends(best)
    for number in range(words - 1):
        anchored = Model(data, method, anchor=number)
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
    data = columns_of(held, words)
    offsets = np.array([[math.nan if end is None else end for end in look.ends] for look in held])
    lower, upper = ends_beside(np.array([look.word for look in held]), offsets)
    data = drawn_in(data._replace(lower=lower, upper=upper, offsets=offsets))
    model = Model(data, method, by_shift=True)
    best, cost = _best_of(model)
    shift, spread = (_interval(model, best, cost, at) for at in (0, 1))
    return Fit((shift,), _as_spread(spread), -cost, _covariance(model, best), _separate(data))


def _best_of(model: Model) -> tuple[Array, float]:
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


def _interval(model: Model, best: Array, cost: float, at: int) -> Estimate:
    """The profile of one parameter, cut where its deviance is more than chance lets it be."""
    count = int(model.data.groups.max()) + 1
    low, high = model.bounds[at]
    inner = low + margin(low, high) < best[at] < high - margin(low, high)
    value = float(best[at]) if inner else None
    if count == 1:
        return Estimate(value, None, None)
    covariances = model.covariances(best)
    wider = 1.0 if covariances is None else max(1.0, covariances[1][at, at] / covariances[0][at, at])
    size = model.data.value.size
    # What groups have in common is hardly seen of few of them: the usual size of it counts at the least.
    wider = max(wider, shared_by(np.bincount(model.data.groups), model.method.shared))
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
    for _ in range(MOST_STEPS):
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


def _covariance(model: Model, best: Array) -> tuple[tuple[float, ...], ...] | None:
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


def _separate(data: Columns) -> bool:
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
