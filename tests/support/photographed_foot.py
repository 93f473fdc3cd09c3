"""Photographs of an invented foot with a card on its ground face, and taps on them. Imports nothing of the program.

The foot is an oval with a line beside it; the camera stands half a metre off, askew by up to 20 degrees. It errs in
ways that the page does not know: the card lies up to 2 mm off the level, a hand follows an edge that wanders.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageDraw, ImageFilter

__all__ = ["CARDS", "PhotographedFoot", "true_lines"]

Points = npt.NDArray[np.float64]

CARDS: Final = {"card": (85.6, 53.98), "sheet": (148.0, 105.0)}
"""Long and short side (mm)."""
_ACROSS: Final = 68.0
_ALONG: Final = 78.0
_HEEL: Final = 150.0
_BEYOND: Final = 12.0
_BESIDE: Final = ([-150, -90, -60, 0, 60, 90, 150], [2.4, 2.4, 0.6, 0.0, 0.6, 2.4, 2.4])
_FAR: Final = 500.0


def true_lines(count: int) -> tuple[Points, Points]:
    """Hoof and shoe (mm), from one heel over the toe, towards +y, to the other."""
    angles = np.linspace(-_HEEL, _HEEL, count)
    turns = np.radians(angles)
    hoof = np.column_stack([_ACROSS * np.sin(turns), _ALONG * np.cos(turns)])
    normal = hoof / [_ACROSS**2, _ALONG**2]
    normal /= np.hypot(normal[:, 0], normal[:, 1])[:, None]
    shoe = hoof + np.interp(angles, *_BESIDE)[:, None] * normal
    back = np.linspace(_BEYOND, 4.0, max(2, count // 30))
    ends = [
        np.column_stack([np.full(len(back), shoe[at, 0]), hoof[at, 1] - (back if at == 0 else back[::-1])])
        for at in (0, -1)
    ]
    return hoof, np.concatenate([ends[0], shoe, ends[1]])


def _evenly(line: Points, count: int) -> Points:
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    at = np.linspace(0.0, along[-1], count)
    return np.column_stack([np.interp(at, along, line[:, axis]) for axis in (0, 1)])


@dataclass(frozen=True)
class PhotographedFoot:
    """One photograph: pixels to a millimetre at its middle, degrees askew, and the card on the foot or beside it.

    Everything else is drawn from ``seed``.
    """

    per_mm: float
    tilt: float
    by: str = "card"
    seed: int = 0
    size: int = field(init=False)
    camera: Points = field(init=False)
    corners: Points = field(init=False)

    def __post_init__(self) -> None:
        rng = np.random.default_rng([self.seed, 1])
        tilt, way, spin = np.radians([self.tilt, rng.uniform(0, 360), rng.uniform(-180, 180)])
        axis = np.array([np.cos(way), np.sin(way), 0.0])
        cross = np.array([[0, -axis[2], axis[1]], [axis[2], 0, -axis[0]], [-axis[1], axis[0], 0]])
        askew = np.eye(3) + np.sin(tilt) * cross + (1 - np.cos(tilt)) * cross @ cross
        # Seen from below with the picture's y downwards: half a turn about x.
        turned = askew @ np.diag([1.0, -1.0, -1.0]) @ _spun(spin)
        size = int(330 * self.per_mm)
        focus = self.per_mm * _FAR
        lens = np.array([[focus, 0, size / 2], [0, focus, size / 2], [0, 0, 1]])
        object.__setattr__(self, "size", size)
        object.__setattr__(self, "camera", lens @ np.column_stack([turned, [0.0, 0.0, _FAR]]))
        long, short = CARDS[self.by]
        corners = np.array([[-long, -short], [long, -short], [long, short], [-long, short]]) / 2
        if self.by == "card":
            corners = corners @ _spun(rng.uniform(0, 2 * np.pi))[:2, :2].T + rng.uniform(-15, 15, 2)
        else:  # below the heels, where there is room
            corners = corners @ _spun(rng.uniform(-0.2, 0.2))[:2, :2].T + [rng.uniform(-15, 15), -135.0]
        # Towards the camera, +z, or away from it, each corner the same.
        object.__setattr__(self, "corners", np.column_stack([corners, np.full(4, rng.uniform(-2, 2))]))

    def seen(self, points: Points) -> Points:
        """Pixels of points in mm, of the ground's plane where they have no height."""
        flat = np.column_stack([points, np.zeros(len(points))]) if points.shape[1] == 2 else points
        through = np.column_stack([flat, np.ones(len(flat))]) @ self.camera.T
        return np.asarray(through[:, :2] / through[:, 2:])

    def taps(self, scatter: float = 2.0, counts: tuple[int, int] = (17, 19), wander: float = 0.2) -> dict[str, Any]:
        """Taps as the page keeps them, each ``scatter`` pixels (standard deviation, each way) off its mark."""
        rng = np.random.default_rng([self.seed, 2])
        hoof, shoe = true_lines(600)
        lines = [
            self.seen(_evenly(line, count) + _wandering(line, count, wander, rng))
            for line, count in ((hoof, counts[0] + 2), (shoe, counts[1]))
        ]
        hoof_taps, shoe_taps, corners = (
            [[*point, scatter] for point in (points + rng.normal(0, scatter, points.shape)).tolist()]
            for points in (*lines, self.seen(self.corners))
        )
        return {
            "by": self.by,
            "scale": [corners[at] for at in rng.permutation(4)],
            "heels": [hoof_taps[0], hoof_taps[-1]],
            "hoof": hoof_taps[1:-1],
            "shoe": shoe_taps,
            "holes": [],
            "mirrored": False,
        }

    def by_rule(self, scatter: float = 2.0) -> dict[str, Any]:
        """The same taps, with two marks 150 mm apart on a rule below the heels in the place of the card."""
        rng = np.random.default_rng([self.seed, 4])
        marks = self.seen(np.array([[-75.0, -110.0], [75.0, -110.0]])) + rng.normal(0, scatter, (2, 2))
        return {
            **self.taps(scatter),
            "by": "rule",
            "scale": [[*each, scatter] for each in marks.tolist()],
            "length": 150,
        }

    def picture(self) -> Image.Image:
        """Shoe over wall in one light, with a shadow, noise and the blur of a lens; grey."""
        rng = np.random.default_rng([self.seed, 3])
        hoof, shoe = true_lines(400)
        fine = 2 if self.size < 2000 else 1
        image = Image.new("L", (self.size * fine,) * 2, 120)
        pen = ImageDraw.Draw(image)

        def fill(points: Points, shade: int) -> None:
            pen.polygon([tuple(point * fine) for point in self.seen(points)], fill=shade)

        fill(np.add(shoe, [3.0, -3.0]), 75)  # the shadow of the iron
        fill(shoe, 60)
        fill(hoof, 205)
        fill(hoof * 0.88, 70)  # the web of the iron over the sole
        fill(hoof * 0.62, 165)
        fill(self.corners, 245)
        if fine > 1:
            image = image.resize((self.size, self.size), Image.Resampling.BOX)
        image = image.filter(ImageFilter.GaussianBlur(0.8))
        light = np.linspace(0.85, 1.1, self.size)[None, :] * np.linspace(1.05, 0.9, self.size)[:, None]
        noisy = np.asarray(image, dtype=np.float64) * light + rng.normal(0, 6, (self.size, self.size))
        return Image.fromarray(np.clip(noisy, 0, 255).astype(np.uint8), "L")


def _spun(angle: float) -> Points:
    return np.array([[np.cos(angle), -np.sin(angle), 0], [np.sin(angle), np.cos(angle), 0], [0, 0, 1]])


def _wandering(line: Points, count: int, size: float, rng: np.random.Generator) -> Points:
    """Waves along a line, 40 to 90 mm long, of random phase."""
    along = np.linspace(0.0, float(np.hypot(*np.diff(line, axis=0).T).sum()), count)[:, None]
    moved = np.zeros((count, 2))
    for wave in rng.uniform(40.0, 90.0, 5):
        moved += size * np.sqrt(2 / 5) * np.sin(2 * np.pi * along / wave + rng.uniform(0, 2 * np.pi, 2))
    return moved
