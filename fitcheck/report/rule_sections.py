"""One rule of a rulebook as a section of its page: when it is found, where it applies, what to do, on whose word."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from fitcheck.report.markdown import Page, escaped
from fitcheck.text.format import contexts_in_words, limit_in_words, one_limit_in_words, place_title
from rules import Rulebook, marking_of
from rules.loading.marking_records import Chosen
from rules.model.figures import Sourced
from rules.model.records import Clause, Remedy, Stage

__all__ = ["STAGES", "joined_section", "listed", "marking_section", "plain_name", "rule_section", "sourced"]

STAGES: Final[dict[Stage, str]] = {
    "dressed": "Dressed",
    "hot_fit": "Tried hot",
    "nailed": "Nailed",
    "finished": "Finished",
}


def plain_name(name: str) -> str:
    """A quantity or a word as it is said."""
    return name.replace("_", " ")


def listed(parts: Iterable[str], last: str = "and") -> str:
    """Several in one phrase.

    >>> listed(["toe", "sole", "frog"], "or")
    'toe, sole or frog'
    """
    *before, end = [*parts] or [""]
    return f"{', '.join(before)} {last} {end}" if before else end


def sourced(record: Sourced | Chosen) -> str:
    """Standing, sources and basis of a figure, in a phrase with links."""
    return f"{record.status[0].upper()}{record.status[1:]}: {_links(record.sources)}. {escaped(record.basis)}"


def _links(names: Iterable[str]) -> str:
    return ", ".join(f"[{name}]" for name in names)


def rule_section(page: Page, book: Rulebook, rule_id: str) -> None:
    """One single rule."""
    rule = book.rules[rule_id]
    page.heading(4, f"{rule_id} ({rule.grade})", rule_id)
    printed = f" (printed as {escaped(rule.printed)})" if rule.printed else ""
    besides = "".join(
        f", with {plain_name(name)} {listed(map(plain_name, words), 'or')}"
        for name, words in (rule.with_ or {}).items()
    )
    besides += "".join(
        f", where no {plain_name(name)} {listed(map(plain_name, words), 'or')}".rstrip() + " was read"
        for name, words in (rule.without or {}).items()
    )
    when = plain_name(limit_in_words(rule, book)) if rule.is_ is not None else limit_in_words(rule, book)
    page.field("Found when", f"{plain_name(rule.quantity)} {escaped(when)}{printed}{besides}.")
    if rule.is_ is None:
        page.field("Fires", f"{rule.fires}.")
    if rule.places:
        places = ("every nail" if place == "nail" else place_title(place, book) for place in rule.places)
        page.field("Only at", f"{listed(places)}.")
    page.field("Applies to", f"{_contexts(rule)}.")
    if rule.unless:
        page.field("Silent where", f"{listed((f'[{name}]' for name in rule.unless), 'or')} fires.")
    page.field("Standing", sourced(rule))
    _texts(page, book, rule)
    if rule.amount is not None and rule.unit != "word":
        page.field("To aim for", f"{escaped(one_limit_in_words(rule.amount.to, rule.unit, book))}.")


def _contexts(remedy: Remedy) -> str:
    return "every foot and stage" if remedy.applies is None else escaped(contexts_in_words(remedy.applies))


def _texts(page: Page, book: Rulebook, remedy: Remedy) -> None:
    page.field("Finding", escaped(remedy.finding))
    for stage, action in remedy.action.items():
        page.field(f"To do, {STAGES[stage].lower()}", escaped(action))
    shoe = "; once nails are in, the shoe comes off for it" if remedy.shoe_off else ""
    page.field("Order of work", f"{remedy.order}{shoe}.")
    page.field("Caution", escaped(book.cautions[remedy.caution].text))


def joined_section(page: Page, book: Rulebook, rule_id: str) -> None:
    """One joined rule."""
    joined = book.joined[rule_id]
    page.heading(3, f"{rule_id} ({joined.grade})", rule_id)
    page.field("Found when", "all of these hold:")
    for clause in joined.when:
        page.item(_clause(clause, book), depth=1)
    page.field("Criterion", f"{escaped(book.criteria[joined.criterion].title)}.")
    page.field("Applies to", f"{_contexts(joined)}.")
    page.field("Told of", "the foot." if joined.place == "foot" else "each place at which the first of them holds.")
    page.field("Standing", sourced(joined))
    _texts(page, book, joined)
    if joined.replaces_actions:
        others = f", and of {_links(joined.replaces)}" if joined.replaces else ""
        page.item(f"What is to be done for it stands instead of that for the findings that it joins{others}.")


def _clause(clause: Clause, book: Rulebook) -> str:
    where = f" at {place_title(clause.at, book)}" if clause.at else ""
    if clause.findings is not None:
        return f"{listed((f'[{name}]' for name in clause.findings), 'or')} was found{where}"
    title = f"{plain_name(clause.reading or '')}{where}"
    if clause.clear_of is not None:
        return f"{title} was read, and is clear of {listed(f'[{name}]' for name in clause.clear_of)}"
    printed = f" (printed as {escaped(clause.printed)})" if clause.printed else ""
    return f"{title} is {escaped(limit_in_words(clause, book))}{printed}, {clause.fires}"


_CRITICAL = "leaves no mark at all, whatever else was found. That is so in every book."


def marking_section(page: Page, book: Rulebook) -> None:
    """The part of the page on marks."""
    marking = marking_of(book)
    scheme = marking.scheme
    page.heading(2, "Marks")
    page.paragraph(escaped(marking.says["decides_nothing"].text))
    page.paragraph(escaped(scheme.how))
    page.field(escaped(scheme.title), f"{scheme.total} marks where it was fitted hot. {sourced(scheme)}")
    page.paragraph("Marks of each criterion:")
    for name, record in marking.marks.items():
        page.field(escaped(book.criteria[name].title), f"{record.marks}. {sourced(record)}")
    page.paragraph("What a finding takes off its criterion:")
    for grade, deduction in marking.deductions.items():
        page.field(grade, f"{deduction.percent} % of the marks. {sourced(deduction)}")
    page.field("critical", _CRITICAL)
    page.paragraph("What a mark is called, by its share of the marks that could be had:")
    for _, band in marking.best_first:
        page.field(
            escaped(band.title),
            f"from {band.from_} %, with nothing graver than {band.worst}. {escaped(band.meaning)} {sourced(band)}",
        )
    page.paragraph("What progress over time is reckoned with:")
    for figure in marking.progress.values():
        title = escaped(figure.title)
        page.field(f"{title[0].upper()}{title[1:]}", f"{figure.value}. {sourced(figure)}")
    page.paragraph("What a sheet of marks says:")
    for say in marking.says.values():
        page.item(escaped(say.text))
