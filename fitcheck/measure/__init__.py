"""What is computed from the observations, each measure in a module of its own.

A measure is a function of the fitting, what was observed and the rulebook that yields further readings.  A new one
is added to :data:`MEASURES`; the rest of the tool takes its readings as it takes observed ones.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from fitcheck.fitting import Fitting
from fitcheck.measure.dates import growth_and_interval
from fitcheck.measure.differences import branch_difference, height_difference
from fitcheck.measure.nail_line import exit_ratios, nail_count, unevenness
from rules import Reading, Rulebook

__all__ = ["MEASURES", "Measure", "Observed", "computed"]

Observed = Mapping[tuple[str, str], Reading]
"""Readings by quantity and place."""

Measure = Callable[[Fitting, Observed, Rulebook], Iterable[Reading]]

MEASURES: tuple[Measure, ...] = (
    branch_difference,
    height_difference,
    exit_ratios,
    unevenness,
    nail_count,
    growth_and_interval,
)


def computed(fitting: Fitting, observed: Iterable[Reading], book: Rulebook) -> list[Reading]:
    """Every reading that the measures make of the fitting, with propagated standard uncertainty."""
    table = {(reading.quantity, reading.place): reading for reading in observed}
    return [reading for measure in MEASURES for reading in measure(fitting, table, book)]
