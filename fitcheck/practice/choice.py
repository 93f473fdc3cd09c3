"""Which value is drawn next: the one after whose answer least is expected to be unknown (QUEST+, Watson 2017).

Of each candidate the entropy of the posterior is expected over all words that may be said; the least wins. Candidates
and people are grids, so that nothing is approximated but by their fineness.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import Final

import numpy as np

from fitcheck.practice.exercises import Exercise, model
from fitcheck.practice.people import Answer, Numbers, People, people_of

__all__ = ["Chooser", "chooser_of", "drawn"]

_ALIKE: Final = 1e-9
"""Entropies that differ by no more are one: the first counts, on every machine (nat)."""
_FINE: Final = 1000.0


class Chooser:
    """Chooses among ``candidates`` for the words with these ``bounds``."""

    def __init__(self, people: People, candidates: Numbers, bounds: tuple[float, ...]) -> None:
        self.people = people
        self.candidates = candidates
        self._likely = np.stack([people.words(value, bounds) for value in candidates])
        """By candidate, word and person."""
        self._self_information = np.where(
            self._likely > 0, self._likely * np.log(np.maximum(self._likely, 1e-300)), 0.0
        )

    def entropies(self, weights: Numbers) -> Numbers:
        """The expected entropy after each candidate (nat), where people are as likely as ``weights`` says."""
        plain = np.where(weights > 0, weights * np.log(np.maximum(weights, 1e-300)), 0.0)
        axes = ([2, 3, 4], [0, 1, 2])
        words = np.tensordot(self._likely, weights, axes)
        joint = np.tensordot(self._likely, plain, axes) + np.tensordot(self._self_information, weights, axes)
        marginal = np.where(words > 0, words * np.log(np.maximum(words, 1e-300)), 0.0)
        return np.asarray((marginal - joint).sum(axis=1))

    def next(self, answers: Sequence[Answer]) -> float:
        """The candidate to draw after these answers."""
        expected = self.entropies(self.people.after(answers).weights)
        return float(self.candidates[int(np.argmax(expected <= expected.min() + _ALIKE))])


def drawn(exercise: Exercise, answers: Sequence[Answer], share: float) -> float:
    """The value that is drawn after these answers: the choice, moved by ``share`` (0 to 1, by chance) of a step.

    Now and then one of the whole range, so that nobody learns that all lie near the bounds. In whole thousandths.
    """
    grid, width = model(), exercise.high - exercise.low
    if (len(answers) + 1) % grid.every == 0:
        value = exercise.low + share * width
    else:
        value = chooser_of(exercise).next(answers) + (share - 0.5) * width / (grid.candidates - 1)
    return math.floor(min(max(value, exercise.low), exercise.high) * _FINE + 0.5) / _FINE


@lru_cache(maxsize=16)
def chooser_of(exercise: Exercise) -> Chooser:
    """The chooser of an exercise by the grids of exercises.toml."""
    candidates = np.linspace(exercise.low, exercise.high, model().candidates)
    return Chooser(people_of(exercise, model().choice), candidates, exercise.bounds)
