"""A visit as it was kept: its assessments that no later one corrects, and what assessors changed in their marks."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Final

from fitcheck.errors import BadInput, Problem
from fitcheck.marking import VisitSheet, sheet_of_visit
from fitcheck.marking.overrides import Override
from fitcheck.pairs.visit import Assessed, VisitAssessment, visit_of
from fitcheck.records import RecordFilter, Store
from fitcheck.stored.assessment import StoredFoot, foot_of
from fitcheck.stored.marks import CannotMark, overrides_of
from rules import Rulebook

__all__ = ["MOST_OF_A_VISIT", "StoredVisit", "stored_visit"]

MOST_OF_A_VISIT: Final = 200
"""Assessments of one visit; four feet at three stages, each corrected again and again, are far fewer."""

_IMPORTED: Final = "imported"


@dataclass(frozen=True)
class StoredVisit:
    """All that counts of a visit."""

    feet: tuple[StoredFoot, ...]
    """In the order of keeping."""
    overrides: tuple[Override, ...]
    visit: VisitAssessment
    origins: Mapping[str, str]
    """Where each imported assessment came from, by its id."""

    @cached_property
    def counting(self) -> list[StoredFoot]:
        """The feet that count at the visit, in its order."""
        by_id = {foot.assessment.id: foot for foot in self.feet}
        return [by_id[foot.assessment] for foot in self.visit.feet]

    def overrides_of(self, foot: StoredFoot) -> list[Override]:
        """What was changed in the marks of that foot."""
        return [each for each in self.overrides if each.about == foot.assessment.id]

    @property
    def language(self) -> str | None:
        """The language in which all that counts was answered; None where it is not one."""
        languages = {foot.language for foot in self.counting}
        return languages.pop() if len(languages) == 1 else None

    def assessed_by(self, book: Rulebook) -> VisitAssessment:
        """The visit with its pairs by ``book``. Raises EngineFault."""
        return _together(self.feet, self.origins, book)

    def sheet(self, book: Rulebook) -> VisitSheet:
        """The marks of the visit by the scheme of ``book``. Raises CannotMark."""
        assessments = {foot.assessment.id: foot.assessment for foot in self.feet}
        try:
            return sheet_of_visit(self.visit, assessments, book, self.overrides)
        except BadInput as error:
            raise CannotMark(error.problems[0].detail) from error


def stored_visit(store: Store, visit: str, book: Rulebook) -> StoredVisit | None:
    """The ``visit`` as it was kept, pairs by ``book``, in its language; None where nothing was kept, or all was erased.

    A fitting is read by the rulebook that judged it where that one is at hand: see ``foot_of``.

    Raises BadInput where what was kept is not one visit of one horse, Unreadable, EngineFault and StoreError.
    """
    record_filter = RecordFilter(visit=visit, kind="assessment", superseded=False)
    records = store.records(record_filter, newest_first=False, limit=MOST_OF_A_VISIT + 1)
    if not records:
        return None
    if len(records) > MOST_OF_A_VISIT:
        detail = f"There are more than {MOST_OF_A_VISIT} assessments of this visit."
        raise BadInput([Problem("visit", None, f"at most {MOST_OF_A_VISIT} assessments", detail)])
    feet = tuple(foot_of(record, book.original or book) for record in records)
    origins = store.origins_of(record.id for record in records if record.source is not None)
    overrides = overrides_of(store, [foot.assessment.id for foot in feet])
    return StoredVisit(feet, tuple(overrides), _together(feet, origins, book), origins)


def _together(feet: Iterable[StoredFoot], origins: Mapping[str, str], book: Rulebook) -> VisitAssessment:
    return visit_of([_assessed(foot, origins) for foot in feet], book)


def _assessed(foot: StoredFoot, origins: Mapping[str, str]) -> Assessed:
    record = foot.record
    # Without a note where an import came from, it is taken to be of the one other store that there is.
    origin = "" if record.source is None else origins.get(record.id, _IMPORTED)
    return Assessed(foot.fitting, foot.assessment, record.number, origin)
