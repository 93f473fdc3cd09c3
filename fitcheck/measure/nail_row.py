"""The nails of a shoe as a whole: how they are spread, how far back they go, how many come out low; and each clinch."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from fitcheck.fitting.models import Fitting
from fitcheck.measure.by_limit import computed_by, enough_for_share
from fitcheck.measure.results import Readings
from fitcheck.measure.wall_at_nail import WallAtNails
from rules import Reading, Rulebook, resolve
from rules.situation import side_of

__all__ = ["clinch_ratios", "first_exit_ratios", "low_share", "nail_spread", "rearmost", "suspects"]

_FIRST: Final = 1


def nail_spread(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading]:
    """Nails in the lateral branch less nails in the medial one; a count has no uncertainty."""
    sides = [nail.branch for nail in fitting.observations.nails or ()]
    if sides:
        yield Reading("nail_spread", "foot", float(sides.count("lateral") - sides.count("medial")))


def rearmost(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading]:
    """How far back the last nail of each branch stands, as a share of the shoe's length."""
    last: dict[str | None, Reading] = {}
    for (quantity, place), each in readings.items():
        if quantity == "position":
            side = side_of(place)
            if side not in last or float(each.value) > float(last[side].value):
                last[side] = each
    for side in ("medial", "lateral"):
        if side in last:
            yield Reading("rearmost", f"{side}_quarter", float(last[side].value), last[side].u)


def low_share(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading]:
    """The least share of all nails that come out low, measured or by eye: one not looked at counts as not low.

    Where there are too few nails no share is told.
    """
    rule = computed_by("share_low", book)
    low = None if rule is None else resolve(rule.low, {})
    nails = fitting.observations.nails or ()
    seen, count = 0, 0
    for nail in nails:
        height = nail.exit_height
        read = readings.get(("exit_height", nail.place))
        if read is not None and low is not None:
            seen, count = seen + 1, count + (float(read.value) < low)
        elif height is not None and height.word is not None:
            seen, count = seen + 1, count + (height.word == "low")
    if seen and enough_for_share(len(nails), book):
        yield Reading("share_low", "foot", count / len(nails))


def first_exit_ratios(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading]:
    """The share of the wall at which the first nail of a branch comes out."""
    for nail in fitting.observations.nails or ():
        ratio = readings.get(("exit_ratio", nail.place))
        if ratio is not None and nail.hole == _FIRST:
            yield Reading("first_exit_ratio", nail.place, float(ratio.value), ratio.u)


def suspects(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading]:
    """Each nail that went soft, or came out past the upper limit of its height, measured or by eye.

    With the wall at it (mm), where that was not measured there but follows from the toe's or the quarters'.
    """
    rule = computed_by("suspect_nail", book)
    high = None if rule is None else resolve(rule.high, {})
    for nail in fitting.observations.nails or ():
        read, sent = readings.get(("exit_height", nail.place)), nail.exit_height
        too_high = read is not None and high is not None and float(read.value) > high
        if nail.sound == "soft" or too_high or (sent is not None and sent.word == "high"):
            yield Reading("suspect_nail", nail.place, "yes")
            measured = ("wall_at_nail", nail.place) in readings
            wall = None if measured else WallAtNails(fitting, readings, book).between(nail.place)
            if wall is not None:
                yield wall


def clinch_ratios(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading]:
    """Length of each clinch over the width of its nail; u by the law of propagation (JCGM 100, 5.1.2)."""
    for nail in fitting.observations.nails or ():
        length, width = readings.get(("clinch_length", nail.place)), readings.get(("nail_width", nail.place))
        if length is not None and width is not None and float(width.value) > 0:
            ratio = float(length.value) / float(width.value)
            u = math.hypot(length.u, ratio * width.u) / float(width.value)
            yield Reading("clinch_ratio", nail.place, ratio, u)
