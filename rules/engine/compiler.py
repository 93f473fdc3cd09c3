"""From rulebook records to durable-rules definitions: what each rule looks for on the facts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from rules.engine.conditions import All, AnyOf, Compare, Condition, OneOf, negated, pattern
from rules.errors import RulebookError
from rules.limits import EVEN_CHANCE, bar_field, known_field, millionths, outside_of, term_of
from rules.model.records import Clause, Context, Fires, Limit, Rule, Scaled
from rules.rulebook import Rulebook
from rules.situation import VOCABULARY

__all__ = ["KINDS", "PatternFields", "joined_patterns", "pattern_fields", "single_pattern"]

KINDS = ("place", "finding")
"""The kinds of fact: what was read at a place, and what a rule found."""

_KNOWN = ("yes",)
_NO = ("no",)
_YES_NO = ("yes", "no")


def single_pattern(book: Rulebook, rule_id: str) -> dict[str, Any]:
    """The pattern of a single rule on the facts of places.

    Raises RulebookError when it can never hold.
    """
    rule = book.rules[rule_id]
    parts: list[Condition] = [_at(book, rule), _contexts(rule.applies), _beyond_of(book, rule_id), _unbarred(rule)]
    for quantity, words in (rule.with_ or {}).items():
        parts.append(OneOf(quantity, words, (*book.quantities[quantity].vocabulary, "")))
    parts.extend(_silent(book, other) for other in rule.unless)
    return _satisfiable(pattern("place", All(tuple(parts))), book.files[rule_id], f"rules.{rule_id}")


def joined_patterns(book: Rulebook, rule_id: str) -> list[dict[str, Any]]:
    """The patterns of a joined rule, one a clause, under the aliases ``c0``, ``c1``, ...

    Raises RulebookError when one can never hold.
    """
    joined = book.joined[rule_id]
    patterns = []
    for number, clause in enumerate(joined.when):
        if clause.findings is not None:
            kind, condition = "finding", _found(book, clause.findings, clause.at)
        else:
            kind, condition = "place", _read(book, clause)
        condition = All((condition, _contexts(joined.applies)))
        patterns.append(
            {f"c{number}": _satisfiable(pattern(kind, condition), book.files[rule_id], f"joined.{rule_id}")}
        )
    return patterns


def _satisfiable(written: dict[str, Any] | None, file: str, key: str) -> dict[str, Any]:
    if written is None:
        raise RulebookError(file, key, "this rule can never fire", "Correct its limits or contexts")
    return written


def _contexts(contexts: tuple[Context, ...] | None) -> Condition:
    if contexts is None:
        return All(())
    choices = []
    for context in contexts:
        named = context.model_dump(exclude_none=True)
        # 'none' is the side of the toe and the sole, so that naming both sides still excludes those.
        choices.append(
            All(
                tuple(
                    OneOf(key, words, (*VOCABULARY[key], *(("none",) if key == "side" else ())))
                    for key, words in named.items()
                )
            )
        )
    return AnyOf(tuple(choices))


def _at(book: Rulebook, rule: Rule) -> Condition:
    return OneOf("spot", book.places_of(rule), book.quantities[rule.quantity].places)


def _beyond_of(book: Rulebook, rule_id: str) -> Condition:
    """Past an end of the rule's range, or by chance past either where the book asks for that."""
    rule = book.rules[rule_id]
    beyond = _beyond(book, rule)
    outside = outside_of(rule_id, rule) if book.judges.by_chance else None
    if outside is None:
        return beyond
    likely: Condition = Compare(outside.field, "gt", EVEN_CHANCE)
    for limit in (outside.low, outside.high):
        likely = _when_known(limit, likely)
    return AnyOf((beyond, likely))


def _beyond(book: Rulebook, limited: Rule | Clause) -> Condition:
    if isinstance(limited, Rule):
        quantity, edge = limited.quantity, limited.edge
        if limited.is_ is not None:
            # The empty word stands for 'not read', so that naming every word still asks for a reading.
            return OneOf(quantity, limited.is_, (*book.quantities[quantity].vocabulary, ""))
    else:
        quantity, edge = limited.reading or "", None
    fires: Fires = limited.fires or "simple"
    ends = []
    for end, limit in (("low", limited.low), ("high", limited.high)):
        if limit is not None:
            term, constant = term_of(quantity, limit, fires, end)
            operator = ("lt" if end == "low" else "gt") + ("e" if edge else "")
            ends.append(_when_known(limit, Compare(term.field, operator, millionths(constant))))
    return AnyOf(tuple(ends))


def _when_known(limit: Limit, past: Condition) -> Condition:
    """``past``, and that the dimension which the limit follows is known: without it the limit cannot be passed.

    Saying so, instead of leaning on the missing field, keeps the negation exact.
    """
    if not isinstance(limit, Scaled):
        return past
    return All((OneOf(known_field(limit.of), _KNOWN, _YES_NO), past))


def _silent(book: Rulebook, rule_id: str) -> Condition:
    """Where the rule does not fire, its contexts granted."""
    return AnyOf((negated(_beyond_of(book, rule_id)), negated(_unbarred(book.rules[rule_id]))))


def _unbarred(rule: Rule) -> Condition:
    """Where nothing was read that the rule is to be without."""
    return All(tuple(OneOf(bar_field(*bar), _NO, _YES_NO) for bar in (rule.without or {}).items()))


def _found(book: Rulebook, rule_ids: tuple[str, ...], at: str | None) -> Condition:
    found = OneOf("rule", rule_ids, (*book.rules, *book.joined))
    return found if at is None else All((found, OneOf("spot", (at,), (*book.places,))))


def _read(book: Rulebook, clause: Clause) -> Condition:
    quantity = clause.reading or ""
    at = OneOf("spot", (clause.at or "",), (*book.places,))
    if clause.clear_of is None:
        return All((at, _beyond(book, clause)))
    return All((at, *(_clear(book, quantity, rule_id) for rule_id in clause.clear_of)))


def _clear(book: Rulebook, quantity: str, rule_id: str) -> Condition:
    """Where the reading exists and the rule does not fire on it, in any context."""
    read = _present(book, quantity)
    return All((read, AnyOf((_silent(book, rule_id), negated(_contexts(book.rules[rule_id].applies))))))


def _present(book: Rulebook, quantity: str) -> Condition:
    """Holds for every fact that has the reading: any number is negative or not."""
    record = book.quantities[quantity]
    if record.kind != "number":
        return OneOf(quantity, record.vocabulary, (*record.vocabulary, ""))
    term, zero = term_of(quantity, 0.0, "simple", "low")
    return AnyOf((Compare(term.field, "lt", millionths(zero)), Compare(term.field, "gte", millionths(zero))))


PatternFields = Mapping[str, frozenset[str]]
"""Fields that some pattern names, each with the words that it is held against (none for a number)."""


def pattern_fields(patterns: Iterable[Mapping[str, Any]]) -> PatternFields:
    """The fields and words that any of ``patterns`` names.

    >>> pattern_fields([{"$and": [{"kind": "place"}, {"$lt": {"width": 0}}]}])
    {'kind': frozenset({'place'}), 'width': frozenset()}
    """
    named: dict[str, set[str]] = {}
    for each in patterns:
        _walk(each, named)
    return {field: frozenset(words) for field, words in named.items()}


def _walk(pattern: Mapping[str, Any], named: dict[str, set[str]]) -> None:
    for key, value in pattern.items():
        if key in {"$and", "$or"}:
            for part in value:
                _walk(part, named)
        elif key.startswith("$"):
            for field in value:
                named.setdefault(field, set())
        else:
            named.setdefault(key, set()).add(value)
