"""People who say words for what they see, of another make than ``simulated_eyes``.

Two figures were tried on such people: ``spread_factor_of_bias`` and ``spread_before_in_proportion``, with other seeds.

Nothing here comes from the package, and nothing from the other simulation.  What an eye does here:

- the rest of its error is logistic, or skewed to the one side or the other (a gamma distribution);
- it learns: bias and spread shrink from the first look to the last;
- it errs more on what is far from ordinary (Weber), and every horse does something to it (uniform);
- words are a person's own: each end lies off by itself, and the words between are wider or narrower than meant;
- words that are said without looking come in runs: the last one again, or the safe one.

Feet of one horse are alike.  The measure is off by the hand and rounded to the marks of whatever it was taken with.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from statistics import fmean, quantiles
from typing import Final, NamedTuple

__all__ = ["THINGS", "Look", "OtherPerson", "Thing", "bias_of", "looks", "other_people", "spread_of"]

_MANY: Final = 6000


@dataclass(frozen=True)
class Thing:
    """Something that is looked at, in a unit of its own."""

    unit: str
    ends: tuple[float, ...]
    """Where the words end as they are meant."""
    scale: float
    """An ordinary error of an eye."""
    of_horse: Callable[[random.Random], float]
    """What the feet of one horse are like."""
    of_foot: float
    """Standard deviation of the feet of one horse; in proportion, where eyes err so."""
    least: float
    most: float
    marks: tuple[tuple[float, float], ...]
    """What it is measured with: marks, and standard deviation of the hand."""
    unsaid: tuple[int, ...] = ()
    """Which ends the trade has no figure for."""
    in_proportion: bool = False
    """Whether an eye errs in proportion to what there is, as of time, not alike everywhere; so is ``scale`` then."""

    @property
    def ends_by_book(self) -> tuple[float | None, ...]:
        """Where the words end; None where nobody says."""
        return tuple(None if at in self.unsaid else end for at, end in enumerate(self.ends))

    def seen(self, true: float, error: float) -> float:
        """What is seen of what there is."""
        if not self.in_proportion:
            return true + error
        return true * (1 + error) if error > 0 else true / (1 - error)

    def end_of(self, at: int, own: float) -> float:
        """Where a word ends that lies off by a person's own way."""
        return self.ends[at] * math.exp(own) if self.in_proportion else self.ends[at] + own


THINGS: Final = {
    "width": Thing(
        "mm",
        (-0.5, 1.5875, 3.175),
        0.8,
        lambda r: r.choice((-1.0, 1.8, 2.0, 4.0)),
        1.3,
        -6,
        12,
        ((0.5, 0.4), (0.1, 0.1)),
    ),
    "exit_height": Thing("mm", (15.875, 41.275), 4.0, lambda r: r.uniform(14, 42), 6.0, 2, 60, ((1.0, 0.8),)),
    "overhang": Thing("mm", (-0.5, 1.5875), 0.8, lambda r: r.choice((-0.8, 0.3, 0.8, 2.2)), 0.9, -6, 8, ((0.5, 0.3),)),
    "gap": Thing("mm", (0.3, 1.0), 0.25, lambda r: r.expovariate(2.2), 0.25, 0, 3, ((0.1, 0.05), (0.05, 0.03))),
    "imprint": Thing("1", (0.8, 0.95), 0.05, lambda r: r.betavariate(9, 1.5), 0.05, 0, 1, ((0.01, 0.015),)),
    "length": Thing(
        "mm",
        (0.0, 7.5, 13.0),
        2.5,
        lambda r: r.choice((1.0, 8.0, 11.0, 14.0)),
        2.0,
        -15,
        40,
        ((1.0, 0.6), (0.5, 0.4)),
    ),
    "frog_gap": Thing("mm", (0.0,), 2.0, lambda r: r.uniform(-3, 12), 2.0, -15, 30, ((1.0, 0.6),)),
    "hole": Thing(
        "mm", (-1.0, 1.5), 0.7, lambda r: r.uniform(-2, 3), 0.8, -8, 8, ((0.5, 0.4), (0.1, 0.15)), unsaid=(1,)
    ),
    "scorch": Thing(
        "mm", (0.5, 3.175), 1.0, lambda r: r.expovariate(0.6), 1.0, 0, 20, ((1.0, 0.4), (0.5, 0.3)), unsaid=(0,)
    ),
    "contact_time": Thing(
        "s",
        (15.0, 80.0),
        0.25,
        lambda r: r.choice((6.0, 12.0, 25.0, 70.0)),
        0.4,
        2,
        240,
        ((1.0, 0.8),),
        in_proportion=True,
    ),
}
"""Ends are of the trade's words at a fore foot of a harness horse with a shoe 10 mm thick; the rest is invented."""


@dataclass(frozen=True)
class OtherPerson:
    """One of them; in the unit of the thing."""

    bias: float
    """How much more is seen than there is, on average over all looks."""
    scale: float
    skew: float
    """Of the rest of the error; 0 is logistic."""
    learns: float
    """Of bias and spread: the share by which the first look is worse than the middle one, and the last better."""
    weber: float
    """Share by which the error grows a scale away from the middle of the ends."""
    horse: float
    """Half the range of what a horse does."""
    own_ends: tuple[float, ...]
    lapses: float
    safe: int
    """The word that is said when nothing was looked at."""


class Look(NamedTuple):
    """One look."""

    horse: str
    true: float
    measured: float
    u: float
    word: int


def other_people(count: int, thing: Thing, seed: int) -> Iterator[OtherPerson]:
    """So many people, each another."""
    chance = random.Random(f"people {seed}")
    ends = [math.log(end) for end in thing.ends] if thing.in_proportion else thing.ends
    middle = fmean(ends)
    for _ in range(count):
        scale = thing.scale * chance.uniform(0.4, 1.6)
        wider = chance.uniform(0.85, 1.15) if len(ends) > 1 else 1.0
        own = [(end - middle) * (wider - 1) + chance.uniform(-0.25, 0.25) * scale for end in ends]
        yield OtherPerson(
            bias=thing.scale * chance.uniform(-1.6, 1.6),
            scale=scale,
            skew=chance.choice((0.0, -1.0, 1.0)) * chance.uniform(0.3, 1.0),
            learns=chance.uniform(0.0, 0.35),
            weber=chance.uniform(0.0, 0.1),
            horse=scale * chance.uniform(0.1, 0.7),
            own_ends=tuple(each - fmean(own) for each in own),
            lapses=chance.uniform(0.0, 0.06),
            safe=chance.randrange(len(thing.ends) + 1),
        )


def _rest(person: OtherPerson, chance: random.Random) -> float:
    """Of mean 0 and standard deviation 1."""
    if person.skew == 0.0:
        share = chance.random()
        return math.log(share / (1 - share)) * math.sqrt(3) / math.pi
    shape = 4 / person.skew**2
    return math.copysign(1.0, person.skew) * (chance.gammavariate(shape, 1.0) - shape) / math.sqrt(shape)


def _error(person: OtherPerson, thing: Thing, true: float, progress: float, chance: random.Random) -> float:
    """All but what a horse does; ``progress`` from 0, the first look, to 1."""
    fresh = 1 + person.learns * (1 - 2 * progress)
    far = 1.0 if thing.in_proportion else 1 + person.weber * abs(true - fmean(thing.ends)) / thing.scale
    return person.bias * fresh + person.scale * fresh * min(far, 2.0) * _rest(person, chance)


def _true(thing: Thing, of_horse: float, chance: random.Random) -> float:
    apart = chance.gauss(0, thing.of_foot)
    return min(max(of_horse * math.exp(apart) if thing.in_proportion else of_horse + apart, thing.least), thing.most)


def bias_of(person: OtherPerson, thing: Thing, seed: int) -> float:
    """The mean error over many horses and all of the time, lapses left out; in proportion, that of its logarithm.

    On the mean over the ends that somebody says: a word that ends later there is one of who sees less.
    """
    said = [own for at, own in enumerate(person.own_ends) if at not in thing.unsaid]
    return (fmean(_errors(person, thing, f"bias {seed}")) if thing.in_proportion else person.bias) - fmean(said)


def spread_of(person: OtherPerson, thing: Thing, seed: int) -> float:
    """Half the width of the middle 68.27 % of errors over many horses and all of the time, lapses left out.

    Of what errs in proportion, that of its logarithm.
    """
    cuts = quantiles(_errors(person, thing, f"spread {seed}"), n=10000)
    return (cuts[8413] - cuts[1585]) / 2


def _errors(person: OtherPerson, thing: Thing, seed: str) -> list[float]:
    chance = random.Random(seed)
    errors = [
        _error(person, thing, _true(thing, thing.of_horse(chance), chance), chance.random(), chance)
        + chance.uniform(-person.horse, person.horse)
        for _ in range(_MANY)
    ]
    return [math.log(thing.seen(1.0, error)) for error in errors] if thing.in_proportion else errors


def looks(person: OtherPerson, thing: Thing, count: int, seed: int, begins: float = 0.0) -> list[Look]:
    """So many looks, one to four at a horse; ``begins``: how much of the learning is done before the first."""
    chance = random.Random(f"looks {seed}")
    found: list[Look] = []
    number, last, asleep = 0, person.safe, False
    while len(found) < count:
        of_horse, by_horse = thing.of_horse(chance), chance.uniform(-person.horse, person.horse)
        mark, hand = chance.choice(thing.marks)
        for _ in range(min(chance.randint(1, 4), count - len(found))):
            true = _true(thing, of_horse, chance)
            progress = begins + (1 - begins) * len(found) / max(1, count - 1)
            seen = thing.seen(true, by_horse + _error(person, thing, true, progress, chance))
            # A run of three words on average, as often as makes the share.
            asleep = chance.random() < (2 / 3 if asleep else person.lapses / (3 * (1 - person.lapses)))
            if asleep:
                last = chance.choice((last, person.safe))
            else:
                last = sum(seen > thing.end_of(at, own) for at, own in enumerate(person.own_ends))
            measured = mark * round((true + chance.gauss(0, hand)) / mark)
            found.append(Look(f"horse {number}", true, measured, math.hypot(hand, mark / math.sqrt(12)), last))
        number += 1
    return found
