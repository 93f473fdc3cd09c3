"""A rulebook as one page for assessors: every criterion, quantity, limit, text and source, without code.

Its own texts are in the language of the book.
"""

from __future__ import annotations

from collections.abc import Iterable

from fitcheck.report.markdown import Page, escaped
from fitcheck.report.rule_sections import (
    joined_section,
    marking_section,
    number_of,
    quantity_name,
    rule_section,
    sourced,
    words_of,
)
from fitcheck.text.catalogue import capital, messages_of
from fitcheck.text.format import place_title, shown
from rules import Rulebook
from rules.model.figures import Parameter
from rules.model.records import Need, Quantity, Stage

__all__ = ["rulebook_page"]

_GRADES = ("minor", "major", "critical")
_STANDINGS = ("published", "second hand", "common practice", "own practice", "from memory", "own choice")
_COMMAND = "fitcheck rules page"


def rulebook_page(book: Rulebook) -> str:
    """The page of ``book`` in Markdown, the same for the same book."""
    page = Page()
    page.heading(1, escaped(book.title))
    _about(page, book)
    page.contents()
    _how_to_read(page, book)
    _required(page, book)
    _decisions(page, book)
    for criterion_id in book.criteria:
        _criterion(page, book, criterion_id)
    own_less = [name for name in book.quantities if name not in book.criterion_of]
    kept = [name for name in own_less if book.quantities[name].judged is False]
    _part(page, book, "sizes")
    _quantities(page, book, [name for name in own_less if not book.rules_of[name] and name not in kept])
    if kept:
        _part(page, book, "kept")
        _quantities(page, book, kept)
    _part(page, book, "checks")
    _quantities(page, book, [name for name in own_less if book.rules_of[name]])
    _part(page, book, "joined")
    for rule_id in book.joined:
        joined_section(page, book, rule_id)
    _working_order(page, book)
    _uncertainties(page, book)
    _parameters(page, book)
    marking_section(page, book)
    _cautions(page, book)
    _sources(page, book)
    return page.text()


def _part(page: Page, book: Rulebook, name: str) -> None:
    """The heading of a part, and what the part is."""
    say = messages_of(book).say
    page.heading(2, say(f"rulebook.part.{name}"))
    page.paragraph(say(f"rulebook.is.{name}"))


def _about(page: Page, book: Rulebook) -> None:
    say = messages_of(book).say
    command = _COMMAND if book.original is None else f"{_COMMAND} --language {book.language}"
    page.paragraph(say("rulebook.about", version=escaped(book.version), command=command))
    if book.inherits is not None:
        page.paragraph(say("rulebook.inherits", book=escaped(book.inherits)))
    for rule_id, why in book.off.items():
        page.item(say("rulebook.off", rule=rule_id, why=escaped(why)))
    page.paragraph(say("rulebook.digest", digest=book.digest))
    page.paragraph(say("rulebook.no_diagnosis"))


def _how_to_read(page: Page, book: Rulebook) -> None:
    messages = messages_of(book)
    say = messages.say
    _part(page, book, "how_to_read")
    page.paragraph(say("rulebook.grades.title"))
    for grade in _GRADES:
        page.field(messages.named("grade", grade), say(f"rulebook.grades.{grade}"))
    page.paragraph(say("rulebook.standings.title"))
    for status in _STANDINGS:
        page.field(messages.named("status", status), say(f"rulebook.standings.{status}"))
    page.paragraph(say("rulebook.levels.title"))
    for name, level in book.levels.items():
        probability = number_of(level.probability, book)
        meaning, standing = escaped(level.meaning), sourced(level, book)
        page.field(
            messages.word(name),
            say("rulebook.levels.level", probability=probability, meaning=meaning, standing=standing),
        )
    page.paragraph(say("rulebook.is.braces"))


def _required(page: Page, book: Rulebook) -> None:
    messages = messages_of(book)
    _part(page, book, "required")
    for stage, criteria in book.required.items():
        if stage in book.judges.stages:
            titles = messages.listed(book.criteria[name].title for name in criteria)
            page.field(messages.say(f"rulebook.stage.{stage}"), f"{titles}.")
    hot = messages.listed(book.criteria[name].title for name in book.required_when_hot_fitted)
    if hot:
        page.field(messages.say("rulebook.stages.hot"), messages.say("rulebook.stages.besides", criteria=hot))


def _decisions(page: Page, book: Rulebook) -> None:
    if not book.decisions:
        return
    say = messages_of(book).say
    _part(page, book, "decisions")
    for stage, step in book.decisions.items():
        if stage in book.judges.stages:
            page.field(say(f"rulebook.stage.{stage}"), say("rulebook.stages.go_on", step=say(f"next.{step}")))
    page.field(say("rulebook.stage.finished"), say("rulebook.stages.release"))


def _criterion(page: Page, book: Rulebook, criterion_id: str) -> None:
    criterion, messages = book.criteria[criterion_id], messages_of(book)
    say = messages.say
    page.heading(2, escaped(criterion.title))
    page.paragraph(escaped(criterion.looks_at))
    page.field(say("rulebook.criterion.stages"), f"{_stages(criterion.stages, book)}.")
    required = [stage for stage, names in book.required.items() if criterion_id in names]
    stages = _stages(required, book) or say("rulebook.stages.none")
    if criterion_id in book.required_when_hot_fitted and "finished" not in required:
        stages = say("rulebook.stages.and_hot", stages=stages) if required else say("rulebook.stages.only_hot")
    page.field(say("rulebook.criterion.required"), f"{stages}.")
    page.field(say("rulebook.criterion.needs"), say("rulebook.criterion.all_of"))
    for need in criterion.needs:
        page.item(_need(need, book), depth=1)
    joined = [rule_id for rule_id, rule in book.joined.items() if rule.criterion == criterion_id]
    if joined:
        page.field(say("rulebook.criterion.joined"), f"{messages.listed(f'[{rule_id}]' for rule_id in joined)}.")
    _quantities(page, book, book.quantities_of[criterion_id])


def _stages(stages: Iterable[Stage], book: Rulebook) -> str:
    messages = messages_of(book)
    return messages.listed(messages.say(f"rulebook.stage_within.{stage}") for stage in stages)


def _need(need: Need, book: Rulebook) -> str:
    messages = messages_of(book)
    what = messages.listed((quantity_name(name, book) for name in need.any_of), "or")
    if isinstance(need.at, str):
        asked = messages.say(f"rulebook.need.{need.at}", what=what)
    else:
        places = messages.listed(place_title(place, book) for place in need.at)
        asked = messages.say("rulebook.need.at", what=what, places=places)
    if not need.stages:
        return asked
    return messages.say("rulebook.need.only", need=asked, stages=_stages(need.stages, book))


def _quantities(page: Page, book: Rulebook, names: Iterable[str]) -> None:
    messages = messages_of(book)
    say = messages.say
    for name in names:
        quantity = book.quantities[name]
        page.heading(3, capital(quantity_name(name, book)))
        page.paragraph(f"{capital(escaped(quantity.title))}.")
        page.field(say("rulebook.quantity.how"), escaped(quantity.how))
        places = messages.listed(_place(place, book) for place in quantity.places)
        page.field(say("rulebook.quantity.where"), f"{places}.")
        _read_as(page, book, name, quantity)
        if quantity.once:
            page.item(say("rulebook.quantity.once"))
        rules = book.rules_of[name]
        if not rules:
            page.item(say("rulebook.quantity.no_limit"))
        for rule_id, _ in rules:
            rule_section(page, book, rule_id)


def _place(place: str, book: Rulebook) -> str:
    every_nail = messages_of(book).say("rulebook.quantity.every_nail")
    return every_nail if place == "nail" else escaped(place_title(place, book))


def _read_as(page: Page, book: Rulebook, name: str, quantity: Quantity) -> None:
    messages = messages_of(book)
    say = messages.say
    if quantity.kind != "number":
        page.field(say("rulebook.quantity.seen_as"), f"{words_of(quantity.vocabulary, book)}.")
        return
    unit = quantity.unit or "1"
    page.field(say("rulebook.quantity.unit"), f"{_unit(unit, book)}.")
    record = book.methods[quantity.method or "rule"] if unit == "mm" else book.instruments.get(unit)
    if record is not None:
        u, how = _size(record.u, unit, book), escaped(record.title)
        page.field(say("rulebook.quantity.u"), say("rulebook.quantity.u_is", u=u, how=how))
    if quantity.range is not None:
        least, most = (_size(end, unit, book) for end in quantity.range)
        page.field(
            say("rulebook.quantity.range"),
            say(
                "rulebook.quantity.range_is",
                least=least,
                most=most,
                basis=escaped(quantity.range_basis or ""),
                standing=messages.named("status", quantity.range_status or ""),
            ),
        )
    words = book.eye_words.get(name)
    if words:
        page.field(say("rulebook.quantity.eye"), say("rulebook.quantity.see_eye", words=messages.listed(words, "or")))


def _unit(unit: str, book: Rulebook) -> str:
    return messages_of(book).texts.get(f"rulebook.unit.{unit}", unit)


def _size(value: float, unit: str, book: Rulebook) -> str:
    return f"{number_of(value, book)}{shown(0, unit, book.language).removeprefix('0')}"


def _working_order(page: Page, book: Rulebook) -> None:
    say = messages_of(book).say
    _part(page, book, "order")
    for step in ("draw_nails", "after_stop"):
        page.field(say(f"rulebook.work.{step}"), escaped(book.steps[step].text))


def _uncertainties(page: Page, book: Rulebook) -> None:
    _part(page, book, "uncertainty")
    for record in (*book.methods.values(), *book.instruments.values()):
        page.field(escaped(record.title), f"{_size(record.u, record.unit, book)}. {sourced(record, book)}")
    if book.eye_words:
        _part(page, book, "eye")
    for name, words in book.eye_words.items():
        for word, meaning in words.items():
            figures = f"{_size(meaning.value, meaning.unit, book)}, u {_size(meaning.u, meaning.unit, book)}"
            page.field(f"{quantity_name(name, book)} {escaped(word)}", f"{figures}. {sourced(meaning, book)}")


def _parameters(page: Page, book: Rulebook) -> None:
    say = messages_of(book).say
    page.heading(2, say("rulebook.part.parameters"))
    for parameter in book.parameters.values():
        page.field(capital(escaped(parameter.title)), f"{_figures(parameter, book)}. {sourced(parameter, book)}")
    page.heading(2, say("rulebook.part.remarks"))
    for remark in book.remarks.values():
        page.item(escaped(remark.text))


def _figures(parameter: Parameter, book: Rulebook) -> str:
    say, parts = messages_of(book).say, []
    if parameter.low is not None and parameter.high is not None:
        low, high = number_of(parameter.low, book), number_of(parameter.high, book)
        parts.append(say("rulebook.figures.range", low=low, high=high))
    if parameter.value is not None:
        parts.append(number_of(parameter.value, book))
    unit = "" if parameter.unit == "1" else f" {_unit(parameter.unit, book)}"
    printed = say("rulebook.rule.printed", printed=escaped(parameter.printed)) if parameter.printed else ""
    return f"{say('rulebook.figures.mean').join(parts)}{unit}{printed}"


def _cautions(page: Page, book: Rulebook) -> None:
    say = messages_of(book).say
    page.heading(2, say("rulebook.part.cautions"))
    for which, stops in (("critical", True), ("other", False)):
        page.paragraph(say(f"rulebook.cautions.{which}"))
        for caution in book.cautions.values():
            if caution.stops is stops:
                page.item(escaped(caution.text))
    page.paragraph(say("rulebook.cautions.every"))
    for standing in book.standing.values():
        page.item(escaped(standing.text))


def _sources(page: Page, book: Rulebook) -> None:
    say = messages_of(book).say
    page.heading(2, say("rulebook.part.sources"))
    for source_id, source in book.sources.items():
        page.heading(3, f"{source_id}: {escaped(source.title)}", source_id)
        for name, text in (
            ("by", source.authors),
            ("year", source.year),
            ("used_for", source.note),
            ("licence", source.licence),
        ):
            if text is not None:
                page.field(say(f"rulebook.sources.{name}"), f"{escaped(text).rstrip('.')}.")
