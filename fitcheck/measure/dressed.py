"""What is computed of the dressed foot: the slopes and the heights of toe and heels held together."""

from __future__ import annotations

import math
from collections.abc import Iterator

from fitcheck.fitting.models import Fitting
from fitcheck.measure.results import Readings
from rules import Reading, Rulebook

__all__ = ["angle_difference", "height_ratio"]


def angle_difference(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading]:
    """Slope of the wall at the heels less that at the toe (deg)."""
    toe, heels = readings.get(("wall_angle", "foot")), readings.get(("heel_angle", "foot"))
    if toe is not None and heels is not None:
        difference = float(heels.value) - float(toe.value)
        yield Reading("angle_difference", "foot", difference, math.hypot(toe.u, heels.u))


def height_ratio(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading]:
    """Height of the wall at the toe over that at the heels; u by the law of propagation (JCGM 100, 5.1.2)."""
    toe, heels = readings.get(("wall_height", "foot")), readings.get(("heel_height", "foot"))
    if toe is not None and heels is not None:
        ratio = float(toe.value) / float(heels.value)
        yield Reading("height_ratio", "foot", ratio, math.hypot(toe.u, ratio * heels.u) / float(heels.value))
