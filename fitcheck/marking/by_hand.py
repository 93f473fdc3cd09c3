"""What an assessor marks with his own eyes, before he has seen what the tool says: a grade for each criterion.

Kept beside the assessment; it changes nothing of it and nothing of the marks that count. Where the assessor still
differs when he has seen the tool's marks, an override says so with its reason (`fitcheck.marking.overrides`).
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Iterator
from fractions import Fraction
from typing import Annotated, Final, Literal

from pydantic import Field

from fitcheck.assessment.models import Assessment, Output, RulebookIdentity
from fitcheck.documented import Instant, Uuid
from fitcheck.errors import BadInput, Problem
from fitcheck.fitting.identity import Identifier
from fitcheck.fitting.model_base import Model
from fitcheck.fitting.models import Assessor
from fitcheck.fitting.validation import parsed_as
from fitcheck.marking.apply_overrides import Applied
from fitcheck.marking.deductions import HUNDREDTHS, in_marks
from fitcheck.vocabulary import now
from rules import Rulebook, marking_of
from rules.model.records import Grade

__all__ = [
    "LONGEST_COMMENT",
    "ByHand",
    "HandGrade",
    "HandMarks",
    "HandMarksRequest",
    "hand_marks_of",
    "marked_criteria",
    "parse_hand_marks",
]

HandGrade = Literal["good"] | Grade

LONGEST_COMMENT: Final = 500
_MOST_CRITERIA: Final = 50
_LONGEST_NAME: Final = 64


class GradedCriterion(Model):
    """How one criterion looks to the assessor."""

    criterion: Annotated[str, Field(min_length=1, max_length=_LONGEST_NAME)]
    grade: HandGrade | None = None
    """The worst that he sees; null where he did not look at it, or cannot tell: that is not good."""


class HandMarksRequest(Model):
    """What an assessor marked by hand, as it is sent."""

    about: Identifier
    """The id of the assessment."""
    assessor: Assessor
    criteria: Annotated[list[GradedCriterion], Field(min_length=1, max_length=_MOST_CRITERIA)]
    """Each criterion that has marks on this foot, once."""
    comment: Annotated[str, Field(min_length=1, max_length=LONGEST_COMMENT)] | None = None
    """For whoever fitted the shoe."""


class ByHand(Output):
    """One criterion as it was marked by hand."""

    criterion: str
    grade: HandGrade | None
    """Null where the assessor did not look at it, or could not tell."""
    mark: float | None
    """What the scheme leaves of its marks for one fault of that grade; null where there is none to give."""
    of: float


class HandMarks(Output):
    """The marks of one foot by hand, as they are kept and answered."""

    id: Uuid
    created: Instant
    """UTC, ISO 8601."""
    about: Uuid
    """The id of the assessment."""
    assessor: Assessor
    blind: bool
    """Whether the service had shown this assessor neither the tool's marks of the foot nor anybody's before."""
    criteria: tuple[ByHand, ...]
    mark: float | None
    """The whole mark; null where something was not looked at, and where anything is critical."""
    of: float
    comment: str | None
    rulebook: RulebookIdentity
    """The rulebook whose scheme marks."""


def parse_hand_marks(raw: object) -> HandMarksRequest:
    """The marks that ``raw``, a parsed JSON document, describes.  Raises BadInput."""
    return parsed_as(HandMarksRequest, raw)


def marked_criteria(assessment: Assessment, book: Rulebook) -> tuple[str, ...]:
    """The criteria of ``book`` that have marks on this foot at its stage, in their order.  Raises BadInput."""
    marks = marking_of(book).marks
    return tuple(name for name in Applied(assessment, book, ()).required if marks[name].marks)


def hand_marks_of(request: HandMarksRequest, assessment: Assessment, book: Rulebook, *, blind: bool) -> HandMarks:
    """The marks that ``request`` gives to the foot of ``assessment``; their id and time are new.

    Raises BadInput where it is about another assessment, and unless it has each criterion with marks just once.
    """
    names = marked_criteria(assessment, book)
    if problems := list(_problems(request, assessment, names)):
        raise BadInput(problems)
    grades = {each.criterion: each.grade for each in request.criteria}
    criteria = tuple(_by_hand(name, grades[name], book) for name in names)
    marks = [each.mark for each in criteria if each.mark is not None and each.grade != "critical"]
    exact = sum(Fraction(repr(mark)) for mark in marks)
    return HandMarks(
        id=str(uuid.uuid4()),
        created=now(),
        about=request.about,
        assessor=request.assessor,
        blind=blind,
        criteria=criteria,
        mark=float(exact) if len(marks) == len(criteria) else None,
        of=sum(each.of for each in criteria),
        comment=request.comment,
        rulebook=RulebookIdentity.of(book),
    )


def _problems(request: HandMarksRequest, assessment: Assessment, names: Iterable[str]) -> Iterator[Problem]:
    if request.about != assessment.id:
        detail = "This is about another assessment. Send it to the one that it is about."
        yield Problem("about", request.about, f"the id {assessment.id}", detail)
        return
    left = list(names)
    allowed = f"each of {', '.join(left)}, once"
    for number, each in enumerate(request.criteria):
        if each.criterion in left:
            left.remove(each.criterion)
        else:
            detail = "This criterion has no marks on this foot at this stage, or stands here twice. Take it out."
            yield Problem(f"criteria.{number}.criterion", each.criterion, allowed, detail)
    for name in left:
        yield Problem("criteria", None, allowed, f'"{name}" is missing. Grade it, or say null: not looked at.')


def _by_hand(name: str, grade: HandGrade | None, book: Rulebook) -> ByHand:
    scheme = marking_of(book)
    marks = scheme.marks[name].marks
    left: int | None
    if grade is None:
        left = None
    elif grade == "good":
        left = marks * HUNDREDTHS
    elif grade == "critical":
        left = 0
    else:
        left = marks * HUNDREDTHS - min(marks * scheme.deductions[grade].percent, marks * HUNDREDTHS)
    return ByHand(criterion=name, grade=grade, mark=None if left is None else in_marks(left), of=float(marks))
