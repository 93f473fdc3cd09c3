"""A rule of the rulebook as text: its limit in words, where it applies, its texts and sources."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from fitcheck.report.terminal import Paint, plain
from fitcheck.rulebooks.cases import demo_cases, table_cases
from fitcheck.text.format import clause_in_words, contexts_in_words, limit_in_words
from rules import Rulebook, shipped_rulebook
from rules.model.records import JoinedRule, Rule

__all__ = ["case_lines", "rule_lines", "rule_summary"]

_WIDTH = 96


def rule_summary(rule_id: str, book: Rulebook) -> str:
    """One line: id, grade, criterion, when it fires."""
    if rule_id in book.rules:
        rule = book.rules[rule_id]
        when = f"{rule.quantity.replace('_', ' ')} {limit_in_words(rule, book)}"
    else:
        when = " and ".join(clause_in_words(clause, book) for clause in book.joined[rule_id].when)
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
        if remedy.without:
            yield from _field("without", "; ".join(_bars(remedy)))
        if remedy.places:
            yield from _field("only at", ", ".join(remedy.places))
        if remedy.unless:
            yield from _field("silent when", f"{' or '.join(remedy.unless)} fires")
    elif isinstance(remedy, JoinedRule):
        for clause in remedy.when:
            yield from _field("joins", clause_in_words(clause, book))
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


def case_lines(rule_id: str, book: Rulebook) -> Iterator[str]:
    """Where the rule can be seen at work, line by line: cases are judged by the shipped rulebook."""
    demos = list(demo_cases(rule_id))
    judge = "" if book.digest == shipped_rulebook().digest else " by the shipped rulebook"
    text = f"it fires{judge} in these (fitcheck demo NAME shows one)" if demos else f"none of them fires it{judge}"
    yield from _field("demo cases", text)
    for demo in demos:
        yield from _item(f"{demo.name}: at {', '.join(demo.places)}; decision {demo.decision.replace('_', ' ')}")
    tables = list(table_cases(rule_id))
    for file in dict.fromkeys(case.file for case in tables):
        yield from _field("table cases", f"tests/cases/{file}{judge and ', judged' + judge}")
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
        text, _WIDTH, initial_indent=f"  {name:<12}", subsequent_indent=" " * 14, break_long_words=False
    )


def _bars(rule: Rule) -> Iterator[str]:
    for name, words in (rule.without or {}).items():
        yield " ".join((name.replace("_", " "), " or ".join(words))).strip()
