"""How high a nail may come out by the rules in force, in mm up the wall at that nail.

``free`` is where no rule fires; ``borne`` is where none worse than minor does.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from rules import Rulebook, Situation, in_force, resolve
from rules.model import Grade, Rule

__all__ = ["ANY_HEIGHT", "Band", "bands_of"]

_HEIGHT: Final = "exit_height"
_SHARE: Final = "exit_ratio"


@dataclass(frozen=True, slots=True)
class Band:
    """From ``low`` to ``high`` (mm); an end may be infinite, and low above high means nowhere."""

    low: float
    high: float

    @property
    def empty(self) -> bool:
        """Whether there is no such height."""
        return self.low > self.high


ANY_HEIGHT: Final = Band(-math.inf, math.inf)


def bands_of(
    place: str,
    wall_height: float | None,
    seen: Mapping[tuple[str, str], float | str],
    situation: Situation,
    book: Rulebook,
) -> tuple[Band, Band]:
    """The free and the borne band of one nail.

    Limits on the share of the wall's height count only where ``wall_height`` (mm) is known; a limit that follows a
    dimension only where ``seen``, every reading by quantity and place, has that dimension.
    """
    limits = list(_limits(place, wall_height, seen, situation, book))
    return _within(limits, {"minor", "major", "critical"}), _within(limits, {"major", "critical"})


def _within(limits: list[tuple[Grade, float, float]], grades: set[str]) -> Band:
    counted = [(low, high) for grade, low, high in limits if grade in grades]
    return Band(
        max((low for low, _ in counted), default=-math.inf), min((high for _, high in counted), default=math.inf)
    )


def _limits(
    place: str,
    wall_height: float | None,
    seen: Mapping[tuple[str, str], float | str],
    situation: Situation,
    book: Rulebook,
) -> Iterator[tuple[Grade, float, float]]:
    sizes = {name: value for (name, where), value in seen.items() if where == "foot" and not isinstance(value, str)}
    for quantity, scale in ((_HEIGHT, 1.0), (_SHARE, wall_height)):
        if scale is None or quantity not in book.quantities:
            continue
        for _, rule in in_force(book, situation).judging(quantity, place):
            if not _with_holds(rule, place, seen):
                continue
            low, high = resolve(rule.low, sizes), resolve(rule.high, sizes)
            if low is not None or high is not None:
                yield (
                    rule.grade,
                    -math.inf if low is None else low * scale,
                    math.inf if high is None else high * scale,
                )


def _with_holds(rule: Rule, place: str, seen: Mapping[tuple[str, str], float | str]) -> bool:
    return all(seen.get((word, place)) in words for word, words in (rule.with_ or {}).items())
