"""When the foot is to be shod again: the interval's end, or the day on which a heel may lose its cover."""

from __future__ import annotations

from fitcheck.assessment import NextDue
from fitcheck.fitting import Fitting
from fitcheck.measure.results import Observed
from rules import Rulebook

__all__ = ["next_due"]


def next_due(fitting: Fitting, observed: Observed, book: Rulebook) -> NextDue | None:
    """The day of the next visit; None where the fitting does not say when it was made."""
    return None
