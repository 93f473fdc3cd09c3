"""A rule of the rulebook as text: its limit in words, where it applies, its texts and sources."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from fitcheck.report.terminal import Paint, plain
from fitcheck.sentences import place_title, shown
from rules import Rulebook
from rules.model import Clause, Context, JoinedRule, Limit, Rule, Scaled

__all__ = ["contexts_in_words", "limit_in_words", "rule_lines", "rule_summary"]

_WIDTH = 96


def limit_in_words(limited: Rule | Clause, book: Rulebook) -> str:
    """When the rule fires, as a phrase: 'below 0 mm', 'above 2 x shoe thickness', 'is proud'."""
    if isinstance(limited, Rule) and limited.is_ is not None:
        return f"is {' or '.join(limited.is_)}"
    edge = isinstance(limited, Rule) and limited.edge is not None
    unit = limited.unit or "1"
    ends = []
    if limited.low is not None:
        ends.append(f"{'at or below' if edge else 'below'} {_limit(limited.low, unit, book)}")
    if limited.high is not None:
        ends.append(f"{'at or above' if edge else 'above'} {_limit(limited.high, unit, book)}")
    return " or ".join(ends)


def _limit(limit: Limit, unit: str, book: Rulebook) -> str:
    if not isinstance(limit, Scaled):
        # Limits stand as the book has them, not rounded as readings are.
        return f"{limit:g}{shown(0, unit).removeprefix('0')}"
    times = "" if limit.times == 1 else f"{limit.times:g} x "
    plus = (
        ""
        if limit.plus == 0
        else f" {'+' if limit.plus > 0 else '-'} {abs(limit.plus):g}{shown(0, unit).removeprefix('0')}"
    )
    return f"{times}{book.quantities[limit.of].title}{plus}"


def contexts_in_words(contexts: tuple[Context, ...] | None) -> str:
    """Where a rule applies, as a phrase."""
    if contexts is None:
        return "everywhere"
    choices = []
    for context in contexts:
        named = context.model_dump(exclude_none=True)
        choices.append(
            ", ".join(f"{key.replace('_', ' ')} {' or '.join(words)}" for key, words in named.items()).replace(
                "base_", "base "
            )
        )
    return "; or ".join(choices)


def rule_summary(rule_id: str, book: Rulebook) -> str:
    """One line: id, grade, criterion, when it fires."""
    if rule_id in book.rules:
        rule = book.rules[rule_id]
        when = f"{rule.quantity.replace('_', ' ')} {limit_in_words(rule, book)}"
    else:
        when = " and ".join(_clause(clause, book) for clause in book.joined[rule_id].when)
    return f"{rule_id:<30} {book.remedy(rule_id).grade:<9} {book.criterion_for(rule_id) or 'any':<11} {when}"


def rule_lines(rule_id: str, book: Rulebook, *, paint: Paint = plain) -> Iterator[str]:
    """The rule in full, line by line."""
    remedy = book.remedy(rule_id)
    yield paint(rule_id)
    criterion = book.criterion_for(rule_id)
    yield from _field("criterion", "any: a cross-check" if criterion is None else book.criteria[criterion].title)
    yield from _field("grade", remedy.grade)
    if isinstance(remedy, Rule):
        quantity = book.quantities[remedy.quantity]
        yield from _field("looks at", quantity.title)
        yield from _field("how", quantity.how)
        yield from _field(
            "fires when", limit_in_words(remedy, book) + (f" (printed as {remedy.printed})" if remedy.printed else "")
        )
        yield from _field("level", f"{remedy.fires}: {book.levels[remedy.fires].meaning}")
        if remedy.with_:
            yield from _field(
                "only with",
                "; ".join(f"{name.replace('_', ' ')} {' or '.join(words)}" for name, words in remedy.with_.items()),
            )
        if remedy.places:
            yield from _field("only at", ", ".join(remedy.places))
        if remedy.unless:
            yield from _field("silent when", f"{' or '.join(remedy.unless)} fires")
    elif isinstance(remedy, JoinedRule):
        for clause in remedy.when:
            yield from _field("joins", _clause(clause, book))
    yield from _field("applies", contexts_in_words(remedy.applies))
    yield from _field("finding", remedy.finding)
    for stage, action in remedy.action.items():
        yield from _field(stage.replace("_", " "), action)
    yield from _field("caution", book.cautions[remedy.caution].text)
    yield from _field("standing", f"{remedy.status}: {remedy.basis}")
    for source_id in remedy.sources:
        source = book.sources[source_id]
        parts = [source.authors, source.title, source.year, source.note, source.licence]
        yield from _field(f"[{source_id}]", ". ".join(part.rstrip(".") for part in parts if part) + ".")


def _clause(clause: Clause, book: Rulebook) -> str:
    place = f" at {place_title(clause.at, book)}" if clause.at else ""
    if clause.findings is not None:
        return f"{' or '.join(clause.findings)}{place}"
    name = (clause.reading or "").replace("_", " ")
    if clause.clear_of is not None:
        return f"{name}{place} clear of {', '.join(clause.clear_of)}"
    return f"{name}{place} {limit_in_words(clause, book)} ({clause.fires})"


def _field(name: str, text: str) -> Iterator[str]:
    yield from textwrap.wrap(
        text, _WIDTH, initial_indent=f"  {name:<12}", subsequent_indent=" " * 14, break_long_words=False
    )
