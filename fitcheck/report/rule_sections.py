"""One rule of a rulebook as a section of its page: when it is found, where it applies, what to do, on whose word."""

from __future__ import annotations

from collections.abc import Iterable

from fitcheck.report.markdown import Page, escaped
from fitcheck.text.catalogue import capital, messages_of
from fitcheck.text.format import contexts_in_words, limit_in_words, one_limit_in_words, place_title
from rules import Rulebook, marking_of
from rules.loading.marking_records import Chosen
from rules.model.figures import Sourced
from rules.model.records import Clause, Remedy

__all__ = [
    "joined_section",
    "marking_section",
    "number_of",
    "quantity_name",
    "rule_section",
    "sourced",
    "words_of",
]


def quantity_name(name: str, book: Rulebook) -> str:
    """A quantity as it is said."""
    return messages_of(book).named("quantity", name)


def words_of(words: Iterable[str], book: Rulebook) -> str:
    """Words of a closed list, one or another, as they are said."""
    messages = messages_of(book)
    return messages.listed(map(messages.word, words), "or")


def number_of(value: float, book: Rulebook) -> str:
    """A figure as the book has it, with the decimal mark of its language."""
    return messages_of(book).number(f"{value:g}")


def sourced(record: Sourced | Chosen, book: Rulebook) -> str:
    """Standing, sources and basis of a figure, in a phrase with links."""
    status = capital(messages_of(book).named("status", record.status))
    return f"{status}: {_links(record.sources)}. {escaped(record.basis)}"


def _links(names: Iterable[str]) -> str:
    return ", ".join(f"[{name}]" for name in names)


def _heading(rule_id: str, remedy: Remedy, book: Rulebook) -> str:
    messages = messages_of(book)
    return messages.say("rulebook.rule.heading", rule=rule_id, grade=messages.named("grade", remedy.grade))


def rule_section(page: Page, book: Rulebook, rule_id: str) -> None:
    """One single rule."""
    rule, messages = book.rules[rule_id], messages_of(book)
    say = messages.say
    page.heading(4, _heading(rule_id, rule, book), rule_id)
    printed = say("rulebook.rule.printed", printed=escaped(rule.printed)) if rule.printed else ""
    besides = "".join(
        say("rulebook.rule.with", what=quantity_name(name, book), words=words_of(words, book))
        for name, words in (rule.with_ or {}).items()
    )
    besides += "".join(
        say("rulebook.rule.without", what=quantity_name(name, book), words=words_of(words, book))
        if words
        else say("rulebook.rule.without_any", what=quantity_name(name, book))
        for name, words in (rule.without or {}).items()
    )
    limit = limit_in_words(rule, book)
    when = limit if rule.is_ is None else limit.replace("_", " ")
    page.field(say("rulebook.rule.when"), f"{quantity_name(rule.quantity, book)} {escaped(when)}{printed}{besides}.")
    if rule.is_ is None:
        page.field(say("rulebook.rule.fires"), f"{messages.word(rule.fires)}.")
    if rule.places:
        every_nail = say("rulebook.quantity.every_nail")
        places = (every_nail if place == "nail" else place_title(place, book) for place in rule.places)
        page.field(say("rulebook.rule.only_at"), f"{messages.listed(places)}.")
    page.field(say("rulebook.rule.applies"), f"{_contexts(rule, book)}.")
    if rule.unless:
        others = messages.listed((f"[{name}]" for name in rule.unless), "or")
        page.field(say("rulebook.rule.silent"), say("rulebook.rule.fire", rules=others))
    page.field(say("rulebook.rule.standing"), sourced(rule, book))
    _texts(page, book, rule)
    if rule.amount is not None and rule.unit != "word":
        aim = escaped(one_limit_in_words(rule.amount.to, rule.unit, book))
        page.field(say("rulebook.rule.aim"), f"{aim}.")


def _contexts(remedy: Remedy, book: Rulebook) -> str:
    if remedy.applies is None:
        return messages_of(book).say("rulebook.rule.everywhere")
    return escaped(contexts_in_words(remedy.applies, book.language))


def _texts(page: Page, book: Rulebook, remedy: Remedy) -> None:
    say = messages_of(book).say
    page.field(say("rulebook.rule.finding"), escaped(remedy.finding))
    for stage, action in remedy.action.items():
        page.field(say("rulebook.rule.to_do", stage=say(f"rulebook.stage_within.{stage}")), escaped(action))
    order = say(f"rulebook.order.{remedy.order}")
    page.field(
        say("rulebook.rule.order"), say("rulebook.rule.shoe_off", order=order) if remedy.shoe_off else f"{order}."
    )
    page.field(say("rulebook.rule.caution"), escaped(book.cautions[remedy.caution].text))


def joined_section(page: Page, book: Rulebook, rule_id: str) -> None:
    """One joined rule."""
    joined, say = book.joined[rule_id], messages_of(book).say
    page.heading(3, _heading(rule_id, joined, book), rule_id)
    page.field(say("rulebook.rule.when"), say("rulebook.joined.all_of"))
    for clause in joined.when:
        page.item(_clause(clause, book), depth=1)
    page.field(say("rulebook.joined.criterion"), f"{escaped(book.criteria[joined.criterion].title)}.")
    page.field(say("rulebook.rule.applies"), f"{_contexts(joined, book)}.")
    told_of = "the_foot" if joined.place == "foot" else "first"
    page.field(say("rulebook.joined.told_of"), say(f"rulebook.joined.{told_of}"))
    page.field(say("rulebook.rule.standing"), sourced(joined, book))
    _texts(page, book, joined)
    if joined.replaces_actions and joined.replaces:
        page.item(say("rulebook.joined.replaces_also", others=_links(joined.replaces)))
    elif joined.replaces_actions:
        page.item(say("rulebook.joined.replaces"))


def _clause(clause: Clause, book: Rulebook) -> str:
    messages = messages_of(book)
    say, place = messages.say, place_title(clause.at, book) if clause.at else None
    if clause.findings is not None:
        findings = messages.listed((f"[{name}]" for name in clause.findings), "or")
        if place is None:
            return say("rulebook.joined.found", findings=findings)
        return say("rulebook.joined.found_at", findings=findings, place=place)
    title = quantity_name(clause.reading or "", book)
    if place is not None:
        title = say("rulebook.joined.at", what=title, place=place)
    if clause.clear_of is not None:
        rules = messages.listed(f"[{name}]" for name in clause.clear_of)
        return say("rulebook.joined.clear_of", what=title, rules=rules)
    printed = say("rulebook.rule.printed", printed=escaped(clause.printed)) if clause.printed else ""
    limit, level = escaped(limit_in_words(clause, book)), messages.word(clause.fires or "")
    return say("rulebook.joined.clause", what=title, limit=limit, printed=printed, level=level)


def marking_section(page: Page, book: Rulebook) -> None:
    """The part of the page on marks."""
    marking, messages = marking_of(book), messages_of(book)
    scheme, say = marking.scheme, messages.say
    page.heading(2, say("rulebook.part.marks"))
    page.paragraph(escaped(marking.says["decides_nothing"].text))
    page.paragraph(escaped(scheme.how))
    page.field(escaped(scheme.title), say("rulebook.marks.total", total=scheme.total, standing=sourced(scheme, book)))
    page.paragraph(say("rulebook.marks.criteria"))
    for name, record in marking.marks.items():
        of = say("rulebook.marks.of", marks=record.marks, standing=sourced(record, book))
        page.field(escaped(book.criteria[name].title), of)
    page.paragraph(say("rulebook.marks.deductions"))
    for grade, deduction in marking.deductions.items():
        percent = say("rulebook.marks.percent", percent=deduction.percent, standing=sourced(deduction, book))
        page.field(messages.named("grade", grade), percent)
    page.field(messages.named("grade", "critical"), say("rulebook.marks.critical"))
    page.paragraph(say("rulebook.marks.bands"))
    for _, band in marking.best_first:
        meant = {"meaning": escaped(band.meaning), "standing": sourced(band, book)}
        worst = messages.named("grade", band.worst)
        page.field(escaped(band.title), say("rulebook.marks.band", least=band.from_, worst=worst, **meant))
    page.paragraph(say("rulebook.marks.progress"))
    for figure in marking.progress.values():
        page.field(capital(escaped(figure.title)), f"{number_of(figure.value, book)}. {sourced(figure, book)}")
    page.paragraph(say("rulebook.marks.says"))
    for text in marking.says.values():
        page.item(escaped(text.text))
