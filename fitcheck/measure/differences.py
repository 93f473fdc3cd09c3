"""Lateral less medial: branch lengths and wall heights compared."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from fitcheck.fitting.input_value import measured_value
from fitcheck.fitting.models import Fitting
from rules import Reading, Rulebook

__all__ = ["branch_difference", "height_difference"]


def branch_difference(
    fitting: Fitting, readings: Mapping[tuple[str, str], Reading], book: Rulebook
) -> Iterator[Reading]:
    """Lateral branch length less the medial one (mm); positive: the lateral branch is longer."""
    medial, lateral = readings.get(("length", "medial_heel")), readings.get(("length", "lateral_heel"))
    if medial is not None and lateral is not None:
        difference = float(lateral.value) - float(medial.value)
        yield Reading("branch_difference", "foot", difference, math.hypot(medial.u, lateral.u))


def height_difference(
    fitting: Fitting, readings: Mapping[tuple[str, str], Reading], book: Rulebook
) -> Iterator[Reading]:
    """Lateral wall height less the medial one (mm); positive: the lateral wall is higher."""
    level = fitting.observations.levelness
    if level is not None and level.medial_height is not None and level.lateral_height is not None:
        medial = measured_value(level.medial_height, "wall_height", book)
        lateral = measured_value(level.lateral_height, "wall_height", book)
        yield Reading("height_difference", "foot", lateral.value - medial.value, math.hypot(medial.u, lateral.u))
