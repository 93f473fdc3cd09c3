"""Bias, spread and lapses as told after practice: the middle of the posterior and an interval that may be open."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from fitcheck.practice.exercises import Exercise, model
from fitcheck.practice.people import Answer, Numbers, People, people_of

__all__ = ["Estimate", "Eye", "eye_of"]


class Estimate(NamedTuple):
    """The median and the ends of the interval; an end at which the answers set no limit is None."""

    value: float
    low: float | None
    high: float | None


class Eye(NamedTuple):
    """What so many answers tell of a person, in the unit of the exercise; lapses as a share."""

    answers: int
    bias: Estimate
    spread: Estimate
    lapse: float
    """The mean of the posterior."""


def eye_of(exercise: Exercise, answers: Sequence[Answer]) -> Eye:
    """What these answers tell of whoever gave them."""
    people = _people(exercise)
    posterior = people.after(answers)
    spread = _estimate(np.log(people.spread), posterior.of_spread())
    ends = [None if end is None else float(np.exp(end)) for end in spread[1:]]
    return Eye(
        len(answers),
        _estimate(people.bias, posterior.of_bias()),
        Estimate(float(np.exp(spread.value)), *ends),
        float(posterior.weights.sum(axis=(0, 1)) @ people.lapse),
    )


@lru_cache(maxsize=16)
def _people(exercise: Exercise) -> People:
    return people_of(exercise, model().estimate)


def _estimate(points: Numbers, weights: Numbers) -> Estimate:
    """Each point of an even grid stands for the cell about it, in which it is as likely everywhere.

    An end that falls to the edge of the grid is open: people beyond it would answer so as well.
    """
    step = points[1] - points[0]
    edges = np.append(points - step / 2, points[-1] + step / 2)
    below = np.append(0.0, np.cumsum(weights))
    tail = (1.0 - model().level) / 2
    low, middle, high = (float(np.interp(share * below[-1], below, edges)) for share in (tail, 0.5, 1.0 - tail))
    margin = model().edge * (edges[-1] - edges[0])
    low_end = None if low < edges[0] + margin else low
    return Estimate(middle, low_end, None if high > edges[-1] - margin else high)
