"""The marking scheme on a rulebook's page: marks, what takes them off, bands, and the sentences of a sheet."""

from __future__ import annotations

from fitcheck.report.page_text import Page, escaped
from fitcheck.report.rule_sections import sourced
from rules import Rulebook, marking_of

__all__ = ["marking_section"]

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
