"""One assessment as it was kept: what was answered, the fitting as it was received, and a rulebook to show it by.

Whatever is made of a kept answer is made of what :func:`assessment_of` reads; nothing else takes its JSON apart.
"""

from __future__ import annotations

from dataclasses import dataclass

from pydantic import ValidationError
from pydantic_core import from_json

from fitcheck.assessment.brief import BriefAssessment, brief_of
from fitcheck.assessment.following import Following, completed_fitting
from fitcheck.assessment.models import Assessment
from fitcheck.drawing import Form, draw
from fitcheck.errors import BadInput, FitcheckError
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.own_readings import of_this_book
from fitcheck.fitting.strict_json import loads
from fitcheck.records.answer_shape import SECOND, shape_of
from fitcheck.records.record import Record
from fitcheck.rulebooks.selection import book_as_stored, book_of
from fitcheck.stored.first_shape import read_first
from rules import Rulebook, shipped_rulebook
from rules.loading.translation import BASE

__all__ = ["StoredFoot", "Unreadable", "assessment_of", "brief_of_record", "foot_of", "stored_language"]


class Unreadable(FitcheckError):
    """A record whose content this version does not read: another version of the tool, or an import, wrote it."""


def assessment_of(record: Record) -> Assessment:
    """What was answered to the fitting that is kept as ``record``, whose content is not erased. Raises Unreadable."""
    try:
        return _assessment_in(record.answer)
    except ValidationError as error:
        raise Unreadable(f"The answer kept as {record.id} is not one that this version reads.") from error


def _assessment_in(answer: bytes) -> Assessment:
    """The assessment in the JSON of ``answer``, by the reader of its shape. Raises ValidationError.

    The second shape is that of today. The first answer of a third shall say so by a key that this one never has
    (``fitcheck.records.answer_shape``); the models of today are then written out beside those of the first.
    """
    try:
        document = from_json(answer)
    except ValueError:
        document = None
    if isinstance(document, dict) and shape_of(document) == SECOND:
        return Assessment.model_validate_json(answer)
    return read_first(answer)


def stored_language(record: Record) -> str | None:
    """The language of what was answered (BCP 47); None where this version does not read it."""
    try:
        return assessment_of(record).language or BASE
    except Unreadable:
        return None


@dataclass(frozen=True, slots=True)
class StoredFoot:
    """A kept assessment, ready to be shown."""

    record: Record
    fitting: Fitting
    """Whole: what was received, with what was carried into it."""
    assessment: Assessment
    book: Rulebook
    """The rulebook that judged, where it is at hand; else one that names what it has in common with that one."""

    @property
    def same_book(self) -> bool:
        """Whether ``book`` is the one that judged."""
        return self.assessment.rulebook.digest == self.book.digest

    @property
    def language(self) -> str:
        """The language in which it was answered."""
        return self.assessment.language or (self.book.original or self.book).language

    @property
    def to_assess(self) -> Fitting | Following:
        """What is assessed where it is assessed again: nothing is then said of a second try."""
        carried = self.assessment.carried
        return self.fitting if carried is None else Following(self.fitting, carried, None)

    def drawing(self, *, form: Form = "column", prefix: str = "fitting") -> str:
        """The drawing as SVG; bands only by the very rulebook that judged, words in its language."""
        localized = book_as_stored(self.book, self.assessment.language)
        return draw(self.fitting, self.assessment, localized, form=form, prefix=prefix, any_book=True)

    def unjudged_drawing(self, language: str) -> str:
        """What was read, drawn without what was found."""
        localized = book_as_stored(self.book, language)
        return draw(self.fitting, self.assessment, localized, any_book=True, unjudged=True)


def brief_of_record(record: Record, book: Rulebook) -> BriefAssessment:
    """What was answered, in short; ``book`` as for ``foot_of``. Raises Unreadable."""
    assessment = assessment_of(record)
    return brief_of(assessment, book_as_stored(book_of(assessment.rulebook.digest, book), assessment.language))


def foot_of(record: Record, book: Rulebook) -> StoredFoot:
    """The assessment that is kept as ``record``, whose content is not erased.

    It is shown by ``book`` unless one of the rulebooks that come with the tool judged it.

    Raises Unreadable.
    """
    assessment = assessment_of(record)
    judge = book_of(assessment.rulebook.digest, book)
    try:
        document = loads(record.received)
        # It was taken when it was kept: a rulebook with narrower ranges since then must not make it unreadable.
        carried = assessment.carried or ()
        try:
            fitting = completed_fitting(of_this_book(document, judge), carried, judge)
        except BadInput:
            judge = shipped_rulebook()
            fitting = completed_fitting(of_this_book(document, judge), carried, judge)
    except BadInput as error:
        raise Unreadable(f"The fitting kept as {record.id} is not one that this version reads.") from error
    if (assessment.foot, assessment.stage) != (fitting.foot, fitting.stage):
        raise Unreadable(f"The fitting and the answer kept as {record.id} are not of one foot and stage.")
    return StoredFoot(record, fitting, assessment, judge)
