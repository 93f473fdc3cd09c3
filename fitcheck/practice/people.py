"""The psychometric model: how likely each word is for whoever has a bias, a spread and lapses, over a grid of people.

A person sees the number x with a Gaussian error of standard deviation s, puts the bounds of the book's words b higher,
and in a share l of the answers looks at nothing and says any of the K words alike:

    P(word k) = l / K + (1 - l) (F((B[k] + b - x) / s) - F((B[k-1] + b - x) / s)),   F the normal distribution.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from fitcheck.practice.exercises import Exercise, model
from rules.lazy import lazily

if TYPE_CHECKING:
    from scipy.special import ndtr
else:
    ndtr = lazily("scipy.special", "ndtr")

__all__ = ["Answer", "People", "Posterior", "people_of"]

Numbers = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Answer:
    """What was drawn, and which of the words, counted from 0, was said; ``bounds`` of the words as they were then."""

    value: float
    word: int
    bounds: tuple[float, ...]


@dataclass(frozen=True)
class People:
    """A grid of people; bias and spread in the unit of the exercise, the spreads evenly in their logarithm."""

    bias: Numbers
    spread: Numbers
    lapse: Numbers
    prior: Numbers
    """The prior of each, of shape (bias, spread, lapse); it sums to 1."""

    def words(self, value: float, bounds: Sequence[float]) -> Numbers:
        """How likely each word is for each person, of shape (word, bias, spread, lapse)."""
        ends = np.asarray(bounds, dtype=float)[:, None, None]
        below = ndtr((ends + self.bias[None, :, None] - value) / self.spread[None, None, :])
        edges = np.concatenate([np.zeros_like(below[:1]), below, np.ones_like(below[:1])])
        seen = np.diff(edges, axis=0)[..., None]
        return self.lapse / len(seen) + (1.0 - self.lapse) * seen

    def likelihood(self, answer: Answer) -> Numbers:
        """How likely an answer is for each person."""
        seen = self._below(answer, answer.word) - self._below(answer, answer.word - 1)
        return self.lapse / (len(answer.bounds) + 1) + (1.0 - self.lapse) * seen[..., None]

    def _below(self, answer: Answer, word: int) -> Numbers:
        """How likely each person sees what belongs to that word or to one below it."""
        if not 0 <= word < len(answer.bounds):
            return np.full((len(self.bias), len(self.spread)), float(word >= 0))
        end = answer.bounds[word] + self.bias[:, None] - answer.value
        return np.asarray(ndtr(end / self.spread[None, :]))

    def after(self, answers: Iterable[Answer]) -> Posterior:
        """The posterior after these answers."""
        weights = self.prior
        for answer in answers:
            weights = weights * self.likelihood(answer)
            weights = weights / weights.sum()
        return Posterior(self, weights)


@dataclass(frozen=True)
class Posterior:
    """How likely each person of a grid is, of the shape of the prior."""

    people: People
    weights: Numbers

    def of_bias(self) -> Numbers:
        """How likely each bias is."""
        return np.asarray(self.weights.sum(axis=(1, 2)))

    def of_spread(self) -> Numbers:
        """How likely each spread is."""
        return np.asarray(self.weights.sum(axis=(0, 2)))


def people_of(exercise: Exercise, points: tuple[int, int]) -> People:
    """The grid of people of an exercise, with so many biases and spreads."""
    grid = model()
    biases, spreads = points
    weights = np.asarray(grid.lapse_weight, dtype=float)
    prior = np.broadcast_to(weights, (biases, spreads, len(weights)))
    return People(
        np.linspace(*grid.bias, biases) * exercise.scale,
        np.geomspace(*grid.spread, spreads) * exercise.scale,
        np.asarray(grid.lapse),
        prior / prior.sum(),
    )
