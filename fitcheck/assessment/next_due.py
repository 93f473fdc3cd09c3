"""When the foot is to be shod again: the interval's end, or the day on which a heel may lose its cover."""

from __future__ import annotations

import math
from datetime import date
from typing import Final

from fitcheck.assessment.models import NextDue
from fitcheck.fitting.models import Fitting
from fitcheck.measure.growth import branch_lengths, days_covered, days_covered_u, drift_of
from fitcheck.measure.results import Readings
from fitcheck.text.catalogue import messages_of
from fitcheck.text.format import place_title
from fitcheck.vocabulary import answered
from rules import Rulebook
from rules.limits import guard_factor
from rules.model.records import Scaled

__all__ = ["INTERVAL_RULE", "next_due"]

_LAST_DAY: Final = date.max.toordinal()

INTERVAL_RULE: Final = "interval-long"
"""The rule whose upper limit (days) ends the interval."""


def next_due(fitting: Fitting, readings: Readings, book: Rulebook) -> NextDue | None:
    """The day of the next visit, whole days after this fitting; None where the fitting does not say when it was made.

    The sooner of the interval's end and, for either heel, the day on which it loses its cover at the fastest drift
    that is assumed; of a book that judges by chance also with the branch as short as it may be.
    """
    history = fitting.observations.history
    if history is None or history.fitted is None:
        return None
    place, first, u = _first_due(fitting, readings, book)
    if first == math.inf:
        return None
    days = math.floor(first)
    ordinal = history.fitted.toordinal() + days
    if ordinal > _LAST_DAY:
        return None  # beyond the calendar
    day = date.fromordinal(ordinal)
    messages = messages_of(book)
    template = book.remarks["due_interval" if place == "foot" else "due_heel_support" if days else "due_today"]
    say = template.text.format(
        date=messages.day(day), days=messages.counted("unit.d", days), place=place_title(place, book)
    )
    reason = "interval" if place == "foot" else "heel_support"
    return NextDue(date=day.isoformat(), reason=reason, place=place, days=days, u=answered(u), say=say)


def _first_due(fitting: Fitting, readings: Readings, book: Rulebook) -> tuple[str, float, float]:
    """What ends first: its place, foot for the interval, the days and their u; infinite days where nothing ends."""
    rule = book.rules.get(INTERVAL_RULE)
    end = None if rule is None else rule.high
    place, days = "foot", math.inf if end is None or isinstance(end, Scaled) else end
    lengths = branch_lengths(fitting, readings)
    drift = drift_of(readings, book)[0] if lengths else None
    if drift is None:
        return place, days, 0.0
    k = guard_factor(book.levels["guarded"].probability) if book.judges.by_chance else 0.0
    for heel, length in lengths.items():
        covered = days_covered(length.value - k * length.u, drift.most)
        if covered < days:
            place, days = heel, covered
    return place, days, days_covered_u(lengths[place], drift) if place in lengths else 0.0
