"""What is computed of the shoe itself: web, fuller, calks and wear."""

from __future__ import annotations

import math
from collections.abc import Iterator

from fitcheck.fitting.models import Fitting
from fitcheck.measure.results import Readings
from rules import Reading, Rulebook

__all__ = ["calk_difference", "fuller_ratio", "toe_calk_excess", "web_ratio", "worn_share"]


def web_ratio(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading]:
    """Width of the web over the thickness of the wall."""
    yield from _over("web_ratio", readings.get(("web", "foot")), readings.get(("wall_thickness", "foot")))


def fuller_ratio(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading]:
    """Depth of the fuller over the thickness of the shoe."""
    yield from _over("fuller_ratio", readings.get(("fuller_depth", "foot")), readings.get(("shoe_thickness", "foot")))


def worn_share(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading]:
    """Thickness of a worn shoe that is put on again over what it had when new."""
    refit = readings.get(("refit", "foot"))
    if refit is not None and refit.value == "yes":
        new = readings.get(("new_thickness", "foot"))
        yield from _over("worn_share", readings.get(("shoe_thickness", "foot")), new)


def _over(quantity: str, part: Reading | None, whole: Reading | None) -> Iterator[Reading]:
    """One size over another; u by the law of propagation (JCGM 100, 5.1.2)."""
    if part is not None and whole is not None and float(whole.value) > 0:
        ratio = float(part.value) / float(whole.value)
        yield Reading(quantity, "foot", ratio, math.hypot(part.u, ratio * whole.u) / float(whole.value))


def calk_difference(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading]:
    """Lateral calk less medial calk (mm)."""
    medial, lateral = readings.get(("calk", "medial_heel")), readings.get(("calk", "lateral_heel"))
    if medial is not None and lateral is not None:
        difference = float(lateral.value) - float(medial.value)
        yield Reading("calk_difference", "foot", difference, math.hypot(medial.u, lateral.u))


def toe_calk_excess(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading]:
    """Toe calk less the lower of the heel calks that were read (mm)."""
    toe = readings.get(("calk", "toe"))
    heels = [each for heel in ("medial_heel", "lateral_heel") if (each := readings.get(("calk", heel))) is not None]
    if toe is not None and heels:
        lower = min(heels, key=lambda each: float(each.value))
        excess = float(toe.value) - float(lower.value)
        yield Reading("toe_calk_excess", "foot", excess, math.hypot(toe.u, lower.u))
