"""Marks by hand as they were kept, held against the tool's, and the feet that wait for an assessor's own."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final, NamedTuple, cast, get_args

from pydantic import ValidationError

from fitcheck.agreement import GRADES, judgement_of
from fitcheck.agreement.judgement import JudgedGrade
from fitcheck.assessment.models import Assessment
from fitcheck.fitting.models import FittedFoot
from fitcheck.marking import HandMarks, MarkSheet
from fitcheck.marking.by_hand import ByHand
from fitcheck.marking.practice import Looked
from fitcheck.marking.sheet import CriterionMark
from fitcheck.records import Record, RecordFilter, Store
from fitcheck.stored.assessment import Unreadable

__all__ = [
    "MOST_WAITING",
    "Compared",
    "Waiting",
    "by_hand_in",
    "by_hand_of",
    "compared",
    "day_of",
    "looked_at",
    "order_of",
    "waiting_for",
    "was_shown_before",
]

MOST_WAITING: Final = 400
"""Records that are looked through for the feet that wait."""
_FEET: Final[tuple[str, ...]] = get_args(FittedFoot)


def by_hand_in(record: Record) -> HandMarks:
    """The marks by hand kept as ``record``. Raises Unreadable."""
    try:
        return HandMarks.model_validate_json(record.answer)
    except ValidationError as error:
        raise Unreadable(f"The marks by hand kept as {record.id} are not such as this version reads.") from error


def by_hand_of(store: Store, ids: Iterable[str], assessor: str | None = None) -> list[HandMarks]:
    """All marks by hand of these assessments, or those of that assessor, that were not erased.

    Raises Unreadable and StoreError.
    """
    found = store.hand_marks_about(ids)
    return [by_hand_in(each) for each in found if not each.erased and assessor in {None, each.assessor}]


def was_shown_before(store: Store, record: Record, assessor: str) -> bool:
    """Whether ``assessor`` has seen what the tool says of the foot of ``record``: its own or what it corrects.

    That is, whether he assessed any of these, or marked one that it corrects. Raises StoreError.
    """
    corrected: list[str] = []
    here: Record | None = record
    while here is not None and here.assessor != assessor:
        if here.about is None:
            return any(each.assessor == assessor for each in store.hand_marks_about(corrected))
        corrected.append(here.about)
        here = store.record(here.about)
    return here is not None or any(each.assessor == assessor for each in store.hand_marks_about(corrected))


class Compared(NamedTuple):
    """One criterion by hand and by the tool."""

    by_hand: ByHand
    tool: CriterionMark | None
    tool_grade: JudgedGrade | None

    @property
    def steps(self) -> int:
        """How many grades lie between the two; 0 where one of them did not judge it."""
        one, other = self.by_hand.grade, self.tool_grade
        return 0 if one is None or other is None else abs(GRADES.index(one) - GRADES.index(other))

    @property
    def other_mark(self) -> bool:
        """Whether both have the same grade and not the same mark: by hand it is that of one fault."""
        if self.steps or self.by_hand.grade is None or self.tool_grade is None or self.tool is None:
            return False
        return self.by_hand.mark is not None and self.tool.mark is not None and self.by_hand.mark != self.tool.mark


def compared(by_hand: HandMarks, assessment: Assessment, sheet: MarkSheet) -> tuple[Compared, ...]:
    """Each criterion by hand and as the tool has it, the widest apart first."""
    grades = judgement_of(assessment, rater="", horse="", visit="").grades
    marks = {each.criterion: each for each in sheet.tool.criteria}
    found = (Compared(each, marks.get(each.criterion), grades.get(each.criterion)) for each in by_hand.criteria)
    return tuple(sorted(found, key=lambda each: -each.steps))


class Waiting(NamedTuple):
    """The feet that wait for an assessor's marks, in their order."""

    records: Sequence[Record]
    marked: Sequence[Record]
    """Those that he has marked."""
    own: int
    """How many he assessed himself."""
    left_out: bool
    """Whether there may be more that were not looked through."""


def looked_at(store: Store, person: str, first_day: str | None, last_day: str | None, most: int) -> list[Looked]:
    """What assessors marked by hand of the work of ``person`` on these days; what was corrected since is left out.

    Raises TooManyRecords, Unreadable and StoreError.
    """
    wanted = RecordFilter(person=person, kind="hand_marks", first_day=first_day, last_day=last_day)
    records = [record for record in store.each_record(wanted, most=most) if not record.erased]
    corrected = store.corrections_of(record.about or "" for record in records)
    return [
        Looked(
            record.about or "", record.horse or "", cast("FittedFoot", record.foot), day_of(record), by_hand_in(record)
        )
        for record in sorted(records, key=order_of)
        if record.about not in corrected
    ]


def order_of(record: Record) -> tuple[str, ...]:
    """Where a foot stands among those that wait: by day, horse and visit, the feet as one goes round the horse."""
    foot = str(_FEET.index(record.foot)) if record.foot in _FEET else ""
    return day_of(record), record.horse or "", record.visit or "", foot, f"{record.number:019}"


def day_of(record: Record) -> str:
    """The day of the fitting, or else the one on which it was assessed (UTC)."""
    return record.fitted or record.created[:10]


def waiting_for(store: Store, assessor: str, record_filter: RecordFilter) -> Waiting:
    """The feet among those of ``record_filter`` that ``assessor`` has not marked, each as it was last assessed.

    Feet that he assessed himself are left out: he has seen what the tool says of them.
    """
    every = store.records(record_filter, limit=MOST_WAITING + 1)
    latest: dict[tuple[str | None, ...], Record] = {}
    for record in every[:MOST_WAITING]:
        if not record.erased:
            # Without a visit each stands alone.
            key = (record.id,) if record.visit is None else (record.horse, record.visit, record.foot)
            latest.setdefault(key, record)
    own = [each for each in latest.values() if each.assessor == assessor]
    about = store.hand_marks_about(record.id for record in latest.values())
    marked = {each.about for each in about if each.assessor == assessor}
    left = [each for each in latest.values() if each.assessor != assessor and each.id not in marked]
    done = [each for each in latest.values() if each.id in marked]
    return Waiting(sorted(left, key=order_of), sorted(done, key=order_of), len(own), len(every) > MOST_WAITING)
