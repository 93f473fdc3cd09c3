"""Shades and strokes of the drawing: black on white, and one shade for each grade.

What a reader must tell apart differs in shape and word as well; the shades differ in lightness, so that they hold in
grey and for colour-blind eyes.
"""

from __future__ import annotations

from types import MappingProxyType
from typing import Final, NamedTuple

from rules.model.records import Grade

__all__ = [
    "BAND",
    "DASHES",
    "GRADES",
    "HAIR",
    "HEAVY",
    "HORN",
    "INK",
    "IRON",
    "PAPER",
    "SCORCHED",
    "THIN",
    "UNSEEN",
    "Shade",
]

PAPER: Final = "#ffffff"
INK: Final = "#141414"
UNSEEN: Final = "#5c5c5c"
"""What was not observed: dashed lines and their words."""
IRON: Final = "#e4e4e4"
"""The web of the shoe."""
HORN: Final = "#4a4a4a"
"""Horn beyond iron."""
SCORCHED: Final = "#a9a9a9"
"""Bearing wall that took the imprint."""
BAND: Final = "#d2d2d2"
"""Where a nail may come out without a note."""

HAIR: Final = 0.6
THIN: Final = 0.9
HEAVY: Final = 1.7
DASHES: Final = "4 2.5"


class Shade(NamedTuple):
    """Fill of a grade's marker, and its number on it."""

    fill: str
    number: str


GRADES: Final[MappingProxyType[Grade, Shade]] = MappingProxyType(
    {
        "minor": Shade(PAPER, INK),
        "major": Shade("#f0b429", INK),
        "critical": Shade("#7a0c1e", PAPER),
    }
)
