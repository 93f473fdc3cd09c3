"""What a measure yields: readings, and remarks on how far they can be trusted."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import NamedTuple

from fitcheck.fitting.models import Fitting
from rules import Reading, Rulebook
from rules.limits import guard_factor
from rules.model.figures import Parameter
from rules.rulebook import Rulebook as _Book

__all__ = ["Measure", "Readings", "Remark", "Span", "around", "between", "of_range", "span_of"]

Readings = Mapping[tuple[str, str], Reading]
"""Readings by quantity and place."""


class Remark(NamedTuple):
    """Something to say with the assessment: a text of the rulebook's remarks, by name.

    ``lacking``: quantity and place of what could not be computed for the reason that it tells.
    """

    name: str
    lacking: frozenset[tuple[str, str]] = frozenset()


Measure = Callable[[Fitting, Readings, Rulebook], Iterable[Reading | Remark]]
"""Computes further readings from a fitting and what was observed of it."""


def of_range(quantity: str, place: str, low: float, high: float, book: _Book, where: str = "") -> Reading:
    """A range that is no normal spread, as a reading whose guarded bounds are just its ends."""
    return between(quantity, place, low, high, guard_factor(book.levels["guarded"].probability), where)


def between(quantity: str, place: str, low: float, high: float, factor: float, where: str = "") -> Reading:
    """The same where the ``factor`` of a guarded limit is at hand."""
    return Reading(quantity, place, (low + high) / 2, (high - low) / (2 * factor), where)


class Span(NamedTuple):
    """From the least to the greatest that a figure may be, in the figure's unit."""

    low: float
    high: float


def span_of(parameter: Parameter) -> Span:
    """The range of a parameter, in its unit; one with a value alone has no width."""
    if parameter.low is not None and parameter.high is not None:
        return Span(parameter.low, parameter.high)
    if parameter.value is None:  # the model of the rulebook lets no such parameter pass
        raise ValueError(f"the parameter {parameter.title!r} has neither a range nor a value")
    return Span(parameter.value, parameter.value)


def around(reading: Reading, factor: float) -> Span:
    """A reading ``factor`` standard uncertainties to either side, in its unit."""
    return Span(float(reading.value) - factor * reading.u, float(reading.value) + factor * reading.u)
