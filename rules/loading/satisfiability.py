"""Whether a single rule can ever fire: some reading that is possible lies past it and leaves graver rules silent."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Final

from rules.model.records import Limit, Quantity, Rule, Scaled
from rules.number_line import Line, Zone, exact, line_of, range_of, sizes_to_try, values_to_try, zone_of
from rules.rulebook import Rulebook

__all__ = ["can_be_passed", "can_fire", "clearly_met", "met"]

_Ends = tuple[Limit | None, Limit | None]
"""The low and the high limit of a rule."""

_CLEARLY: Final = 1e-6
"""The finest step that the engine compares, and far more than floating-point numbers err by here."""


def can_fire(book: Rulebook, rule: Rule) -> bool:
    """Whether any reading within the quantity's range makes ``rule`` fire while the rules of ``unless`` stay silent."""
    silencing = [book.rules[name] for name in rule.unless]
    if rule.is_ is not None:
        return bool(set(rule.is_) - {word for other in silencing for word in other.is_ or ()})
    quantity = book.quantities[rule.quantity]
    if clearly_met(book, quantity, (rule.low, rule.high), [(other.low, other.high) for other in silencing]):
        return True
    return met(book, quantity, zone_of(rule), [zone_of(each) for each in silencing])


def can_be_passed(book: Rulebook, quantity: Quantity, low: Limit | None, high: Limit | None) -> bool:
    """Whether any reading within the range of ``quantity`` lies below ``low`` or above ``high``."""
    if clearly_met(book, quantity, (low, high), []):
        return True
    return met(book, quantity, Zone(line_of(low), line_of(high), edge=False), [])


def met(book: Rulebook, quantity: Quantity, zone: Zone, others: list[Zone]) -> bool:
    """Whether any reading that is possible lies in ``zone`` and in none of ``others``, for any sizes: exactly."""
    least, most = range_of(quantity)
    lines = [line for each in (zone, *others) for line in each.lines]
    ends = [Line(exact(0.0), None, end) for end in (least, most)]
    ranges = {line.of: range_of(book.quantities[line.of]) for line in lines if line.of is not None}
    return any(
        zone.end(value, sizes) and not any(other.end(value, sizes) for other in others)
        for sizes in sizes_to_try([(*lines, *ends)], ranges)
        for value in values_to_try(lines, sizes, least, most)
    )


def clearly_met(book: Rulebook, quantity: Quantity, rule: _Ends, silencing: Sequence[_Ends]) -> bool:
    """Whether a reading meets it far from every limit, for sizes in the middle of what they can be: so it does of most.

    What is not clear is for :func:`met` to say, which is exact and took 13 ms for the whole shipped book.
    """
    least, most = quantity.range or (0.0, 0.0)
    past, *silent = [(_about(book, low), _about(book, high)) for low, high in (rule, *silencing)]
    edges = {edge for ends in (past, *silent) for edge in ends if edge is not None and least < edge < most}
    ordered = sorted({least, *edges, most})
    return any(
        _past(value, past, _CLEARLY) and not any(_past(value, each, -_CLEARLY) for each in silent)
        for value in (least, most, *((low + high) / 2 for low, high in pairwise(ordered)))
    )


def _past(value: float, ends: tuple[float | None, float | None], margin: float) -> bool:
    low, high = ends
    return (low is not None and value < low - margin) or (high is not None and value > high + margin)


def _about(book: Rulebook, limit: Limit | None) -> float | None:
    """The limit where the size that it follows is in the middle of what it can be."""
    if not isinstance(limit, Scaled):
        return limit
    least, most = book.quantities[limit.of].range or (0.0, 0.0)
    return limit.times * (least + most) / 2 + limit.plus
