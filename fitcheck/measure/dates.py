"""Days since the last shoeing, and the growth of horn that the old nail holes show."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from fitcheck.errors import BadInput, Problem
from fitcheck.fitting.input_value import measured_value
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.observables import fields_of
from fitcheck.measure.results import Remark
from rules import Reading, Rulebook

__all__ = ["DAYS_IN_A_MONTH", "growth_and_interval"]

[(_, _DROP)] = fields_of("old_hole_drop")
DAYS_IN_A_MONTH = 365.2425 / 12  # mean month of the Gregorian calendar


def growth_and_interval(
    fitting: Fitting, readings: Mapping[tuple[str, str], Reading], book: Rulebook
) -> Iterator[Reading | Remark]:
    """Days between the two dates, and the drop of the old nail holes as a rate (mm a month).

    Raises fitcheck.errors.BadInput for growth that only a slip of the drop or of a date can give.
    """
    history = fitting.observations.history
    if history is None or history.last_shod is None or history.fitted is None:
        return
    days = (history.fitted - history.last_shod).days
    yield Reading("days_since_shod", "foot", float(days))
    doubted = book.parameters.get("interval_doubt")
    if doubted is not None and doubted.value is not None and days > doubted.value:
        yield Remark("interval_doubted")
    if history.old_hole_drop is not None and days > 0:
        drop = measured_value(history.old_hole_drop, "old_hole_drop", book)
        months = days / DAYS_IN_A_MONTH
        _refuse_a_slip(drop.value / months, days, book)
        yield Reading("growth_rate", "foot", drop.value / months, drop.u / months)


def _refuse_a_slip(growth: float, days: int, book: Rulebook) -> None:
    most = book.parameters.get("growth_slip")
    if most is None or most.value is None or growth <= most.value:
        return
    months = days / DAYS_IN_A_MONTH
    raise BadInput(
        [
            Problem(
                _DROP,
                round(growth * months, 1),
                f"at most {most.value * months:.1f} mm in {days} days, {most.value:g} mm a month",
                f"Horn does not grow {growth:.0f} mm a month. Check the drop, its unit and both dates.",
            )
        ]
    )
