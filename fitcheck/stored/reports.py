"""Reports of what is kept: a foot with what became of it, or a visit.

The frame of a report, its labels and what things are called, is in the language that is given; findings, actions and
cautions stay as they were answered.
"""

from __future__ import annotations

from collections.abc import Iterable

from fitcheck.marking.overrides import Override
from fitcheck.report.html import FootToReport, RecordReference, foot_report, visit_report
from fitcheck.rulebooks.selection import book_as_stored
from fitcheck.stored.assessment import StoredFoot
from fitcheck.stored.marks import changes_of
from fitcheck.stored.visit import StoredVisit
from rules import Rulebook

__all__ = ["report_of_foot", "report_of_visit"]


def report_of_foot(
    foot: StoredFoot, overrides: list[Override], corrected_by: Iterable[str], book: Rulebook, language: str
) -> str:
    """The report of a kept foot as HTML; ``book`` marks."""
    return foot_report(_to_report(foot, overrides, corrected_by, book_as_stored(book, language)))


def report_of_visit(visit: StoredVisit, book: Rulebook, language: str) -> str:
    """The report of a kept visit as HTML: the feet that count at it, and its pairs as ``book`` compares them."""
    localized = book_as_stored(book, language)
    feet = [_to_report(foot, visit.overrides_of(foot), (), localized) for foot in visit.counting]
    return visit_report(visit.assessed_by(localized), feet, localized)


def _to_report(
    foot: StoredFoot, overrides: list[Override], corrected_by: Iterable[str], book: Rulebook
) -> FootToReport:
    record = foot.record
    return FootToReport(
        fitting=foot.fitting,
        assessment=foot.assessment,
        book=book_as_stored(foot.book, book.language),
        kept=RecordReference(record.number, record.digest, record.about, tuple(corrected_by)),
        changes=changes_of(record, overrides, book),
    )
