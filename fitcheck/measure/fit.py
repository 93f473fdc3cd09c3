"""What the limits of the fit look at besides what is read: coronet, bulbs, turned-in heels, the cleft, the toe."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from fitcheck.fitting.models import Fitting
from fitcheck.measure.results import Readings
from rules import Reading, Rulebook

__all__ = ["cleft_difference", "past_bulbs", "past_coronet", "set_back", "width_allowance"]

_HEELS: Final = ("medial_heel", "lateral_heel")
_TURNED_IN: Final = "turned_in"


def width_allowance(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading]:
    """How much further (mm) the branches may stand out: where the heels are turned in, else none."""
    allowed = book.parameters.get("turned_in_heels")
    heels = readings.get(("heels", "foot"))
    turned_in = heels is not None and heels.value == _TURNED_IN
    yield Reading("width_allowance", "foot", (allowed.value or 0.0) if allowed is not None and turned_in else 0.0)


def past_coronet(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading]:
    """Width of the branch less the overhang of the coronet (mm), where it overhangs at all, on a draught horse."""
    for heel in _HEELS:
        coronet, width = readings.get(("coronet_overhang", heel)), readings.get(("width", heel))
        if fitting.work != "draught" or coronet is None or float(coronet.value) <= 0:
            continue
        yield Reading("plumb_line", heel, "yes")
        if width is not None:
            past = float(width.value) - float(coronet.value)
            yield Reading("width_past_coronet", heel, past, math.hypot(width.u, coronet.u))


def past_bulbs(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading]:
    """Length of the branch less the greater of the bulb and the thickness of the shoe with its leeway (mm)."""
    bulbs, thickness = readings.get(("bulbs", "foot")), readings.get(("shoe_thickness", "foot"))
    leeway = book.parameters.get("past_thickness")
    if bulbs is None or leeway is None:
        return
    most, u = float(bulbs.value), bulbs.u
    if thickness is not None and float(thickness.value) + (leeway.value or 0.0) > most:
        most, u = float(thickness.value) + (leeway.value or 0.0), thickness.u
    for heel in _HEELS:
        length = readings.get(("length", heel))
        if length is not None:
            yield Reading("length_past_bulbs", heel, float(length.value) - most, math.hypot(length.u, u))


def set_back(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading]:
    """Horn past the iron at the toe (mm), on a hind foot in riding work, whose shoe may be set back (LA 122)."""
    overhang = readings.get(("overhang", "toe"))
    if overhang is not None and (fitting.pair, fitting.work) == ("hind", "riding"):
        yield Reading("set_back", "toe", -float(overhang.value), overhang.u)


def cleft_difference(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading]:
    """Distance of the lateral branch end from the cleft of the frog less that of the medial one (mm)."""
    medial, lateral = (readings.get(("to_cleft", heel)) for heel in _HEELS)
    if medial is not None and lateral is not None:
        difference = float(lateral.value) - float(medial.value)
        yield Reading("cleft_difference", "foot", difference, math.hypot(medial.u, lateral.u))
