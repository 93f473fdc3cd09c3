"""Places round the bearing wall: from the angle round the foot to the rulebook's names."""

from __future__ import annotations

import math

from rules import Rulebook

__all__ = ["angle_of", "place_at", "side_at", "wall_end"]


def angle_of(sideways: float, forward: float) -> float:
    """Angle (deg) round the foot of a point seen from its middle: 0 at the toe, positive to the lateral side.

    ``sideways`` counts towards the lateral side, ``forward`` towards the toe, both in the same unit.

    >>> angle_of(0, 60), angle_of(50, 0), angle_of(-50, -50)
    (0.0, 90.0, -135.0)
    """
    return math.degrees(math.atan2(sideways, forward))


def wall_end(book: Rulebook) -> float:
    """Angle (deg) at which the bearing wall ends, to either side."""
    return _high("place_heel", book)


def side_at(angle: float) -> str:
    """``medial`` or ``lateral``; straight ahead and straight behind count as lateral."""
    return "medial" if angle < 0 else "lateral"


def place_at(angle: float, book: Rulebook) -> str:
    """The place of the rulebook at ``angle`` (deg); what lies behind the wall's ends belongs to the heels."""
    if abs(angle) <= _high("place_toe", book):
        return "toe"
    spot = "quarter" if abs(angle) <= _high("place_quarter", book) else "heel"
    return f"{side_at(angle)}_{spot}"


def _high(name: str, book: Rulebook) -> float:
    high = book.parameters[name].high
    if high is None:
        raise ValueError(f"the rulebook's parameter {name} has no upper end")
    return high
