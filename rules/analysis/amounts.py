"""Amounts that would not put a foot right: the reading that they lead to is as grave a finding again."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from rules.analysis.contexts import context_text
from rules.analysis.fault import Fault
from rules.analysis.intervals import IntervalSet, Point
from rules.analysis.overlaps import shown
from rules.model.records import RANK, Limit
from rules.number_line import line_of
from rules.rulebook import Rulebook

__all__ = ["amounts"]


def amounts(book: Rulebook, interval_sets: Iterable[IntervalSet]) -> Iterator[Fault]:
    """For each rule with an amount: whether there are circumstances in which it is wrong for shoes of every size."""
    reported: set[str] = set()
    for interval_set in interval_sets:
        for rule_id, rule in interval_set.rules:
            if rule.amount is None or rule_id in reported:
                continue
            wrong = _wrong(interval_set, rule_id, rule.amount.to)
            if wrong is not None:
                reported.add(rule_id)
                point, again = wrong
                yield Fault(
                    book.files[rule_id],
                    f"rules.{rule_id}.amount.to",
                    "amount-leaves-a-finding",
                    f"whoever goes by this amount comes to {shown(interval_set, point)}, which {again!r} finds as "
                    f"grave again ({context_text(interval_set.situation)})",
                    "Lead to a reading that is let pass",
                    interval_set.example(point),
                )


def _wrong(interval_set: IntervalSet, rule_id: str, to: Limit) -> tuple[Point, str] | None:
    """Where the amount leads to and what is found there, if it is as grave for all sizes."""
    line = line_of(to)
    first = None
    for sizes in interval_set.sizes:
        if line is None or (line.of is not None and line.of not in sizes):
            return None  # it follows a size that no limit here follows: nothing is known of it
        point = Point(line.at(sizes), sizes)
        rank = RANK[interval_set.book.rules[rule_id].grade]
        again = next(
            (name for name in interval_set.fired(point) if RANK[interval_set.book.rules[name].grade] >= rank), None
        )
        if again is None:
            return None
        first = first or (point, again)
    return first
