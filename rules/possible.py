"""Whether a single rule can ever fire: some reading that is possible lies past it and leaves graver rules silent.

Limits follow at most one dimension here, so each is a straight line over that dimension.  Which limits a reading
passes can change only where two of these lines cross: to try the crossings and the points between them is exact.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from itertools import combinations, pairwise
from typing import NamedTuple

from rules.model import Limit, Quantity, Rule, Scaled
from rules.rulebook import Rulebook

__all__ = ["can_be_passed", "can_fire"]


class _Line(NamedTuple):
    """``slope`` x dimension + ``height``."""

    slope: Fraction
    height: Fraction

    def at(self, size: Fraction) -> Fraction:
        return self.slope * size + self.height


class _Zone(NamedTuple):
    """Where a rule fires: past ``low`` or ``high``, at the edge too where ``edge``."""

    low: _Line | None
    high: _Line | None
    edge: bool

    def holds(self, value: Fraction, size: Fraction) -> bool:
        low = None if self.low is None else self.low.at(size)
        high = None if self.high is None else self.high.at(size)
        if self.edge and value in {low, high}:
            return True
        return (low is not None and value < low) or (high is not None and value > high)


def can_fire(book: Rulebook, rule: Rule) -> bool:
    """Whether any reading within the quantity's range makes ``rule`` fire while the rules of ``unless`` stay silent."""
    silencing = [book.rules[name] for name in rule.unless]
    if rule.is_ is not None:
        return bool(set(rule.is_) - {word for other in silencing for word in other.is_ or ()})
    limits = [limit for each in (rule, *silencing) for limit in (each.low, each.high)]
    sizes = _sizes(book, limits)
    if sizes is None:
        return True
    zone, *others = (_zone(each.low, each.high, edge=each.edge is not None) for each in (rule, *silencing))
    return _meets(book.quantities[rule.quantity], sizes, zone, others)


def can_be_passed(book: Rulebook, quantity: Quantity, low: Limit | None, high: Limit | None) -> bool:
    """Whether any reading within the range of ``quantity`` lies below ``low`` or above ``high``."""
    sizes = _sizes(book, (low, high))
    return sizes is None or _meets(quantity, sizes, _zone(low, high, edge=False), [])


def _sizes(book: Rulebook, limits: Iterable[Limit | None]) -> tuple[Fraction, Fraction] | None:
    """The range of the one dimension that ``limits`` follow (any where they follow none); None for several."""
    followed = {limit.of for limit in limits if isinstance(limit, Scaled)}
    if len(followed) > 1:
        return None
    least, most = next((book.quantities[name].range or (0.0, 0.0) for name in followed), (0.0, 0.0))
    return Fraction(least), Fraction(most)


def _zone(low: Limit | None, high: Limit | None, *, edge: bool) -> _Zone:
    return _Zone(_line(low), _line(high), edge)


def _line(limit: Limit | None) -> _Line | None:
    if isinstance(limit, Scaled):
        return _Line(Fraction(limit.times), Fraction(limit.plus))
    return None if limit is None else _Line(Fraction(0), Fraction(limit))


def _meets(quantity: Quantity, sizes: tuple[Fraction, Fraction], zone: _Zone, others: list[_Zone]) -> bool:
    least, most = (Fraction(end) for end in quantity.range or (0.0, 0.0))
    lines = [_Line(Fraction(0), least), _Line(Fraction(0), most)]
    lines += [line for each in (zone, *others) for line in (each.low, each.high) if line is not None]
    crossings = {
        (other.height - line.height) / (line.slope - other.slope)
        for line, other in combinations(lines, 2)
        if line.slope != other.slope
    }
    for size in _with_between({*sizes, *(at for at in crossings if sizes[0] < at < sizes[1])}):
        edges = {line.at(size) for line in lines}
        for value in _with_between({edge for edge in edges if least <= edge <= most}):
            if zone.holds(value, size) and not any(other.holds(value, size) for other in others):
                return True
    return False


def _with_between(points: set[Fraction]) -> list[Fraction]:
    """The points and the middle of each gap between neighbours."""
    ordered = sorted(points)
    return [*ordered, *((before + after) / 2 for before, after in pairwise(ordered))]
