"""Stated chances against what is true of them, by tenths of the chance."""

from __future__ import annotations

import math
import sys
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise
from typing import Final, NamedTuple

__all__ = ["BEYOND", "Kept", "Tenth", "tenths", "told"]

_EDGES: Final = [number / 10 for number in range(11)]

BEYOND: Final[dict[str, Callable[[Sequence[float]], tuple[tuple[float | None, float | None] | None, ...]]]] = {
    "width": lambda ends: ((None, ends[0]), (None, ends[1]), (ends[1], None), (ends[2], None)),
    "exit_height": lambda ends: ((None, ends[0]), None, (ends[1], None)),
    "overhang": lambda ends: ((None, ends[0]), None, (ends[1], None)),
    "imprint": lambda ends: ((None, ends[0]), (None, ends[1]), None),
    "gap": lambda ends: (None, (ends[0], None), (ends[1], None)),
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
    kept, found = list(stated), []
    for low, high in pairwise(_EDGES):
        of_person: dict[int, list[float]] = defaultdict(list)
        for each in kept:
            if low <= each.chance < high or each.chance == high == 1:
                of_person[each.person].append(each.chance - each.true)
        words = sum(map(len, of_person.values()))
        if words:
            mean = sum(map(sum, of_person.values())) / words
            u = math.sqrt(sum((sum(each) - mean * len(each)) ** 2 for each in of_person.values())) / words
            found.append(Tenth(low, high, words, len(of_person), mean, u))
    return found


def told(name: str, found: Iterable[Tenth]) -> None:
    """Print each tenth, as a study does."""
    for each in found:
        sys.stdout.write(
            f"{name}: {each.low:.1f} to {each.high:.1f}: {each.words} words of {each.people} people, "
            f"stated less true {each.difference:+.3f} (u {each.u:.3f})\n"
        )
