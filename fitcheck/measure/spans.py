"""Ranges: figures of which only the least and the greatest are known."""

from __future__ import annotations

from typing import NamedTuple

from rules import Reading
from rules.model import Parameter

__all__ = ["Span", "around", "span_of"]


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
