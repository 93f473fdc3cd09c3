"""How growth carries the shoe forward, and how many days each heel keeps its cover.

As the wall grows by ``g`` along its slope, the shoe nailed to it is carried forward along the ground by ``g`` times
the slope's cosine, and the branch's end moves forward from the buttress by as much.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

from fitcheck.fitting.input_value import MeasuredValue
from fitcheck.fitting.models import Fitting
from fitcheck.measure.dates import DAYS_IN_A_MONTH
from fitcheck.measure.results import Readings, Remark, Span, around, span_of
from rules import Reading, Rulebook
from rules.limits import guard_factor

__all__ = ["Drift", "branch_lengths", "days_covered", "days_covered_u", "drift_of", "heel_support"]

_HEELS = ("medial_heel", "lateral_heel")


class Drift(NamedTuple):
    """How the shoe moves forward: growth of the wall (mm a month) and the cosine of its slope.

    ``most`` is the fastest drift that is assumed (mm a month).
    """

    growth: MeasuredValue
    cosine: MeasuredValue
    most: float


def days_covered(length: float, drift: float) -> float:
    """Days until a branch that reaches ``length`` mm past the buttress, drifting ``drift`` mm a month, leaves it bare.

    0 when it is bare already, infinite when the shoe does not move forward.
    """
    if length <= 0:
        return 0.0
    return length / drift * DAYS_IN_A_MONTH if drift > 0 else math.inf


def days_covered_u(length: MeasuredValue, drift: Drift) -> float:
    """Standard uncertainty of those days in the middle of what may be (JCGM 100, 5.1.2); the drift is above 0."""
    growth, cosine = drift.growth, drift.cosine
    days = days_covered(length.value, growth.value * cosine.value)
    by_length = length.u / (growth.value * cosine.value) * DAYS_IN_A_MONTH
    return math.hypot(by_length, days * growth.u / growth.value, days * cosine.u / cosine.value)


def heel_support(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading | Remark]:
    """Days from this fitting until the shoe, carried forward, no longer covers each heel whose branch was measured.

    In the middle of what may be, with the uncertainty; :mod:`fitcheck.assessment.next_due` takes the cautious
    end.  Nothing where the day of this fitting is not given, or where growth takes longer than any shoe is worn.
    """
    lengths = branch_lengths(fitting, readings)
    if not lengths:
        return
    drift, assumed = drift_of(readings, book)
    if drift is None:
        return
    longest = book.quantities["heel_support_left"].range
    for place, length in lengths.items():
        days = days_covered(length.value, drift.growth.value * drift.cosine.value)
        if longest is None or days <= longest[1]:
            yield Reading("heel_support_left", place, days, days_covered_u(length, drift))
    if assumed:
        yield Remark("growth_assumed")


def branch_lengths(fitting: Fitting, readings: Readings) -> dict[str, MeasuredValue]:
    """How far each branch reaches past its buttress (mm); none where the days have no beginning."""
    history = fitting.observations.history
    if history is None or history.fitted is None:
        return {}
    lengths = {}
    for place in _HEELS:
        reading = readings.get(("length", place))
        if reading is not None:
            lengths[place] = MeasuredValue(float(reading.value), reading.u)
    return lengths


def drift_of(readings: Readings, book: Rulebook) -> tuple[Drift | None, bool]:
    """How the shoe moves forward, None where it does not, and whether the growth had to be assumed.

    A foot that seems not to have grown at all is taken to grow as feet do.
    """
    k = guard_factor(book.levels["guarded"].probability)
    angle, physical_range = readings.get(("wall_angle", "foot")), book.quantities["wall_angle"].range
    slopes = span_of(book.parameters["wall_angle"])
    if angle is not None and physical_range is not None:
        read = around(angle, k)
        slopes = Span(max(physical_range[0], read.low), min(physical_range[1], read.high))
    cosine, most = _carried(slopes, k)

    read_growth = readings.get(("growth_rate", "foot"))
    assumed = read_growth is None or float(read_growth.value) <= 0
    if read_growth is None or assumed:
        parameter = book.parameters["growth"]
        range_ = span_of(parameter)
        middle = (range_.low + range_.high) / 2 if parameter.value is None else parameter.value
        growth, fastest = MeasuredValue(middle, (range_.high - range_.low) / (2 * k)), range_.high
    else:
        growth, fastest = MeasuredValue(float(read_growth.value), read_growth.u), around(read_growth, k).high
    return (Drift(growth, cosine, fastest * most) if cosine.value > 0 else None), assumed


def _carried(slopes: Span, factor: float) -> tuple[MeasuredValue, float]:
    """The cosine of the slopes (deg) with its u, and the most that it may be.

    The more the wall slopes, the further the shoe is carried; a wall past upright carries it nowhere.
    """
    low, high = (max(0.0, math.cos(math.radians(slope))) for slope in reversed(slopes))
    return MeasuredValue((low + high) / 2, (high - low) / (2 * factor)), high
