"""Where a likelihood of words is greatest, by Newton's method: parameters, what is known before, the way down.

Parameters are where the ends lie, in a way of the model's own, then the logarithm of the spread, then, where the share
of lapses is not held, its logarithm.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np

from fitcheck.eye.likelihood import Array, Columns, Method, Spreads, likelihood_of

__all__ = ["MOST_LAPSES", "MOST_STEPS", "Before", "ByShift", "FreeEnds", "Model", "margin"]

_SMALLEST: Final = 1e-3
"""Of the width of the data: a smaller spread, or a shorter word, cannot be told from none."""
_WIDEST: Final = 4.0
"""Of the width of the data: how far beyond it an end is looked for before it is called open."""
_FAR: Final = 4.0
"""Standard deviations of what is known before, within which a parameter is looked for."""
MOST_LAPSES: Final = 0.5
"""Of the words: who says more than that without looking has no eye to be told of."""
MOST_STEPS: Final = 60
_SPREADS: Final = (1.0, 0.3, 3.0)
"""In turn, times the spread where one begins."""
_STILL: Final = 1e-10
_SHORTEST: Final = 1e-6
_GAIN: Final = 1e-6
"""Of the log likelihood: less is not worth another step."""


class Before(NamedTuple):
    """What is known of the parameters before a word was said: a normal distribution; a precision of 0 for nothing."""

    middle: Array
    precision: Array


class Model:
    """The likelihood of looks by the parameters of a way to put the ends."""

    bounds: list[tuple[float, float]]
    """Between which each parameter is looked for."""
    before: Before
    spread_at: int
    """Which parameter is the logarithm of the spread; all before it say where the ends lie."""

    def __init__(self, data: Columns, method: Method, *, less: float = 1.0) -> None:
        self.data, self.method = data, method
        self.less = less
        """By how much less the looks tell than as many that have nothing in common."""
        self.ends = data.offsets.shape[1]
        self.spread_bounds = math.log(_SMALLEST * data.width), math.log(_WIDEST * data.width)

    def offsets(self, parameters: Array) -> tuple[Array, Array]:
        """How far each end lies beyond its column of the data, and how each parameter of an end moves it."""
        raise NotImplementedError

    def start(self) -> Array:
        """Where to begin."""
        raise NotImplementedError

    def starts(self) -> list[Array]:
        """Where to begin, one after the other: with several spreads."""
        found = [self.start() for _ in _SPREADS]
        for begin, factor in zip(found, _SPREADS, strict=True):
            begin[self.spread_at] += math.log(factor)
        return found

    def known(self, middle: Array, precision: Array) -> None:
        """Set what is known of the ends and the spread before; of the lapses it is what the method says."""
        self.spread_at = middle.size - 1
        size = middle.size + bool(self.method.lapse_factor)
        self.before = Before(np.zeros(size), np.zeros((size, size)))
        self.before.middle[: middle.size] = middle
        self.before.precision[: middle.size, : middle.size] = precision
        if self.method.lapse_factor:
            factor, middle_lapse = self.method.lapse_factor, math.log(self.method.lapse)
            self.before.middle[-1] = middle_lapse
            self.before.precision[-1, -1] = 1 / factor**2
            most = min(middle_lapse + _FAR * factor, math.log(MOST_LAPSES))
            self.bounds.append((middle_lapse - _FAR * factor, most))

    def lapse(self, parameters: Array) -> float:
        """The share of lapses."""
        return math.exp(parameters[-1]) if self.method.lapse_factor else self.method.lapse

    def each(self, parameters: Array) -> tuple[Array, Array, Array]:
        """Of each look the log likelihood, its gradient and its second derivatives by ``parameters``."""
        offsets, moved = self.offsets(parameters)
        lapse = self.lapse(parameters)
        spread = math.exp(parameters[self.spread_at])
        value, gradient, hessian = likelihood_of(self.data, self.data.offsets + offsets, spread, lapse)
        turn = np.zeros((self.ends + 2, parameters.size))
        turn[: self.ends, : self.spread_at] = moved
        turn[self.ends, self.spread_at] = 1.0
        if self.method.lapse_factor:
            turn[-1, -1] = 1.0
        gradient = gradient @ turn
        return value, gradient, self.bent(turn.T @ hessian @ turn, gradient)

    def bent(self, hessian: Array, gradient: Array) -> Array:  # noqa: ARG002  (of ends that move straight)
        """``hessian`` with what comes of ends that do not move straight with their parameters."""
        return hessian

    def surface(self, parameters: Array) -> tuple[float, Array, Array]:
        """Minus the log likelihood of ``parameters``, before and by the looks; its first and second derivatives."""
        value, gradient, hessian = self.each(parameters)
        off = parameters - self.before.middle
        slope = self.before.precision @ off
        return (
            -float(value.sum()) / self.less + float(off @ slope) / 2,
            slope - gradient.sum(axis=0) / self.less,
            self.before.precision - hessian.sum(axis=0) / self.less,
        )

    def best(self, start: Array, fixed: tuple[int, float] | None = None) -> tuple[Array, float]:
        """The likeliest parameters from ``start`` on, one of them ``fixed``, and minus their log likelihood."""
        free = np.array([at for at in range(start.size) if fixed is None or at != fixed[0]])
        low, high = np.array(self.bounds).T
        whole = np.clip(start, low, high)
        if fixed is not None:
            whole[fixed[0]] = fixed[1]
        value, slope, hessian = self.surface(whole)
        for _ in range(MOST_STEPS):
            # What is pressed against an end of what is looked for stays there.
            pressed = ((whole <= low) & (slope > 0)) | ((whole >= high) & (slope < 0))
            moving = free[~pressed[free]]
            if not moving.size:
                return whole, value
            step = _downhill(hessian[np.ix_(moving, moving)], slope[moving])
            length, better = 1.0, False
            while not better and length > _SHORTEST:
                tried = whole.copy()
                tried[moving] = np.clip(tried[moving] - length * step, low[moving], high[moving])
                there, its_slope, its_hessian = self.surface(tried)
                better = there < value
                length /= 2
            if not better:
                return whole, value
            gained, whole, value, slope, hessian = value - there, tried, there, its_slope, its_hessian
            if gained < _GAIN:
                return whole, value
        return whole, value

    def polished(self, parameters: Array) -> Array:
        """``parameters`` after Newton's steps, where they lie inside the bounds and the steps lead down."""
        for _ in range(8):
            if not self.inside(parameters):
                break
            value, gradient, hessian = self.surface(parameters)
            try:
                step = np.linalg.solve(hessian, gradient)
            except np.linalg.LinAlgError:
                break
            tried = parameters - step
            if not np.all(np.isfinite(tried)) or self.surface(tried)[0] > value + 1e-12:
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


class FreeEnds(Model):
    """All ends free: one of them, the ``anchor``, and the logarithms of the gaps between all."""

    def __init__(self, data: Columns, method: Method, *, anchor: int = 0) -> None:
        super().__init__(data, method)
        self.anchor = anchor
        middle, reach = float(np.mean(data.value)), _WIDEST * data.width
        gap = math.log(_SMALLEST * data.width), math.log(2 * reach)
        self.bounds = [(middle - reach, middle + reach), *[gap] * (self.ends - 1), self.spread_bounds]
        self.known(np.zeros(self.ends + 1), np.zeros((self.ends + 1, self.ends + 1)))

    def offsets(self, parameters: Array) -> tuple[Array, Array]:
        """How far each end lies beyond none."""
        gaps = np.exp(parameters[1 : self.ends])
        moved = np.zeros((self.ends, self.ends))
        moved[:, 0] = 1.0
        for number, gap in enumerate(gaps):
            if number < self.anchor:
                moved[: number + 1, 1 + number] = -gap
            else:
                moved[number + 1 :, 1 + number] = gap
        return parameters[0] + moved[:, 1:].sum(axis=1), moved

    def bent(self, hessian: Array, gradient: Array) -> Array:
        """A gap is the exponential of its parameter."""
        gaps = np.arange(1, self.ends)
        hessian[:, gaps, gaps] += gradient[:, gaps]
        return hessian

    def start(self) -> Array:
        """Ends between the means of what words lie beside."""
        data = self.data
        spread = math.log(data.width / 6)
        ranked = np.sort(data.value)
        ends = np.array([float(np.quantile(ranked, np.mean(data.lower < end))) for end in range(self.ends)])
        gaps = np.log(np.maximum(np.diff(ends), data.width / 20))
        begin = np.concatenate([ends[self.anchor : self.anchor + 1], gaps, [spread]])
        return np.append(begin, self.before.middle[begin.size :])


class ByShift(Model):
    """The book's ends, less one shift, and each beside it by itself as far as is usual (``Method.end``).

    The shift is how much more is seen than there is, on the mean over all ends.
    """

    def __init__(self, data: Columns, method: Method, size: float, spreads: Spreads | None = None) -> None:
        """``size``: standard deviation of the true values; ``spreads``: what is known of the spread; None: nothing."""
        super().__init__(data, method)
        reach, own, self._size = _WIDEST * data.width, method.end * size, size
        there = np.flatnonzero(~np.all(np.isnan(data.offsets), axis=0))
        self._moved = np.full((self.ends, 1), -1.0)
        if own and there.size > 1:
            # Ways for each end to lie off by itself while the mean of all stays.
            apart = np.zeros((self.ends, there.size - 1))
            apart[there] = np.linalg.qr(np.eye(there.size) - 1 / there.size)[0][:, :-1]
            self._moved = np.column_stack([self._moved, apart])
        count = self._moved.shape[1]
        self.bounds = [(-reach, reach), *[(-_FAR * own, _FAR * own)] * (count - 1), self.spread_bounds]
        middle, precision = np.zeros(count + 1), np.zeros(count + 1)
        precision[1:count] = 1 / own**2 if own else 0.0
        if spreads is not None:
            middle[-1], precision[-1] = math.log(spreads.middle_of(size)), 1 / spreads.factor**2
        self.known(middle, np.diag(precision))

    def offsets(self, parameters: Array) -> tuple[Array, Array]:
        """How far each end lies off the book's."""
        return self._moved @ parameters[: self.spread_at], self._moved

    def start(self) -> Array:
        """No shift."""
        begin = self.before.middle.copy()
        begin[self.spread_at] = math.log(self.data.width / 6)
        return begin

    def starts(self) -> list[Array]:
        """Also as far to either side as true values differ: by what is known before there may be several tops."""
        found = super().starts()
        for shift in (-self._size, self._size):
            begin = self.start()
            begin[0] = shift
            found.append(begin)
        return found


def _downhill(hessian: Array, slope: Array) -> Array:
    """Newton's step, or one along the slope as far as the surface is not curved upward."""
    values, vectors = np.linalg.eigh(hessian)
    curved = np.maximum(np.abs(values), 1e-8 * max(1.0, float(np.max(np.abs(values)))))
    return np.asarray(vectors @ ((vectors.T @ slope) / curved))


def margin(low: float, high: float) -> float:
    """How near an end of what is looked for is on it."""
    return 1e-3 * (high - low)
