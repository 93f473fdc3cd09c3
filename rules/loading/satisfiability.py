"""Whether a single rule can ever fire: some reading that is possible lies past it and leaves graver rules silent."""

from __future__ import annotations

from fractions import Fraction

from rules.model.records import Limit, Quantity, Rule
from rules.number_line import Line, Zone, exact, line_of, middle_of, range_of, sizes_to_try, values_to_try, zone_of
from rules.rulebook import Rulebook

__all__ = ["can_be_passed", "can_fire"]


def can_fire(book: Rulebook, rule: Rule) -> bool:
    """Whether any reading within the quantity's range makes ``rule`` fire while the rules of ``unless`` stay silent."""
    silencing = [book.rules[name] for name in rule.unless]
    if rule.is_ is not None:
        return bool(set(rule.is_) - {word for other in silencing for word in other.is_ or ()})
    return _meets(book, book.quantities[rule.quantity], zone_of(rule), [zone_of(each) for each in silencing])


def can_be_passed(book: Rulebook, quantity: Quantity, low: Limit | None, high: Limit | None) -> bool:
    """Whether any reading within the range of ``quantity`` lies below ``low`` or above ``high``."""
    return _meets(book, quantity, Zone(line_of(low), line_of(high), edge=False), [])


def _meets(book: Rulebook, quantity: Quantity, zone: Zone, others: list[Zone]) -> bool:
    least, most = range_of(quantity)
    if not others and _passed_at_an_end(book, zone, (least, most)):
        return True
    lines = [line for each in (zone, *others) for line in each.lines]
    ends = [Line(exact(0.0), None, end) for end in (least, most)]
    ranges = {line.of: range_of(book.quantities[line.of]) for line in lines if line.of is not None}
    return any(
        zone.end(value, sizes) and not any(other.end(value, sizes) for other in others)
        for sizes in sizes_to_try([(*lines, *ends)], ranges)
        for value in values_to_try(lines, sizes, least, most)
    )


def _passed_at_an_end(book: Rulebook, zone: Zone, ends: tuple[Fraction, Fraction]) -> bool:
    """Whether the least or the most that can be read lies in ``zone`` for sizes in the middle: so it does for most."""
    sizes = {line.of: middle_of(book.quantities[line.of]) for line in zone.lines if line.of is not None}
    return any(zone.end(value, sizes) is not None for value in ends)
