"""Days since the last shoeing, and the growth of horn that the old nail holes show."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from fitcheck.fitting.input_value import measured_value
from fitcheck.fitting.models import Fitting
from rules import Reading, Rulebook

__all__ = ["DAYS_IN_A_MONTH", "growth_and_interval"]

DAYS_IN_A_MONTH = 365.2425 / 12  # mean month of the Gregorian calendar


def growth_and_interval(
    fitting: Fitting, readings: Mapping[tuple[str, str], Reading], book: Rulebook
) -> Iterator[Reading]:
    """Days between the two dates, and the drop of the old nail holes as a rate (mm a month)."""
    history = fitting.observations.history
    if history is None or history.last_shod is None or history.fitted is None:
        return
    days = (history.fitted - history.last_shod).days
    yield Reading("days_since_shod", "foot", float(days))
    if history.old_hole_drop is not None and days > 0:
        drop = measured_value(history.old_hole_drop, "old_hole_drop", book)
        months = days / DAYS_IN_A_MONTH
        yield Reading("growth_rate", "foot", drop.value / months, drop.u / months)
