"""A photograph of a foot with a ruler in it, drawn from known measures."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from PIL import Image, ImageDraw

__all__ = ["TracedPhoto"]

_SIZE: Final = 1000
_PER_MM: Final = 4.0
_RULER: Final = ((100.0, 60.0), (500.0, 60.0))

Point = tuple[float, float]


@dataclass(frozen=True)
class TracedPhoto:
    """A round hoof and a round shoe (mm), the toe ``turned`` clockwise from straight up (deg).

    The shoe's middle lies ``across`` mm to the right of the hoof's, seen with the toe upwards.
    """

    hoof: float = 70.0
    shoe: float = 72.0
    across: float = 1.5
    turned: float = 25.0
    heel: float = 150.0
    ruler_mm: float = 100.0

    @property
    def ruler(self) -> list[Point]:
        """Two marks on the ruler, in pixels."""
        return list(_RULER)

    @property
    def heels(self) -> list[Point]:
        """Both buttresses."""
        return [self.hoof_at(-self.heel), self.hoof_at(self.heel)]

    def hoof_at(self, angle: float) -> Point:
        """A point of the hoof's edge, in pixels; the angle is nought at the toe and positive to the right of it."""
        return self._at(0.0, self.hoof, angle)

    def shoe_at(self, angle: float) -> Point:
        """A point of the shoe's outer edge."""
        return self._at(self.across, self.shoe, angle)

    def overhang(self, angle: float) -> float:
        """How far the iron stands outside the wall there, along the line from the hoof's middle (mm)."""
        turn = math.radians(angle)
        x = self.across
        along = x * math.sin(turn)
        return along + math.sqrt(self.shoe**2 - x**2 + along**2) - self.hoof

    def _at(self, across: float, radius: float, angle: float) -> Point:
        turn = math.radians(angle)
        x, y = across + radius * math.sin(turn), radius * math.cos(turn)
        lean = math.radians(self.turned)
        right, up = x * math.cos(lean) + y * math.sin(lean), y * math.cos(lean) - x * math.sin(lean)
        return _SIZE / 2 + _PER_MM * right, _SIZE / 2 + 40 - _PER_MM * up

    def save(self, path: Path) -> Path:
        """Draw it as PNG."""
        picture = Image.new("RGB", (_SIZE, _SIZE), "#cfc8b8")
        pen = ImageDraw.Draw(picture)
        angles = range(-int(self.heel), int(self.heel) + 1, 2)
        pen.polygon([self.shoe_at(angle) for angle in angles], fill="#8d8d8d")
        pen.polygon([self.hoof_at(angle) for angle in angles], fill="#efe3cc")
        (left, top), (right, _) = _RULER
        pen.rectangle((left - 20, top - 18, right + 20, top + 30), fill="#f4f4f4", outline="#111111")
        for mm in range(int(self.ruler_mm) + 1):
            x = left + (right - left) * mm / self.ruler_mm
            pen.line((x, top, x, top + (24 if mm % 10 == 0 else 12)), fill="#111111", width=1)
        picture.save(path)
        return path
