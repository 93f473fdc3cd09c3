"""A rule of the rulebook as text: its limit in words, where it applies, its texts and sources."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping

from fitcheck.report.terminal import Paint, plain
from fitcheck.rulebooks.cases import demo_cases, table_cases
from fitcheck.text.catalogue import Messages, messages_of
from fitcheck.text.format import clause_in_words, contexts_in_words, limit_in_words
from rules import Rulebook, shipped_rulebook
from rules.model.records import JoinedRule, Rule

__all__ = ["case_lines", "rule_lines", "rule_summary"]

_WIDTH = 96


def rule_summary(rule_id: str, book: Rulebook) -> str:
    """One line: id, grade, criterion, when it fires."""
    messages = messages_of(book)
    if rule_id in book.rules:
        rule = book.rules[rule_id]
        when = f"{messages.named('quantity', rule.quantity)} {limit_in_words(rule, book)}"
    else:
        when = messages.joined((clause_in_words(clause, book) for clause in book.joined[rule_id].when), "and")
    grade = messages.named("grade", book.remedy(rule_id).grade)
    return f"{rule_id:<30} {grade:<9} {book.criterion_for(rule_id) or messages.say('rules.any'):<11} {when}"


def rule_lines(rule_id: str, book: Rulebook, *, paint: Paint = plain) -> Iterator[str]:
    """The rule in full, line by line."""
    remedy = book.remedy(rule_id)
    messages = messages_of(book)
    say = messages.say
    yield paint(rule_id)
    criterion = book.criterion_for(rule_id)
    title = say("rules.cross_check") if criterion is None else book.criteria[criterion].title
    yield from _field(say("rules.show.criterion"), title)
    yield from _field(say("rules.show.grade"), messages.named("grade", remedy.grade))
    if isinstance(remedy, Rule):
        quantity = book.quantities[remedy.quantity]
        printed = say("rules.printed", printed=remedy.printed) if remedy.printed else ""
        yield from _field(say("rules.show.quantity"), quantity.title)
        yield from _field(say("rules.show.how"), quantity.how)
        yield from _field(say("rules.show.when"), limit_in_words(remedy, book) + printed)
        yield from _field(say("rules.show.level"), f"{remedy.fires}: {book.levels[remedy.fires].meaning}")
        if remedy.with_:
            yield from _field(say("rules.show.only_with"), "; ".join(_words(remedy.with_, messages)))
        if remedy.without:
            yield from _field(say("rules.show.without"), "; ".join(_words(remedy.without, messages)))
        if remedy.places:
            yield from _field(say("rules.show.only_at"), ", ".join(remedy.places))
        if remedy.unless:
            rules = messages.joined(remedy.unless, "or")
            yield from _field(say("rules.show.silent"), say("rules.fires", rules=rules))
    elif isinstance(remedy, JoinedRule):
        for clause in remedy.when:
            yield from _field(say("rules.show.joins"), clause_in_words(clause, book))
    yield from _field(say("rules.show.applies"), contexts_in_words(remedy.applies, book.language))
    yield from _field(say("rules.show.finding"), remedy.finding)
    for stage, action in remedy.action.items():
        yield from _field(say(f"rules.stage.{stage}"), action)
    yield from _field(say("rules.show.caution"), book.cautions[remedy.caution].text)
    yield from _field(say("rules.show.standing"), f"{messages.named('status', remedy.status)}: {remedy.basis}")
    for source_id in remedy.sources:
        source = book.sources[source_id]
        parts = [source.authors, source.title, source.year, source.note, source.licence]
        yield from _field(f"[{source_id}]", ". ".join(part.rstrip(".") for part in parts if part) + ".")


def case_lines(rule_id: str, book: Rulebook) -> Iterator[str]:
    """Where the rule can be seen at work, line by line: cases are judged by the shipped rulebook."""
    demos = list(demo_cases(rule_id))
    messages = messages_of(book)
    say = messages.say
    judge = "" if book.digest == shipped_rulebook().digest else say("rules.cases.shipped")
    yield from _field(say("rules.show.demos"), say(f"rules.cases.{'fires' if demos else 'none'}", judge=judge))
    for demo in demos:
        decision = say(f"rules.decision.{demo.decision}")
        yield from _item(say("rules.cases.demo", name=demo.name, places=", ".join(demo.places), decision=decision))
    tables = list(table_cases(rule_id))
    judged = say("rules.cases.judged", judge=judge) if judge else ""
    for file in dict.fromkeys(case.file for case in tables):
        yield from _field(say("rules.show.tables"), f"tests/cases/{file}{judged}")
        for case in tables:
            if case.file == file:
                yield from _item(case.name)


def _item(text: str) -> Iterator[str]:
    yield from textwrap.wrap(
        text,
        _WIDTH,
        initial_indent=" " * 14 + "- ",
        subsequent_indent=" " * 16,
        break_long_words=False,
        break_on_hyphens=False,
    )


def _field(name: str, text: str) -> Iterator[str]:
    yield from textwrap.wrap(
        text, _WIDTH, initial_indent=f"  {name:<11} ", subsequent_indent=" " * 14, break_long_words=False
    )


def _words(words_by_quantity: Mapping[str, tuple[str, ...]], messages: Messages) -> Iterator[str]:
    """Each quantity with the words of it."""
    for name, words in words_by_quantity.items():
        said = messages.joined((messages.word(word, spaced=False) for word in words), "or")
        yield f"{messages.named('quantity', name)} {said}".strip()
