"""The likelihood of words beside measures: an ordered probit with a known error of the measure and with lapses."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.special import log_ndtr, ndtr

__all__ = [
    "Array",
    "Columns",
    "Look",
    "Method",
    "Spreads",
    "Surface",
    "columns_of",
    "drawn_in",
    "ends_beside",
    "likelihood_of",
    "shared_by",
    "size_of",
]

Array = npt.NDArray[np.float64]
_TINY: Final = 1e-100


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


class Spreads(NamedTuple):
    """How sharp eyes usually are."""

    middle: float
    """In standard deviations of the true values."""
    factor: float
    """How little it is known: standard deviation of the natural logarithm."""
    by_itself: bool = False
    """Whether the middle is a figure by itself, however the true values are spread."""

    def middle_of(self, size: float) -> float:
        """The middle where the true values have the standard deviation ``size``."""
        return self.middle if self.by_itself else self.middle * size


class Method(NamedTuple):
    """What is taken for known."""

    lapse: float = 0.0
    """The share of words said without looking, each word as likely."""
    shared: float = 0.0
    """The least share of the error's variance that the feet of one horse have in common."""
    level: float = 0.95
    """How often an interval holds the true value."""
    lapse_factor: float = 0.0
    """How little the share of lapses is known: standard deviation of its natural logarithm; 0: it is held."""
    end: float = 0.0
    """How far each end lies off by itself beside the shift of all: in standard deviations of the true values."""
    spreads: Spreads | None = None
    """What is known of the spread where the shift is looked for; None: nothing."""


class Columns(NamedTuple):
    """Looks as columns; ``lower`` and ``upper``: which end lies below and above the word, -1 for none."""

    value: Array
    u: Array
    lower: npt.NDArray[np.intp]
    upper: npt.NDArray[np.intp]
    offsets: Array
    """Book ends of each look, a column an end: nan where there is none; 0 where the ends themselves are looked for."""
    groups: npt.NDArray[np.intp]
    words: int

    @property
    def width(self) -> float:
        """How far the measures reach."""
        return float(np.ptp(self.value)) or float(np.max(self.u)) or 1.0


class Surface(NamedTuple):
    """Of each look the logarithm of its chance, its gradient and its second derivatives.

    By the ends, then by the logarithm of the spread, then by that of the share of lapses.
    """

    value: Array
    gradient: Array
    hessian: Array


def columns_of(looks: Sequence[Look], words: int, *, by_book: bool) -> Columns:
    """The ``looks`` as columns; ``by_book``: with the ends that the book has."""
    names = {name: number for number, name in enumerate(dict.fromkeys(look.group for look in looks))}
    if by_book:
        offsets = np.array([[math.nan if end is None else end for end in look.ends] for look in looks])
    else:
        offsets = np.zeros((len(looks), words - 1))
    lower, upper = ends_beside(np.array([look.word for look in looks]), offsets)
    return Columns(
        np.array([look.value for look in looks]),
        np.array([look.u for look in looks]),
        lower,
        upper,
        offsets,
        np.array([names[look.group] for look in looks]),
        words,
    )


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


def size_of(values: Array, u: Array) -> float:
    """Standard deviation of the true values that measures with the standard uncertainties ``u`` are of."""
    if values.size <= 1:
        return 0.0
    variance = float(np.var(values, ddof=1))
    # What the measures' own error leaves, and never less than half the standard deviation that is seen.
    return math.sqrt(max(variance - float(np.mean(u**2)), variance / 4))


def drawn_in(data: Columns) -> Columns:
    """The most likely true values in the place of the measures, with their standard deviations."""
    among = size_of(data.value, data.u) ** 2
    if among <= 0 or not np.any(data.u):
        return data
    share = among / (among + data.u**2)
    mean = float(np.average(data.value, weights=share))
    return data._replace(value=mean + share * (data.value - mean), u=np.sqrt(share) * data.u)


def likelihood_of(data: Columns, edges: Array, spread: float, lapse: float) -> Surface:
    """How likely each word is; ``edges``: where the words of each look end, a row a look."""
    at, size = np.arange(data.value.size), edges.shape[1]
    total = np.sqrt(spread**2 + data.u**2)
    has_low, has_high = data.lower >= 0, data.upper >= 0
    below = np.where(has_low, (edges[at, data.lower] - data.value) / total, -np.inf)
    above = np.where(has_high, (edges[at, data.upper] - data.value) / total, np.inf)
    # On the side of the smaller numbers, where differences keep their figures.
    turned = below > 0
    left, right = np.where(turned, -above, below), np.where(turned, -below, above)
    probability = ndtr(right) - ndtr(left)
    chance = np.maximum((1 - lapse) * probability + lapse / data.words, _TINY)
    density_low, density_high = _normal(below), _normal(above)
    low, high = np.where(has_low, below, 0.0), np.where(has_high, above, 0.0)
    # First derivatives of the probability without lapses, times total where by an end.
    share = (spread / total) ** 2
    moment = high * density_high - low * density_low
    cubed = high * (1 - high**2) * density_high - low * (1 - low**2) * density_low
    first = np.zeros((at.size, size + 2))
    first[at[has_low], data.lower[has_low]] = -density_low[has_low]
    first[at[has_high], data.upper[has_high]] = density_high[has_high]
    first[:, :size] /= total[:, None]
    first[:, size] = -share * moment
    second = np.zeros((at.size, size + 2, size + 2))
    for has, end, way, z, density in (
        (has_low, data.lower, -1.0, low, density_low),
        (has_high, data.upper, 1.0, high, density_high),
    ):
        rows, ends = at[has], end[has]
        second[rows, ends, ends] = (-way * z * density / total**2)[has]
        by_both = (way * share * (z**2 - 1) * density / total)[has]
        second[rows, ends, size] = second[rows, size, ends] = by_both
    second[:, size, size] = 2 * share * (share - 1) * moment + share**2 * cubed
    first *= 1 - lapse
    second *= 1 - lapse
    if lapse:
        first[:, -1] = lapse * (1 / data.words - probability)
        second[:, -1, :] = second[:, :, -1] = -lapse / (1 - lapse) * first
        second[:, -1, -1] = first[:, -1]
    gradient = first / chance[:, None]
    hessian = second / chance[:, None, None] - gradient[:, :, None] * gradient[:, None, :]
    if lapse:
        return Surface(np.log(chance), gradient, hessian)
    # Far out the chance itself is nothing, and its logarithm is not.
    far = probability < _TINY
    return Surface(np.where(far, np.minimum(log_ndtr(right), log_ndtr(-left)), np.log(chance)), gradient, hessian)


def _normal(z: Array) -> Array:
    return np.exp(-0.5 * np.minimum(z * z, 1e6)) / math.sqrt(2 * math.pi)
