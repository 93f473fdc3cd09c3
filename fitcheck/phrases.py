"""Limits and contexts of the rulebook as phrases."""

from __future__ import annotations

from fitcheck.sentences import place_title, shown
from rules import Rulebook
from rules.model import Clause, Context, Limit, Rule, Scaled

__all__ = ["clause_in_words", "contexts_in_words", "limit_in_words", "one_limit_in_words"]


def limit_in_words(limited: Rule | Clause, book: Rulebook) -> str:
    """When the rule fires, as a phrase: 'below 0 mm', 'above 2 x shoe thickness', 'is proud'."""
    if isinstance(limited, Rule) and limited.is_ is not None:
        return f"is {' or '.join(limited.is_)}"
    edge = isinstance(limited, Rule) and limited.edge is not None
    unit = limited.unit or "1"
    ends = []
    if limited.low is not None:
        ends.append(f"{'at or below' if edge else 'below'} {one_limit_in_words(limited.low, unit, book)}")
    if limited.high is not None:
        ends.append(f"{'at or above' if edge else 'above'} {one_limit_in_words(limited.high, unit, book)}")
    return " or ".join(ends)


def one_limit_in_words(limit: Limit, unit: str, book: Rulebook) -> str:
    """One end of a limit in ``unit``, as the book has it and not rounded as readings are."""
    suffix = shown(0, unit).removeprefix("0")
    if not isinstance(limit, Scaled):
        return f"{limit:g}{suffix}"
    times = "" if limit.times == 1 else f"{limit.times:g} x "
    plus = "" if limit.plus == 0 else f" {'+' if limit.plus > 0 else '-'} {abs(limit.plus):g}{suffix}"
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


def clause_in_words(clause: Clause, book: Rulebook) -> str:
    """One of the things that hold together in a joined rule, as a phrase."""
    place = f" at {place_title(clause.at, book)}" if clause.at else ""
    if clause.findings is not None:
        return f"{' or '.join(clause.findings)}{place}"
    name = (clause.reading or "").replace("_", " ")
    if clause.clear_of is not None:
        return f"{name}{place} clear of {', '.join(clause.clear_of)}"
    return f"{name}{place} {limit_in_words(clause, book)} ({clause.fires})"
