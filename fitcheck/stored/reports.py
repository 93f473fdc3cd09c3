"""Reports of what is kept: a foot with what became of it, or a visit.

The frame of a report, its labels and what things are called, is in the language that is given; findings, actions and
cautions stay as they were answered.
"""

from __future__ import annotations

from collections.abc import Iterable

from fitcheck.assessment.models import Assessment
from fitcheck.marking.overrides import Override
from fitcheck.marking.sheet import ChangeView
from fitcheck.report.html import FootToReport, RecordReference, foot_report, visit_report
from fitcheck.rulebooks.selection import book_as_stored
from fitcheck.stored.assessment import StoredFoot
from fitcheck.stored.marks import CannotMark, sheet_of
from fitcheck.stored.visit import StoredVisit
from fitcheck.text.catalogue import messages_of
from rules import Rulebook

__all__ = ["report_of_foot", "report_of_visit"]


def report_of_foot(
    foot: StoredFoot,
    overrides: list[Override],
    corrected_by: Iterable[str],
    book: Rulebook,
    language: str,
    *,
    paper: bool = False,
) -> str:
    """The report of a kept foot as HTML; ``book`` marks."""
    return foot_report(_to_report(foot, overrides, corrected_by, book_as_stored(book, language)), paper=paper)


def report_of_visit(visit: StoredVisit, book: Rulebook, language: str, *, paper: bool = False) -> str:
    """The report of a kept visit as HTML: the feet that count at it, and its pairs as ``book`` compares them."""
    localized = book_as_stored(book, language)
    feet = [_to_report(foot, visit.overrides_of(foot), (), localized) for foot in visit.counting]
    return visit_report(visit.assessed_by(localized), feet, localized, paper=paper)


def _to_report(
    foot: StoredFoot, overrides: list[Override], corrected_by: Iterable[str], book: Rulebook
) -> FootToReport:
    record = foot.record
    return FootToReport(
        fitting=foot.fitting,
        assessment=foot.assessment,
        book=book_as_stored(foot.book, book.language),
        kept=RecordReference(record.number, record.digest, record.about, tuple(corrected_by)),
        changes=_changes(foot.assessment, overrides, book),
    )


def _changes(assessment: Assessment, overrides: Iterable[Override], book: Rulebook) -> tuple[ChangeView, ...]:
    """Every change that assessors made in the marks of a kept assessment, and what came of it.

    Where ``book`` cannot mark it, each is told as it was asked for.
    """
    every_override = list(overrides)
    if not every_override:
        return ()
    try:
        return sheet_of(assessment, every_override, book).changes
    except CannotMark as error:
        return tuple(
            ChangeView(
                override=each.id,
                assessor=each.assessor.id,
                created=each.created,
                what=change.what,
                about=change.target,
                reason=change.reason,
                applied=False,
                say=messages_of(book).say("marks.not_applied", why=error),
            )
            for each in every_override
            for change in each.changes
        )
