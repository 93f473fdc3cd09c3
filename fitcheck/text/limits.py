"""Limits and contexts of the rulebook as phrases."""

from __future__ import annotations

from fitcheck.text.catalogue import ENGLISH, messages_in, messages_of
from fitcheck.text.format import figure, place_title
from rules import Rulebook
from rules.model import Clause, Context, Limit, Rule, Scaled

__all__ = ["clause_in_words", "contexts_in_words", "limit_in_words", "one_limit_in_words"]


def limit_in_words(limited: Rule | Clause, book: Rulebook) -> str:
    """When the rule fires, as a phrase: 'below 0 mm', 'above 2 x shoe thickness', 'is proud'."""
    messages = messages_of(book)
    if isinstance(limited, Rule) and limited.is_ is not None:
        words = messages.joined((messages.word(word, spaced=False) for word in limited.is_), "or")
        return messages.say("phrase.is", words=words)
    edge = isinstance(limited, Rule) and limited.edge is not None
    unit = limited.unit or "1"
    ends = (
        messages.say(f"phrase.{'at_or_' if edge else ''}{side}", limit=one_limit_in_words(limit, unit, book))
        for side, limit in (("below", limited.low), ("above", limited.high))
        if limit is not None
    )
    return messages.joined(ends, "or")


def one_limit_in_words(limit: Limit, unit: str, book: Rulebook) -> str:
    """One end of a limit in ``unit``, as the book has it and not rounded as readings are."""
    if not isinstance(limit, Scaled):
        return figure(limit, unit, book.language)
    times = "" if limit.times == 1 else f"{messages_of(book).number(f'{limit.times:g}')} x "
    plus = f" {'+' if limit.plus > 0 else '-'} {figure(abs(limit.plus), unit, book.language)}" if limit.plus else ""
    return f"{times}{book.quantities[limit.of].title}{plus}"


def contexts_in_words(contexts: tuple[Context, ...] | None, language: str = ENGLISH) -> str:
    """Where a rule applies, as a phrase."""
    messages = messages_in(language)
    if contexts is None:
        return messages.say("phrase.everywhere")
    choices = (
        ", ".join(
            messages.say(
                "phrase.context",
                key=messages.named("context", key),
                words=messages.joined((messages.word(word, spaced=False) for word in words), "or"),
            )
            for key, words in context.model_dump(exclude_none=True).items()
        )
        for context in contexts
    )
    return messages.texts["phrase.or_else"].join(choices)


def clause_in_words(clause: Clause, book: Rulebook) -> str:
    """One of the things that hold together in a joined rule, as a phrase."""
    messages = messages_of(book)
    if clause.findings is not None:
        what = messages.joined(clause.findings, "or")
    else:
        what = messages.named("quantity", clause.reading or "")
    if clause.at:
        what = messages.say("phrase.at", what=what, place=place_title(clause.at, book))
    if clause.findings is not None:
        return what
    if clause.clear_of is not None:
        return messages.say("phrase.clear_of", what=what, rules=", ".join(clause.clear_of))
    level = messages.word(clause.fires or "", spaced=False)
    return messages.say("phrase.clause", what=what, limit=limit_in_words(clause, book), level=level)
