"""People who look at drawings, simulated without the package: each has a bias, a spread and lapses, and errs besides.

What the tool's model does not know of them: their error has heavier tails than a Gaussian one (Student, 6 degrees of
freedom, of the same standard deviation), each bound lies a little off by itself, the bias drifts within a session, and
who looks at nothing says a favourite word, or the last one again.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

__all__ = ["Person", "people"]

_FREEDOM = 6


@dataclass
class Person:
    """One of them; bias and spread in the unit of what is looked at."""

    bias: float
    spread: float
    lapse: float
    offsets: tuple[float, ...]
    """How far each bound lies off besides the bias; their mean is 0."""
    drift: float
    """How far the bias moves from the first to the last drawing, with its mean where ``bias`` is."""
    favourite: int
    random: np.random.Generator
    last: int = field(default=0)

    def say(self, value: float, bounds: tuple[float, ...], progress: float) -> int:
        """Which word, counted from 0, for ``value``; ``progress``: 0 at the first drawing, 1 at the last."""
        if self.random.random() < self.lapse:
            self.last = self.favourite if self.random.random() < 0.5 else self.last
            return self.last
        wide = self.spread / math.sqrt(_FREEDOM / (_FREEDOM - 2))
        seen = value + self.random.standard_t(_FREEDOM) * wide
        moved = self.bias + self.drift * (progress - 0.5)
        self.last = int(sum(seen > bound + moved + own for bound, own in zip(bounds, self.offsets, strict=True)))
        return self.last


def people(number: int, scale: float, words: int, seed: int) -> Iterator[Person]:
    """So many people who look at something whose ordinary error is ``scale`` and that has so many words."""
    for each in np.random.SeedSequence(seed).spawn(number):
        random = np.random.default_rng(each)
        off = random.normal(0.0, 0.15 * scale, words - 1)
        yield Person(
            bias=float(np.clip(random.normal(0.0, 0.9), -2.5, 2.5)) * scale,
            spread=float(np.clip(random.lognormal(math.log(0.8), 0.4), 0.3, 2.0)) * scale,
            lapse=float(random.uniform(0.0, 0.08)),
            offsets=tuple(off - off.mean()),
            drift=float(random.normal(0.0, 0.25)) * scale,
            favourite=int(random.integers(words)),
            random=random,
        )
