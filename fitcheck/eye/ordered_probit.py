"""Ordered probit with a known error of the measure: where words begin and end in millimetres, and how sharp they are.

R. D. McKelvey and W. Zavoina, A statistical model for the analysis of ordinal level dependent variables, Journal of
Mathematical Sociology 4 (1975) 103-120: a person sees the true value with a normal error of standard deviation
``spread`` and says the word between whose ends it falls.  The measure beside the word has its standard uncertainty u;
where the true values are spread normally about their mean, the true value lies normally about the measure drawn
towards that mean, and the error of the measure adds to that of the eye (R. J. Carroll, D. Ruppert, L. A. Stefanski,
C. M. Crainiceanu, Measurement Error in Nonlinear Models, 2nd ed. 2006, chapter 4; for the probit it is exact).  A share
of all words, the lapse rate, is said without looking (F. A. Wichmann and N. J. Hill, The psychometric function I,
Perception & Psychophysics 63 (2001) 1293-1313); how large it is, is known as far as that is usual, and told by the
words.

Intervals are those of the profile likelihood over all else that is not known: the lapses, and where all ends have one
shift, how far each lies off by itself.  They take the quantile of Student's t, of degrees of freedom half-way between
those of the groups and those of the looks, and are widened by what the groups, the feet of one horse, have in common
(``horses``), at the least by what is usual.  An end that the data do not hold is open: None.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.stats import t as student

from fitcheck.eye.horses import doubt_of
from fitcheck.eye.likelihood import Array, Columns, Look, Method, columns_of, drawn_in, shared_by, size_of
from fitcheck.eye.model import MOST_STEPS, ByShift, FreeEnds, Model, margin

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
    lapse: float
    """The likeliest share of words said without looking."""
    log_likelihood: float
    separate: bool
    """Whether the words lie apart from each other on the measure, so that the spread may be none at all."""


def ends_of(looks: Sequence[Look], words: int, method: Method) -> Fit:
    """Where each of ``words`` ends, every one of which was used, and how sharply, by maximum likelihood.

    Raises ValueError where fewer than two words, or not all of
    them, are used.
    """
    if words < 2 or {look.word for look in looks} != set(range(words)):  # noqa: PLR2004  (one word has no end)
        raise ValueError("at least two words, each of them used")
    data = drawn_in(columns_of(looks, words, by_book=False))
    model = FreeEnds(data, method)
    best, cost = _best_of(model, model.starts())
    spread = _interval(model, best, cost, model.spread_at)
    ends: list[Estimate] = []
    for number, value in enumerate(model.offsets(best)[0]):
        anchored = FreeEnds(data, method, anchor=number)
        ends.append(_interval(anchored, np.concatenate([[value], best[1:]]), cost, 0))
    return Fit(tuple(ends), _as_spread(spread), model.lapse(best), -cost, _separate(data))


def shift_of(looks: Sequence[Look], words: int, method: Method) -> Fit | None:
    """How far all words lie off the ends of the book, and how sharp they are; None where no look has such an end.

    The shift is how much more is seen than there is: 1 says that every word begins 1 below its end by the book. It is
    found with what is known of spreads (``Method.spreads``), all else by the looks alone.
    """
    held = [look for look in looks if any(end is not None for end in look.ends)]
    if not held:
        return None
    data = columns_of(held, words, by_book=True)
    size = size_of(data.value, data.u) or data.width
    data = drawn_in(data)
    model = ByShift(data, method, size)
    best, cost = _best_of(model, model.starts())
    spread = _interval(model, best, cost, model.spread_at)
    knowing = ByShift(data, method, size, method.spreads)
    shift = _interval(knowing, *_best_of(knowing, [best, *knowing.starts()]), 0)
    return Fit((shift,), _as_spread(spread), model.lapse(best), -cost, _separate_by_book(data))


def _best_of(model: Model, starts: Sequence[Array]) -> tuple[Array, float]:
    """The likeliest parameters, looked for from each of ``starts``."""
    best, cost = min((model.best(begin) for begin in starts), key=lambda tried: tried[1])
    sharp, of_sharp = model.best(best, (model.spread_at, model.spread_bounds[0]))
    if of_sharp < cost + _SAME:
        # An eye without any error would say the same.
        return sharp, of_sharp
    best = model.polished(best)
    return best, model.surface(best)[0]


def _interval(model: Model, best: Array, cost: float, at: int) -> Estimate:
    """The profile of one parameter, cut where its deviance is more than chance lets it be."""
    count = int(model.data.groups.max()) + 1
    low, high = model.bounds[at]
    inner = low + margin(low, high) < best[at] < high - margin(low, high)
    value = float(best[at]) if inner and not _is_flat(model, best, cost, at) else None
    if count == 1:
        return Estimate(value, None, None)
    doubt = doubt_of(model, best) if model.inside(best) else None
    # What groups have in common is hardly seen of few of them: the usual size of it counts at the least.
    wider = shared_by(np.bincount(model.data.groups), model.method.shared)
    step = 0.1 * (high - low)
    if doubt is not None:
        wider = max(wider, doubt.ratio(at))
        step = min(step, 2 * math.sqrt(wider * doubt.curved[at, at]))
    freedom = max(1.0, (count - 1 + model.data.value.size - 2) / 2)
    most = wider * float(student.ppf((1 + model.method.level) / 2, freedom)) ** 2

    def excess(where: float, begin: Array) -> tuple[float, Array]:
        found, there = model.best(begin, (at, where))
        return 2 * (there - cost) - most, found

    return Estimate(value, *(_crossing(excess, best, at, way * step, end) for way, end in ((-1, low), (1, high))))


def _is_flat(model: Model, best: Array, cost: float, at: int) -> bool:
    """Whether, to one side, all beyond the likeliest is as likely."""
    return any(abs(model.best(best, (at, end))[1] - cost) < _SAME for end in model.bounds[at])


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


def _separate(data: Columns) -> bool:
    """Whether one could cut the measure so that each word lies alone, without any error of the eye."""
    tops = [float(data.value[data.lower == word - 1].max()) for word in range(data.words)]
    bottoms = [float(data.value[data.lower == word - 1].min()) for word in range(data.words)]
    return all(top <= bottom for top, bottom in zip(tops, bottoms[1:], strict=False))


def _separate_by_book(data: Columns) -> bool:
    """Whether one could shift the ends of the book, all alike, so that each word lies within its own."""
    at = np.arange(data.value.size)
    least = np.where(data.upper >= 0, data.offsets[at, data.upper] - data.value, np.inf)
    most = np.where(data.lower >= 0, data.offsets[at, data.lower] - data.value, -np.inf)
    return bool(np.max(most) <= np.min(least))
