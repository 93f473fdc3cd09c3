"""Stated chances against what is true of them, by tenths of the chance."""

from __future__ import annotations

import math
import sys
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from typing import Final, NamedTuple

__all__ = ["BEYOND", "Kept", "Tenth", "deciles", "tenths", "told"]

_BETWEEN: Final = [(number / 10, (number + 1) / 10) for number in range(10)]

BEYOND: Final[dict[str, Callable[[Sequence[float]], tuple[tuple[float | None, float | None] | None, ...]]]] = {
    "width": lambda ends: ((None, ends[0]), (None, ends[1]), (ends[1], None), (ends[2], None)),
    "exit_height": lambda ends: ((None, ends[0]), None, (ends[1], None)),
    "overhang": lambda ends: ((None, ends[0]), None, (ends[1], None)),
    "imprint": lambda ends: ((None, ends[0]), (None, ends[1]), None),
    "gap": lambda ends: (None, (ends[0], None), (ends[1], None)),
    "length": lambda ends: ((None, ends[0]), (None, ends[1]), None, (ends[2], None)),
    "frog_gap": lambda ends: ((None, ends[0]), None),
    "hole": lambda ends: ((None, ends[0]), None, None),
    "scorch": lambda ends: (None, None, (ends[1], None)),
    "contact_time": lambda ends: (None, (ends[0], None), (ends[1], None)),
}
"""Between which measures a finding on each word is so; None of the word on which there is none."""


class Kept(NamedTuple):
    """A word of which a chance was stated."""

    chance: float
    true: bool
    person: int
    """Words of one person go together."""


class Tenth(NamedTuple):
    """A tenth of the stated chances."""

    low: float
    high: float
    words: int
    people: int
    difference: float
    """Stated less true."""
    u: float
    """Standard uncertainty of the difference, over people."""


def tenths(stated: Iterable[Kept]) -> list[Tenth]:
    """Each tenth in which a chance was stated."""
    kept = list(stated)
    within = [
        [each for each in kept if low <= each.chance < high or each.chance == high == 1] for low, high in _BETWEEN
    ]
    return [_tenth(low, high, each) for (low, high), each in zip(_BETWEEN, within, strict=True) if each]


def deciles(stated: Iterable[Kept]) -> list[Tenth]:
    """Tenths with as many words each, the lowest chances first.

    The deciles of risk of D. W. Hosmer and S. Lemeshow, Communications in Statistics A9 (1980) 1043-1069 (from memory).
    """
    kept = sorted(stated)
    parts = [kept[len(kept) * at // 10 : len(kept) * (at + 1) // 10] for at in range(10)]
    return [_tenth(part[0].chance, part[-1].chance, part) for part in parts if part]


def _tenth(low: float, high: float, kept: Sequence[Kept]) -> Tenth:
    of_person: dict[int, list[float]] = defaultdict(list)
    for each in kept:
        of_person[each.person].append(each.chance - each.true)
    mean = math.fsum(map(sum, of_person.values())) / len(kept)
    u = math.sqrt(sum((sum(each) - mean * len(each)) ** 2 for each in of_person.values())) / len(kept)
    return Tenth(low, high, len(kept), len(of_person), mean, u)


def told(name: str, found: Iterable[Tenth]) -> None:
    """Print each tenth, as a study does."""
    for each in found:
        sys.stdout.write(
            f"{name}: {each.low:.2f} to {each.high:.2f}: {each.words} words of {each.people} people, "
            f"stated less true {each.difference:+.3f} (u {each.u:.3f})\n"
        )
