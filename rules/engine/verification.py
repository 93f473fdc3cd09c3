"""The engine's findings held against the limits once more, by plain arithmetic.

A fault of the engine, or of the prefilter before it, could lose a finding or make one up.  Where its single findings
are not just those that the limits give, or a joined one rests on something that was not found, nothing of the run may
be used.  Nothing is shared with the prefilter: every reading is held against every limit in force on it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import Final

from rules.engine.evaluator import Firing, Found
from rules.engine.in_force import in_force
from rules.engine.reading import Reading, Table
from rules.errors import EngineFault
from rules.limits import guard_factor
from rules.model.records import Clause, Rule, Scaled
from rules.rulebook import Rulebook
from rules.situation import Situation, admits, side_of, spot_of

__all__ = ["verify"]

_MICRO: Final = 1_000_000
"""Limits and readings are compared in whole millionths of their unit."""
_ON_AN_END: Final = 1e-9
_CLEAR: Final = 1e-5
"""A number that lies further than this inside an end is not past it, however both are rounded."""


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
    if clause.clear_of is None:
        return _is_past(clause, reading, table, guard)
    rules = [book.rules[rule_id] for rule_id in clause.clear_of]
    side = side_of(reading.place)
    return not any(
        admits(rule.applies, situation, side)
        and _is_beyond(rule, reading, table, guard, by_chance=book.judges.by_chance)
        and not _is_barred(rule, reading.place, table)
        for rule in rules
    )


def _expected(table: Table, situation: Situation, book: Rulebook) -> Iterator[tuple[str, str]]:
    """The single findings that the limits give."""
    guard = guard_factor(book.levels["guarded"].probability)
    rules_by_reading, by_chance = _rules_by_reading(book, situation), book.judges.by_chance
    for key, reading in table.items():
        rules = rules_by_reading[key]
        if rules:
            beyond = _beyond(rules, reading, table, guard, by_chance=by_chance)
            for rule_id, rule in beyond.items():
                if beyond.keys().isdisjoint(rule.unless) and _has_companions(rule, reading.place, table):
                    yield rule_id, reading.place


def _beyond(
    rules: Iterable[_RangedRule], reading: Reading, table: Table, guard: float, *, by_chance: bool
) -> dict[str, Rule]:
    """Of the ``rules`` on a reading those that fire on it by itself, if nothing keeps them silent."""
    _, place, value, u, _, _ = reading
    beyond: dict[str, Rule] = {}
    if isinstance(value, str):
        for rule_id, rule, words, _, _ in rules:
            if value in words and not _is_barred(rule, place, table):
                beyond[rule_id] = rule  # noqa: PERF403  (a comprehension is a call for each reading: 20 us in all)
        return beyond
    # Most numbers lie well inside every range, as a look shows: an assessment's check took 160 us without, 95 with it.
    # One standard uncertainty inside both ends the chance of lying past either is under a third.
    margin = max(guard, 1.0) * u + _CLEAR
    for rule_id, rule, _, low, high in rules:
        if low + margin < value < high - margin:
            continue
        if _is_beyond(rule, reading, table, guard, by_chance=by_chance) and not _is_barred(rule, place, table):
            beyond[rule_id] = rule
    return beyond


_RangedRule = tuple[str, Rule, tuple[str, ...], float, float]
"""A rule that judges a reading, its words, and the ends of its range: nothing lies in one that follows a dimension."""


class _RulesByReading(dict[tuple[str, str], tuple[_RangedRule, ...]]):
    """The rules that judge each quantity at each place in one situation, gathered when they are first asked for."""

    def __init__(self, book: Rulebook, situation: Situation) -> None:
        self._in_force = in_force(book, situation)

    def __missing__(self, key: tuple[str, str]) -> tuple[_RangedRule, ...]:
        rules = self._in_force.judging(*key)
        return self.setdefault(key, tuple((rule_id, rule, rule.is_ or (), *_range_of(rule)) for rule_id, rule in rules))


def _rules_by_reading(book: Rulebook, situation: Situation) -> _RulesByReading:
    known: _RulesByReading | None = book.derived.get(("verification", situation))
    if known is None:
        known = book.derived["verification", situation] = _RulesByReading(book, situation)
    return known


def _range_of(rule: Rule) -> tuple[float, float]:
    if isinstance(rule.low, Scaled) or isinstance(rule.high, Scaled):
        return math.inf, -math.inf
    return -math.inf if rule.low is None else rule.low, math.inf if rule.high is None else rule.high


def _has_companions(rule: Rule, place: str, table: Table) -> bool:
    """Whether the words that the rule asks for were read at the same place."""
    return all(
        (name, place) in table and table[name, place].value in words for name, words in (rule.with_ or {}).items()
    )


def _is_barred(rule: Rule, place: str, table: Table) -> bool:
    """Whether what the rule is to be without was read, at the place or of the foot."""
    for name, words in (rule.without or {}).items():
        readings = (table.get((name, place)), table.get((name, "foot")))
        read = next((each for each in readings if each is not None), None)
        if read is not None and (not words or read.value in words):
            return True
    return False


def _is_beyond(rule: Rule, reading: Reading, table: Table, guard: float, *, by_chance: bool) -> bool:
    """Whether the rule looks at a word and the reading is one of its words, or at a number and that is out of range."""
    if rule.is_ is not None:
        return reading.value in rule.is_
    return _is_past(rule, reading, table, guard) or (by_chance and _is_likelier_outside(rule, reading, table))


def _is_past(rule: Rule | Clause, reading: Reading, table: Table, guard: float) -> bool:
    """Whether a number is past an end of the rule's range, in whole millionths; a word is past none.

    A guarded rule looks at the end of the reading's interval; an end that follows a dimension that is not known is
    never passed.
    """
    if isinstance(reading.value, str):
        return False
    for limit, sign in ((rule.low, -1), (rule.high, 1)):
        if limit is None:
            continue
        value, u, end = reading.value, reading.u, limit
        if isinstance(end, Scaled):
            dimension = table.get((end.of, "foot"))
            if dimension is None:
                continue
            value -= end.times * float(dimension.value)
            u = math.hypot(u, end.times * dimension.u)
            end = end.plus
        if rule.fires == "guarded":
            value += sign * guard * u
        if sign * (value - end) < -_CLEAR:
            continue
        beyond = sign * (round(value * _MICRO) - round(end * _MICRO))
        if beyond > 0 or (beyond == 0 and isinstance(rule, Rule) and rule.edge is not None):
            return True
    return False


def _is_likelier_outside(rule: Rule, reading: Reading, table: Table) -> bool:
    """Whether the true value lies more likely than not past one end or the other of a simple limit that has two.

    A reading that is on an end (to 1e-9), or of which an end is not known, is not.
    """
    if rule.low is None or rule.high is None or rule.fires != "simple" or isinstance(reading.value, str):
        return False
    inside = 1.0
    for limit, sign in ((rule.low, -1), (rule.high, 1)):
        distance, u, end = sign * float(reading.value), reading.u, limit
        if isinstance(end, Scaled):
            dimension = table.get((end.of, "foot"))
            if dimension is None:
                return False
            distance -= sign * end.times * float(dimension.value)
            u = math.hypot(u, end.times * dimension.u)
            end = end.plus
        distance -= sign * end
        if abs(distance) <= _ON_AN_END:
            return False
        # The share of a normal distribution that lies past this end.
        inside -= float(distance > 0) if u == 0 else (1 + math.erf(distance / u / math.sqrt(2))) / 2
    return round(inside * _MICRO) < _MICRO // 2
