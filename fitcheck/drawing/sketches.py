"""What of the foot nobody measures: frog and bars, drawn thin for the eye (mm, data of the drawing).

The figures belong to a hoof that is about 142 mm wide; for others they are stretched.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from fitcheck.drawing.svg import Point

__all__ = ["BACK", "HALF_WIDTH", "frog_and_bars"]

HALF_WIDTH: Final = 71.0
BACK: Final = 67.5
_PARTS: Final = 6
# One side of the frog, from its point to the cleft between the bulbs; half of the cleft; a bar.
_FROG: Final = (
    (0.0, 17.0),
    (2.2, 14.0),
    (5.5, -2.0),
    (9.5, -22.0),
    (14.5, -44.0),
    (18.0, -58.0),
    (17.6, -65.0),
    (13.0, -69.0),
    (6.5, -68.0),
    (2.0, -63.0),
    (0.0, -58.0),
)
_CLEFT: Final = ((0.0, -31.0), (1.5, -36.0), (2.3, -43.0), (1.7, -51.0), (0.0, -58.0))
_BAR: Final = ((31.5, -63.5), (27.5, -61.0), (23.5, -52.0), (20.0, -41.0), (16.5, -29.0), (14.0, -21.0))


def frog_and_bars(half_width: float, back: float) -> list[list[Point]]:
    """The lines for a hoof of this half width whose heels end at y = ``back`` (mm)."""
    across, along = half_width / HALF_WIDTH, -back / BACK if back < 0 else 1.0

    def stretched(points: Sequence[Point], side: int = 1) -> list[Point]:
        return [(side * x * across, y * along) for x, y in _rounded(points)]

    return [
        [*stretched(_FROG), *reversed(stretched(_FROG, -1))],
        [*stretched(_CLEFT), *reversed(stretched(_CLEFT, -1))],
        stretched(_BAR),
        stretched(_BAR, -1),
    ]


def _rounded(points: Sequence[Point]) -> list[Point]:
    """A smooth line through the points (Catmull and Rom's spline)."""
    padded = [points[0], *points, points[-1]]
    line = [
        _between(padded[start : start + 4], step / _PARTS) for start in range(len(points) - 1) for step in range(_PARTS)
    ]
    return [*line, points[-1]]


def _between(four: Sequence[Point], t: float) -> Point:
    weights = (
        -0.5 * t + t**2 - 0.5 * t**3,
        1 - 2.5 * t**2 + 1.5 * t**3,
        0.5 * t + 2 * t**2 - 1.5 * t**3,
        -0.5 * t**2 + 0.5 * t**3,
    )
    pairs = list(zip(weights, four, strict=True))
    return sum(weight * x for weight, (x, _) in pairs), sum(weight * y for weight, (_, y) in pairs)
