"""People who say words for lengths that they see, and err in ways that no model in the package knows.

Nothing here comes from the package.  The error of a look has parts: the person's bias; what a horse does to it (its
colour, the light in its yard); a drift over the day, from fresh to tired; and a rest with heavier tails than normal.
Now and then a word is said without looking.  What is measured beside it is off by the hand, and rounded to the marks
of the rule.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from statistics import quantiles
from typing import Final, NamedTuple

__all__ = ["ENDS", "WORDS", "Person", "Seen", "people", "true_spread", "yard"]

WORDS: Final = ("tight", "close", "full", "wide")
ENDS: Final = (-0.5, 1.5875, 3.175)
"""Where the words end, in mm, for an eye without bias: invented for the simulation."""
_MANY: Final = 4000


@dataclass(frozen=True)
class Person:
    """One simulated person; lengths in mm."""

    bias: float
    """How much more is seen than there is."""
    scale: float
    """Of the rest of the error."""
    freedom: float
    """Of Student's t of the rest."""
    of_horse: float
    """Standard deviation of what a horse does to all looks at it."""
    drift: float
    """How much more is seen at the end of a day than at its begin; half of it below the bias at first."""
    lapses: float
    """The share of words said without looking."""


class Seen(NamedTuple):
    """One look."""

    horse: str
    true: float
    measured: float
    u: float
    word: int


def people(count: int, seed: int) -> Iterator[Person]:
    """So many people, each another."""
    chance = random.Random(seed)
    for _ in range(count):
        scale = chance.lognormvariate(-0.25, 0.35)
        yield Person(
            bias=chance.gauss(0, 0.8),
            scale=scale,
            freedom=chance.uniform(4, 9),
            of_horse=scale * chance.uniform(0.1, 0.5),
            drift=scale * chance.uniform(-0.6, 0.6),
            lapses=chance.uniform(0, 0.04),
        )


def _rest(person: Person, chance: random.Random) -> float:
    """Student's t: a normal number over the root of a mean of squares."""
    return person.scale * chance.gauss(0, 1) / math.sqrt(chance.gammavariate(person.freedom / 2, 2 / person.freedom))


def true_spread(person: Person, seed: int) -> float:
    """Half the width of the middle 68.27 % of errors over many horses and days, lapses left out."""
    chance = random.Random(seed)
    errors = [
        chance.gauss(0, person.of_horse) + person.drift * (chance.random() - 0.5) + _rest(person, chance)
        for _ in range(_MANY)
    ]
    cuts = quantiles(errors, n=10000)
    return (cuts[8413] - cuts[1585]) / 2


def _length(chance: random.Random) -> float:
    """What widths at heels are like in a yard: most of them right, some tight, some wide."""
    kind = chance.random()
    if kind < 0.2:
        return chance.gauss(-0.8, 0.9)
    return chance.gauss(2.0, 1.1) if kind < 0.75 else 1.5 + chance.gammavariate(2.0, 1.2)


def yard(person: Person, count: int, seed: int) -> list[Seen]:
    """So many looks of ``person``, horse by horse, two to six looks at each, three horses a day."""
    chance = random.Random(seed)
    seen: list[Seen] = []
    number = 0
    while len(seen) < count:
        of_horse = chance.gauss(0, person.of_horse)
        by_rule = chance.random() < 0.5
        for _ in range(min(chance.randint(2, 6), count - len(seen))):
            day = (number % 3 + chance.random()) / 3
            true = _length(chance)
            perceived = true + person.bias + of_horse + person.drift * (day - 0.5) + _rest(person, chance)
            word = _word(perceived, ENDS)
            if chance.random() < person.lapses:
                word = chance.randrange(len(WORDS))
            mark, hand = (0.5, 0.45) if by_rule else (0.1, 0.12)
            measured = mark * round((true + chance.gauss(0, hand)) / mark)
            seen.append(Seen(f"horse {number}", true, measured, 0.5 if by_rule else 0.15, word))
        number += 1
    return seen


def _word(perceived: float, ends: Sequence[float]) -> int:
    return sum(perceived > end for end in ends)
