"""The engine's findings held against the limits once more, by plain arithmetic.

A fault of the engine could lose a finding or make one up.  Where its single findings are not just those that the
limits give, or a joined one rests on something that was not found, nothing of the run may be used.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from functools import lru_cache

from rules.engine.evaluator import Firing, Found
from rules.engine.facts import Reading, Table
from rules.engine.in_force import in_force
from rules.errors import EngineFault
from rules.limits import guard_factor, millionths
from rules.model import Clause, Limit, Rule, Scaled
from rules.rulebook import Rulebook
from rules.situation import Situation, admits, side_of, spot_of

__all__ = ["verify"]


def verify(firings: Iterable[Firing], table: Table, situation: Situation, book: Rulebook) -> None:
    """Check ``firings`` against the readings in ``table`` (by quantity and place).

    Raises EngineFault when a finding, single or joined, is missing or made up.
    """
    firings = list(firings)
    fired = {(firing.rule, firing.place) for firing in firings}
    single = {(rule, place) for rule, place in fired if rule in book.rules}
    expected = set(_expected(table, situation, book))
    if single != expected:
        rule, place = min(single ^ expected)
        verdict = "found what the limits do not give" if (rule, place) in single else "missed what the limits give"
        raise EngineFault(f"the rules engine {verdict}: {rule} at {place}")
    for rule, place in _joined_findings(fired, table, situation, book):
        if (rule, place) not in fired:
            raise EngineFault(f"the rules engine missed what belongs together: {rule} at {place}")
    for firing in firings:
        if firing.rule in book.joined and not (
            firing.bases and all(_stands(firing, basis, fired, table, book) for basis in firing.bases)
        ):
            raise EngineFault(f"the rules engine joined what was not found: {firing.rule} at {firing.place}")


def _stands(
    firing: Firing, basis: tuple[Found, ...], fired: set[tuple[str, str]], table: Table, book: Rulebook
) -> bool:
    clauses = book.joined[firing.rule].when
    return len(basis) == len(clauses) and all(
        (found.name, found.place) in fired and found.name in clause.findings
        if clause.findings is not None
        else found.name == clause.reading and (found.name, found.place) in table
        for clause, found in zip(clauses, basis, strict=True)
    )


def _joined_findings(
    fired: set[tuple[str, str]], table: Table, situation: Situation, book: Rulebook
) -> Iterator[tuple[str, str]]:
    """The joined findings that must stand, given all that were found."""
    guard = guard_factor(book.levels["guarded"].probability)
    for rule_id, joined, clauses in in_force(book, situation).joined:
        if all(_meeting(clause, fired, table, situation, book, guard) for clause in clauses):
            first = _meeting(joined.when[0], fired, table, situation, book, guard)
            for place in first if joined.place == "of_first" else ["foot"]:
                yield rule_id, place


def _meeting(
    clause: Clause, fired: set[tuple[str, str]], table: Table, situation: Situation, book: Rulebook, guard: float
) -> list[str]:
    """The places at which something meets one clause of a joined rule."""
    if clause.findings is not None:
        return [
            place
            for rule, place in fired
            if rule in clause.findings and (clause.at is None or spot_of(place) == clause.at)
        ]
    return [
        place
        for (quantity, place), reading in table.items()
        if quantity == clause.reading
        and spot_of(place) == clause.at
        and _reading_meets(clause, reading, table, situation, book, guard)
    ]


def _reading_meets(
    clause: Clause, reading: Reading, table: Table, situation: Situation, book: Rulebook, guard: float
) -> bool:
    value = reading.value
    if clause.clear_of is None:
        return not isinstance(value, str) and _passes(clause, value, millionths(value), reading.u, table, guard)
    for rule in (book.rules[rule_id] for rule_id in clause.clear_of):
        if admits(rule.applies, situation, side_of(reading.place)) and (
            value in (rule.is_ or ())
            if isinstance(value, str)
            else _passes(rule, value, millionths(value), reading.u, table, guard)
        ):
            return False
    return True


def _expected(table: Table, situation: Situation, book: Rulebook) -> Iterator[tuple[str, str]]:
    """The single findings that the limits give."""
    guard = guard_factor(book.levels["guarded"].probability)
    rules_in_force = in_force(book, situation)
    for (key, (_, place, value, u, _, _)), clear in zip(
        table.items(), map(rules_in_force.clear.__getitem__, table), strict=True
    ):
        # Most readings lie well within every limit, by more than any rounding, and are done with at a glance.
        words, low, high, sure_low, sure_high, others = clear
        if isinstance(value, str):
            if value not in words:
                continue
            passed = [
                (rule_id, rule)
                for rule_id, rule in rules_in_force.judging(*key)
                if rule.is_ is not None and value in rule.is_
            ]
        else:
            moved = guard * u
            within = low < value < high and sure_low < value - moved and value + moved < sure_high
            if within and not others:
                continue
            passed = [
                (rule_id, rule)
                for rule_id, rule in (others if within else rules_in_force.judging(*key))
                if _passes(rule, value, millionths(value), u, table, guard)
            ]
        for rule_id, rule in passed:
            if not any(other in rule.unless for other, _ in passed) and _companions(rule, place, table):
                yield rule_id, place


def _companions(rule: Rule, place: str, table: Table) -> bool:
    return all(
        (name, place) in table and table[name, place].value in words for name, words in (rule.with_ or {}).items()
    )


def _passes(rule: Rule | Clause, value: float, plain: int, u: float, table: Table, guard: float) -> bool:
    simple = rule.fires == "simple"
    for limit, end in ((rule.low, -1), (rule.high, 1)):
        if limit is None:
            continue
        if simple and not isinstance(limit, Scaled):
            beyond: int | None = end * (plain - _exact(limit))
        else:
            beyond = _beyond(value, u, limit, table, 0.0 if simple else guard, end)
        if beyond is not None and (beyond > 0 or (beyond == 0 and isinstance(rule, Rule) and rule.edge is not None)):
            return True
    return False


def _beyond(value: float, u: float, limit: Limit, table: Table, factor: float, end: int) -> int | None:
    """How far, in millionths, the reading (moved to its guarded bound) lies past a limit.

    None where the limit follows a dimension that is not known.
    """
    if isinstance(limit, Scaled):
        dimension = table.get((limit.of, "foot"))
        if dimension is None:
            return None
        value -= limit.times * float(dimension.value)
        u = math.hypot(u, limit.times * dimension.u)
        limit = limit.plus
    return end * (millionths(value + end * factor * u) - _exact(limit))


@lru_cache(maxsize=1024)
def _exact(limit: float) -> int:
    return millionths(limit)
