"""Heat at the inner side of the horn over its whole course: the peak, when it comes, the time left for one more hold.

The peak is a range of worst cases: every reading ``k`` standard uncertainties to either side (``k`` that of a guarded
limit), every parameter at its end (:mod:`fitcheck.measure.heat_course`).  Where thickness or heat is not known no
course can be modelled, and the time of all holds together is given to be judged instead.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

from fitcheck.fitting.foot_observations import Hold as HoldStated
from fitcheck.fitting.foot_observations import Scorch
from fitcheck.fitting.input_value import MeasuredValue
from fitcheck.fitting.models import Fitting
from fitcheck.measure.heat_course import Foot, Hold, foot_of, peak_in, time_left
from fitcheck.measure.listed import stated_times
from fitcheck.measure.results import Readings, Remark, Span, around, of_range, span_of
from fitcheck.text.catalogue import messages_of
from rules import Reading, Rulebook
from rules.limits import guard_factor
from rules.model.records import Scaled

__all__ = ["LIMIT_RULE", "heat_inside"]

LIMIT_RULE: Final = "horn-heated"
"""The rule whose upper limit is the temperature that one more hold may not bring about."""

_HORN: Final = ("sole_thickness", "wall_thickness")
_FOOT: Final = "foot"
_DERIVED: Final = "living foot"


def heat_inside(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading | Remark]:
    """The peak (degC) behind the thinner of sole and wall, when it comes (s after the first touch), the time left (s).

    Without thickness, or without the heat of every hold, the time of all holds together (s) alone.  A contact time and
    further ones are taken as holds ``hold_pause`` apart, end to start.

    Raises fitcheck.errors.BadInput when further contact times stand without the longest, or exceed it.
    """
    scorch = fitting.observations.scorch
    if scorch is None or "course_diffusivity" not in book.parameters:
        return
    times = stated_times(scorch, book)
    if not times:
        return
    k = guard_factor(book.levels["guarded"].probability)
    holds = _holds(scorch, times, k, book)
    horns = [readings[name, _FOOT] for name in _HORN if (name, _FOOT) in readings]
    if holds is None or not horns:
        together = math.fsum(time.value for time in times), math.hypot(*(time.u for time in times))
        yield Reading("total_contact", _FOOT, *together)
        return
    spans = [around(horn, k) for horn in horns]
    horn = Span(min(span.low for span in spans), min(span.high for span in spans))
    foot = _foot_of(book)
    course = peak_in(foot, holds, horn)
    thinner = min(horns, key=lambda each: float(each.value)).quantity
    messages = messages_of(book)
    where = messages.say(f"where.under_{thinner.removesuffix('_thickness')}")
    yield of_range("inside_temperature", _FOOT, course.low_peak, course.high_peak, book, where)
    yield of_range("peak_time", _FOOT, *course.when_s, book)
    rule, most = book.rules.get(LIMIT_RULE), book.quantities["time_left"].range
    if rule is not None and rule.high is not None and not isinstance(rule.high, Scaled) and most is not None:
        last = holds[-1]
        now = last.start_s + last.seconds.high
        left = time_left(rule.high, last.iron_degc, now, holds, horn, foot=foot, so_far=course.high_peak)
        yield Reading("time_left", _FOOT, min(most[1], left), 0.0, messages.say("where.at_worst"))
    yield Remark("heat_course")


def _foot_of(book: Rulebook) -> Foot:
    """The living foot of the book's parameters, worked out once for all fittings."""
    known: Foot | None = book.derived.get(_DERIVED)
    if known is None:
        known = book.derived[_DERIVED] = foot_of(book.parameters)
    return known


def _holds(scorch: Scorch, times: list[MeasuredValue], factor: float, book: Rulebook) -> list[Hold] | None:
    """The holds with their spans of time and heat; None where the heat of any is not known."""
    pause, start = book.parameters["hold_pause"].value or 0.0, 0.0
    stated: Sequence[HoldStated | None] = scorch.holds or [None] * len(times)
    holds = []
    for hold, time in zip(stated, times, strict=True):
        heat = scorch.shoe_heat if hold is None or hold.heat is None else hold.heat
        if heat is None:
            return None
        spread = factor * time.u
        seconds = Span(max(0.0, time.value - spread), time.value + spread)
        holds.append(Hold(start if hold is None else hold.start, seconds, span_of(book.parameters[f"heat_{heat}"])))
        start += time.value + pause
    return holds
