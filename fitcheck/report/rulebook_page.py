"""A rulebook as one page for assessors: every criterion, quantity, limit, text and source, without code."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from fitcheck.report.markdown import Page, escaped
from fitcheck.report.rule_sections import (
    STAGES,
    joined_section,
    listed,
    marking_section,
    plain_name,
    rule_section,
    sourced,
)
from fitcheck.text.format import place_title, shown
from rules import Rulebook
from rules.model.figures import Parameter
from rules.model.records import Need, Quantity, Stage

__all__ = ["rulebook_page"]

_GRADES: Final = {
    "minor": "let it go, and note it.",
    "major": "put right before the foot is released.",
    "critical": "stop; the horse could be hurt. The foot is examined before anything else is done to it.",
}
_STATUS: Final = {
    "published": "a named source prints the figure.",
    "common practice": "the trade works so; no source prints the figure. A yard that works otherwise is not wrong.",
    "from memory": "written down from memory; the source is still to be checked.",
    "own choice": "chosen for this tool, for marks only; no limit rests on such a choice.",
}
_BRACES: Final = (
    "Words in braces stand for what is filled in for the foot at hand: {side} is medial or lateral, {place} the place, "
    "{places} several, {value} the reading, {size} the same without its sign, {limit} the limit that is passed, {past} "
    "how far it is passed, {amount} how far to go, {word} the word seen."
)


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
    page.heading(2, "Sizes of hoof and shoe")
    page.paragraph("These belong to no criterion. Limits follow them, and computations and joined findings use them.")
    kept = [name for name in own_less if book.quantities[name].judged is False]
    _quantities(page, book, [name for name in own_less if not book.rules_of[name] and name not in kept])
    if kept:
        page.heading(2, "What is kept and not judged yet")
        page.paragraph("These are asked for and kept with the fitting; no rule of this book looks at them.")
        _quantities(page, book, kept)
    page.heading(2, "Checks of one reading against another")
    page.paragraph("These belong to the criterion of whatever they compare.")
    _quantities(page, book, [name for name in own_less if book.rules_of[name]])
    page.heading(2, "Findings that join others")
    page.paragraph("A joined finding stands where all that is listed under it holds on one foot.")
    for rule_id in book.joined:
        joined_section(page, book, rule_id)
    _working_order(page, book)
    _uncertainties(page, book)
    _parameters(page, book)
    marking_section(page, book)
    _cautions(page, book)
    _sources(page, book)
    return page.text()


def _about(page: Page, book: Rulebook) -> None:
    page.paragraph(
        f"Version {escaped(book.version)}. This page is made from the rulebook by the command `fitcheck rules page`: "
        "change the rulebook, never this page."
    )
    if book.inherits is not None:
        page.paragraph(
            f"This book inherits {escaped(book.inherits)} and changes some of it. What it changes is in here."
        )
    for rule_id, why in book.off.items():
        page.item(f"Switched off: {rule_id}. {escaped(why)}")
    page.paragraph(f"Digest of its files: `{book.digest}`.")
    page.paragraph(
        "It is for the fit of nailed shoes. It never diagnoses: where a horse is sore, lame or unwell, stop and call a "
        "veterinary surgeon. Shoeing is for those the local law allows to do it."
    )


def _how_to_read(page: Page, book: Rulebook) -> None:
    page.heading(2, "How to read this page")
    page.paragraph(
        "Each criterion has its readings, and each reading its limits. A limit is named as the tool names it, so that "
        "a finding can be looked up here. A reading on the limit itself is let pass unless it says 'at or'."
    )
    page.paragraph("Grades:")
    for grade, meaning in _GRADES.items():
        page.field(grade, meaning)
    page.paragraph("Standing of a figure:")
    for status, meaning in _STATUS.items():
        page.field(status, meaning)
    page.paragraph("How surely a reading must lie past a limit:")
    for name, level in book.levels.items():
        page.field(
            name,
            f"a probability of {level.probability:g} or more. {escaped(level.meaning)} {sourced(level)}",
        )
    page.paragraph(_BRACES)


def _required(page: Page, book: Rulebook) -> None:
    page.heading(2, "What must be observed at each stage")
    page.paragraph("Without these a foot is not released; what each asks for stands under it.")
    for stage, criteria in book.required.items():
        if stage in book.judges.stages:
            page.field(STAGES[stage], f"{listed(book.criteria[name].title for name in criteria)}.")
    hot = listed(book.criteria[name].title for name in book.required_when_hot_fitted)
    if hot:
        page.field("Finished, and fitted hot", f"{hot} besides.")


def _decisions(page: Page, book: Rulebook) -> None:
    if not book.decisions:
        return
    page.heading(2, "What follows each stage")
    page.paragraph("Where nothing holds the foot up and all that the stage requires was observed:")
    for stage, step in book.decisions.items():
        if stage in book.judges.stages:
            page.field(STAGES[stage], f"go on: {plain_name(step)}.")
    page.field(STAGES["finished"], "release: nothing but a finished foot is good to leave.")


def _criterion(page: Page, book: Rulebook, criterion_id: str) -> None:
    criterion = book.criteria[criterion_id]
    page.heading(2, escaped(criterion.title))
    page.paragraph(escaped(criterion.looks_at))
    page.field("Can be observed", f"{_stages(criterion.stages)}.")
    required = [stage for stage, names in book.required.items() if criterion_id in names]
    stages = _stages(required) or "at no stage"
    if criterion_id in book.required_when_hot_fitted and "finished" not in required:
        stages = f"{_stages(required)}; finished, where it was fitted hot" if required else "finished, where fitted hot"
    page.field("Required", f"{stages}.")
    page.field("Counts as observed", "when all of this was read:")
    for need in criterion.needs:
        page.item(_need(need, book), depth=1)
    joined = [rule_id for rule_id, rule in book.joined.items() if rule.criterion == criterion_id]
    if joined:
        page.field("Joined findings", f"{listed(f'[{rule_id}]' for rule_id in joined)}.")
    _quantities(page, book, book.quantities_of[criterion_id])


def _stages(stages: Iterable[Stage]) -> str:
    return listed(STAGES[stage].lower() for stage in stages)


def _need(need: Need, book: Rulebook) -> str:
    names = listed((plain_name(name) for name in need.any_of), "or")
    if need.at == "anywhere":
        where = "at one place at least"
    elif need.at == "each_branch":
        where = "at one hole at least of each branch"
    elif need.at == "every_nail":
        where = "at every nail, and at one nail at least"
    elif need.at == "every_clip":
        where = "at every clip"
    else:
        where = f"at {listed(place_title(place, book) for place in need.at)}"
    when = f" ({_stages(need.stages)} only)" if need.stages else ""
    return f"{names} {where}{when}"


def _quantities(page: Page, book: Rulebook, names: Iterable[str]) -> None:
    for name in names:
        quantity = book.quantities[name]
        page.heading(3, f"{plain_name(name)[0].upper()}{plain_name(name)[1:]}")
        page.paragraph(f"{escaped(quantity.title[0].upper())}{escaped(quantity.title[1:])}.")
        page.field("How", escaped(quantity.how))
        page.field("Where", f"{listed(_place(place, book) for place in quantity.places)}.")
        _read_as(page, book, name, quantity)
        if quantity.once:
            page.item("Read at one of these places, it is not missed at the others.")
        rules = book.rules_of[name]
        if not rules:
            page.item("No limit of its own.")
        for rule_id, _ in rules:
            rule_section(page, book, rule_id)


def _place(place: str, book: Rulebook) -> str:
    return "every nail" if place == "nail" else escaped(place_title(place, book))


def _read_as(page: Page, book: Rulebook, name: str, quantity: Quantity) -> None:
    if quantity.kind != "number":
        page.field("Seen as", f"{listed(map(plain_name, quantity.vocabulary), 'or')}.")
        return
    unit = quantity.unit or "1"
    page.field("Read in", f"{_unit(unit)}.")
    record = book.methods[quantity.method or "rule"] if unit == "mm" else book.instruments.get(unit)
    if record is not None:
        page.field("Standard uncertainty where none is stated", f"{_size(record.u, unit)} ({escaped(record.title)}).")
    if quantity.range is not None:
        least, most = (_size(end, unit) for end in quantity.range)
        page.field("Possible", f"{least} to {most}. {escaped(quantity.range_basis or '')} ({quantity.range_status})")
    words = book.eye_words.get(name)
    if words:
        page.field("Words of the eye", f"{listed(words, 'or')}; see [Words of the eye].")


def _unit(unit: str) -> str:
    return {"1": "a plain number", "deg": "degrees", "degC": "°C", "d": "days", "mm/month": "mm a month"}.get(
        unit, unit
    )


def _size(value: float, unit: str) -> str:
    return f"{value:g}{shown(0, unit).removeprefix('0')}"


def _working_order(page: Page, book: Rulebook) -> None:
    page.heading(2, "Order of work")
    page.paragraph(
        "What is to be put right is told in this order: welfare, iron, foot, nails, finish. With a critical finding "
        "only the welfare of the horse is acted on. Minor findings are noted, not acted on."
    )
    page.field("Before anything that needs the shoe off, once nails are in", escaped(book.steps["draw_nails"].text))
    page.field("After a stop", escaped(book.steps["after_stop"].text))


def _uncertainties(page: Page, book: Rulebook) -> None:
    page.heading(2, "How sure a reading is")
    page.paragraph("Standard uncertainty by how it is read, where none is stated with the reading.")
    for record in (*book.methods.values(), *book.instruments.values()):
        page.field(escaped(record.title), f"{_size(record.u, record.unit)}. {sourced(record)}")
    if book.eye_words:
        page.heading(2, "Words of the eye")
        page.paragraph("What a word stands for, with its standard uncertainty u.")
    for name, words in book.eye_words.items():
        for word, meaning in words.items():
            figures = f"{_size(meaning.value, meaning.unit)}, u {_size(meaning.u, meaning.unit)}"
            page.field(f"{plain_name(name)} {escaped(word)}", f"{figures}. {sourced(meaning)}")


def _parameters(page: Page, book: Rulebook) -> None:
    page.heading(2, "Figures that computations reckon with")
    for parameter in book.parameters.values():
        title = escaped(parameter.title)
        page.field(f"{title[0].upper()}{title[1:]}", f"{_figures(parameter)}. {sourced(parameter)}")
    page.heading(2, "What is said with computed readings")
    for remark in book.remarks.values():
        page.item(escaped(remark.text))


def _figures(parameter: Parameter) -> str:
    parts = []
    if parameter.low is not None and parameter.high is not None:
        parts.append(f"{parameter.low:g} to {parameter.high:g}")
    if parameter.value is not None:
        parts.append(f"{parameter.value:g}")
    unit = "" if parameter.unit == "1" else f" {_unit(parameter.unit)}"
    printed = f" (printed as {escaped(parameter.printed)})" if parameter.printed else ""
    return f"{', mean '.join(parts)}{unit}{printed}"


def _cautions(page: Page, book: Rulebook) -> None:
    page.heading(2, "Cautions")
    page.paragraph("With critical findings:")
    for caution in book.cautions.values():
        if caution.stops:
            page.item(escaped(caution.text))
    page.paragraph("With other findings:")
    for caution in book.cautions.values():
        if not caution.stops:
            page.item(escaped(caution.text))
    page.paragraph("With every assessment:")
    for standing in book.standing.values():
        page.item(escaped(standing.text))


def _sources(page: Page, book: Rulebook) -> None:
    page.heading(2, "Sources")
    for source_id, source in book.sources.items():
        page.heading(3, f"{source_id}: {escaped(source.title)}", source_id)
        for name, text in (
            ("By", source.authors),
            ("Year", source.year),
            ("Used for", source.note),
            ("Licence", source.licence),
        ):
            if text is not None:
                page.field(name, f"{escaped(text).rstrip('.')}.")
