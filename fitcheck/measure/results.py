"""What a measure yields: readings, and remarks on how far they can be trusted."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from fitcheck.fitting import Fitting
from rules import Reading, Rulebook
from rules.limits import guard_factor
from rules.rulebook import Rulebook as _Book

__all__ = ["Measure", "Observed", "Remark", "between", "of_range"]

Observed = Mapping[tuple[str, str], Reading]
"""Readings by quantity and place."""


@dataclass(frozen=True, slots=True)
class Remark:
    """Something to say with the assessment: a text of the rulebook's remarks, by name."""

    name: str


Measure = Callable[[Fitting, Observed, Rulebook], Iterable[Reading | Remark]]
"""Computes further readings from a fitting and what was observed of it."""


def of_range(quantity: str, place: str, low: float, high: float, book: _Book, where: str = "") -> Reading:
    """A range that is no normal spread, as a reading whose guarded bounds are just its ends."""
    return between(quantity, place, low, high, guard_factor(book.levels["guarded"].probability), where)


def between(quantity: str, place: str, low: float, high: float, factor: float, where: str = "") -> Reading:
    """The same where the ``factor`` of a guarded limit is at hand."""
    return Reading(quantity, place, (low + high) / 2, (high - low) / (2 * factor), where)
