"""Where the rulebook's places lie round the bearing wall, and how readings at places run into one another."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from rules import Rulebook

__all__ = ["SIDES", "Stretches", "stretches_of"]

SIDES: Final = {"medial": -1, "lateral": 1}
"""The sides of the foot, and the sign of x and of angles on each."""

_LEVEL: Final = 0.3
"""The share of a stretch, about its middle, over which its own reading holds; from there it runs into the next."""


@dataclass(frozen=True)
class Stretches:
    """The angles (deg), to either side, at which the toe, the quarters and the heels end."""

    toe: float
    quarter: float
    end: float

    @property
    def all(self) -> list[tuple[str, float, float]]:
        """Every place from medial over the toe to lateral: its name, and the angles from which to which it runs."""
        return [
            ("medial_heel", -self.end, -self.quarter),
            ("medial_quarter", -self.quarter, -self.toe),
            ("toe", -self.toe, self.toe),
            ("lateral_quarter", self.toe, self.quarter),
            ("lateral_heel", self.quarter, self.end),
        ]

    @property
    def quantities(self) -> dict[str, str]:
        """What says how far the iron lies beyond the wall at each place."""
        return {place: "width" if place.endswith("_heel") else "overhang" for place, _, _ in self.all}

    def middle(self, place: str) -> float:
        """The angle in the middle of a place."""
        return next((first + last) / 2 for name, first, last in self.all if name == place)

    def blended(self, angle: float, at_places: Mapping[str, float]) -> float:
        """The value at an angle: a place's own about its middle, smoothly into the next; 0 where none is given."""
        knots: list[tuple[float, float]] = []
        for place, first, last in self.all:
            middle, half = (first + last) / 2, (last - first) / 2 * _LEVEL
            value = at_places.get(place, 0.0)
            knots += [(middle - half, value), (middle + half, value)]
        if angle <= knots[0][0]:
            return knots[0][1]
        for (before, start), (after, stop) in pairwise(knots):
            if angle <= after:
                share = (angle - before) / (after - before)
                return start + (stop - start) * share * share * (3 - 2 * share)
        return knots[-1][1]


def stretches_of(book: Rulebook) -> Stretches:
    """The stretches as ``book`` has them."""
    ends = []
    for name in ("place_toe", "place_quarter", "place_heel"):
        high = book.parameters[name].high
        if high is None:
            raise ValueError(f"the rulebook's parameter {name} has no upper end")
        ends.append(high)
    return Stretches(*ends)
