"""What assessors and the tool judged of kept feet, so that two of them can be held against each other.

An assessor judges a foot by an assessment that names them as its assessor, by marks by hand, or by an override of any
assessment: the findings as their own changes leave them.  Of one rater and foot (horse, visit and foot) the latest
judgement counts; an override of what the assessor had marked by hand is none, since by then they had seen what the tool
says.  Assessments that a later one corrects count nowhere.

The tool judges what somebody read.  Where an assessor marked or went over an assessment, the tool's judgement is that
one as it was answered; where they read the foot themselves, it is the latest assessment of the same foot at the same
stage that somebody else read, since their own readings judged by the tool are their own judgement.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Final, NamedTuple

from fitcheck.agreement import GRADES, TOOL, Judgement, Subject, judgement_of, overriding
from fitcheck.agreement.judgement import JudgedGrade
from fitcheck.assessment.models import Assessment
from fitcheck.errors import BadInput
from fitcheck.marking.apply_overrides import Applied
from fitcheck.marking.overrides import Override
from fitcheck.records import Kind, Record, RecordFilter, Store
from fitcheck.stored.assessment import Unreadable, assessment_of
from fitcheck.stored.by_hand import by_hand_in
from fitcheck.stored.marks import override_in
from fitcheck.stored.visit import MOST_OF_A_VISIT
from rules import Rulebook

__all__ = ["MOST_JUDGED", "TOOL_NAME", "Judged", "Judgements", "judgements_by_both"]

MOST_JUDGED: Final = 5000
"""Records of one rater that are gone through at once."""
TOOL_NAME: Final = "tool"
"""What the tool is called where raters are named."""

_Foot = tuple[str, str, str]
"""Horse, visit and foot."""


class Judged(NamedTuple):
    """A judgement, and the records that it comes from."""

    judgement: Judgement
    number: int
    """Of the record that made it."""
    assessment: str
    override: str | None
    """The latest override that it rests on; None where it is the assessment as it was answered."""
    hand_marks: str | None = None
    """The marks by hand that it is; None where it is none."""
    blind: bool = False
    """Whether they were made before the assessor saw what the tool says."""


@dataclass
class Judgements:
    """What two raters judged, the latest of each foot."""

    first: list[Judged]
    second: list[Judged]
    nameless: int = 0
    """Records that name no horse or no visit, so that they cannot be told to be of one foot."""
    unread: int = 0
    """Records that this version or this rulebook does not read."""


@dataclass
class _Reader:
    store: Store
    book: Rulebook
    since: str | None
    until: str | None
    most: int
    days: tuple[str | None, str | None] = (None, None)
    nameless: set[str] = field(default_factory=set)
    unread: set[str] = field(default_factory=set)

    def of(self, rater: str) -> dict[_Foot, Judged]:
        """The latest judgement of each foot by an assessor."""
        found: dict[_Foot, Judged] = {}
        by_hand = list(self._marked(rater))
        marked = {judged.assessment for _, judged in by_hand}
        for foot, judged in (*self._assessed(rater), *by_hand, *self._overridden(rater, marked)):
            if foot not in found or found[foot].number < judged.number:
                found[foot] = judged
        return found

    def of_tool(self, others: Mapping[_Foot, Judged], other: str) -> Iterator[Judged]:
        """What the tool says of the feet that ``other`` judged, apart from their own readings."""
        gone_over = [judged for judged in others.values() if judged.override or judged.hand_marks]
        for record in self.store.records_named(judged.assessment for judged in gone_over):
            if (found := self._judged(record, TOOL)) is not None:
                yield found
        for (horse, visit, foot), judged in others.items():
            if judged.override or judged.hand_marks:
                continue
            same = (horse, foot, judged.judgement.subject.stage)
            # By the visit alone: a database that may choose might go through all that a horse ever had.
            of_visit = RecordFilter(visit=visit, kind="assessment", superseded=False)
            for record in self.store.records(of_visit, limit=MOST_OF_A_VISIT):
                alike = (record.horse, record.foot, record.stage) == same
                if alike and record.assessor != other and (found := self._judged(record, TOOL)) is not None:
                    yield found
                    break

    def _assessed(self, rater: str) -> Iterator[tuple[_Foot, Judged]]:
        for record in self._each(rater, "assessment"):
            foot = self._foot(record)
            if foot is not None and (found := self._judged(record, rater)) is not None:
                yield foot, found

    def _each(self, rater: str, kind: Kind) -> Iterator[Record]:
        first_day, last_day = self.days
        record_filter = RecordFilter(
            assessor=rater,
            kind=kind,
            since=self.since,
            until=self.until,
            first_day=first_day,
            last_day=last_day,
            superseded=kind != "assessment",
        )
        return self.store.each_record(record_filter, most=self.most)

    def _marked(self, rater: str) -> Iterator[tuple[_Foot, Judged]]:
        """What the rater marked by hand."""
        of_record = {record.about or "": record for record in self._each(rater, "hand_marks") if not record.erased}
        corrected = self.store.corrections_of(of_record)
        for about, record in of_record.items():
            if about in corrected or (foot := self._foot(record)) is None:
                continue
            try:
                by_hand = by_hand_in(record)
            except Unreadable:
                self.unread.add(record.id)
                continue
            horse, visit, name = foot
            subject = Subject(horse, name, visit, record.stage or "")
            grades = {each.criterion: each.grade for each in by_hand.criteria}
            marks = {each.criterion: each.mark for each in by_hand.criteria if each.mark is not None}
            own = Judgement(rater, subject, grades, marks=marks)
            yield foot, Judged(own, record.number, about, None, by_hand.id, by_hand.blind)

    def _overridden(self, rater: str, marked: Collection[str]) -> Iterator[tuple[_Foot, Judged]]:
        changes: dict[str, list[tuple[Record, Override]]] = {}
        for record in self._each(rater, "override"):
            if record.about in marked:
                continue
            try:
                override = override_in(record)
            except Unreadable:
                self.unread.add(record.id)
                continue
            changes.setdefault(override.about, []).append((record, override))
        corrected = self.store.corrections_of(changes)
        for record in self.store.records_named(id_ for id_ in changes if id_ not in corrected):
            if record.erased or (foot := self._foot(record)) is None:
                continue
            overrides = [override for _, override in changes[record.id]]
            try:
                assessment = assessment_of(record)
                grades = _overridden_grades(Applied(assessment, self.book, overrides))
            except (BadInput, Unreadable, ValueError):
                self.unread.add(record.id)
                continue
            last, override = changes[record.id][-1]
            own = overriding(_judgement(assessment, record, rater), rater=rater, grades=grades)
            yield foot, Judged(own, last.number, record.id, override.id)

    def _foot(self, record: Record) -> _Foot | None:
        if record.horse is None or record.visit is None or record.foot is None:
            self.nameless.add(record.id)
            return None
        return record.horse, record.visit, record.foot

    def _judged(self, record: Record, rater: str) -> Judged | None:
        """The assessment as it was answered, as the judgement of ``rater``."""
        try:
            found = _judgement(assessment_of(record), record, rater)
        except Unreadable:
            self.unread.add(record.id)
            return None
        return Judged(found, record.number, record.id, None)


def _judgement(assessment: Assessment, record: Record, rater: str) -> Judgement:
    """Without the numbers read, which nothing here needs."""
    found = judgement_of(assessment, rater=rater, horse=record.horse or "", visit=record.visit or "")
    return replace(found, readings={})


def _overridden_grades(applied: Applied) -> dict[str, JudgedGrade | None]:
    """The grade of each criterion that the overrides touch, by what they leave of its findings."""
    before = {found.id: found.criterion for found in applied.assessment.findings}
    after = {found.id: found.criterion for found in applied.findings.values()}
    changed = [change.about for change in applied.changes if change.applied]
    touched = {criterion for name in changed if (criterion := before.get(name) or after.get(name)) is not None}
    return {criterion: _worst(criterion, applied) for criterion in sorted(touched)}


def _worst(criterion: str, applied: Applied) -> JudgedGrade | None:
    grades: Iterable[JudgedGrade] = [found.grade for found in applied.findings.values() if found.criterion == criterion]
    worst = max(grades, key=GRADES.index, default=None)
    if worst is not None:
        return worst
    # All that was found there is struck: good, unless something of it was never looked at.
    needed = {need.criterion for need in applied.assessment.still_needed}
    return None if criterion in needed else "good"


def judgements_by_both(
    store: Store,
    first: str,
    second: str,
    book: Rulebook,
    *,
    since: str | None = None,
    until: str | None = None,
    days: tuple[str | None, str | None] = (None, None),
    most: int = MOST_JUDGED,
) -> Judgements:
    """What ``first`` and ``second`` judged in records kept from ``since`` until before ``until``.

    ``days``: the first and the last day of the fittings.

    Each is an assessor's id or TOOL_NAME, at most one of them the latter; ``book`` applies overrides.  Raises
    TooManyRecords where a rater has more than ``most`` records, and StoreError.
    """
    reader = _Reader(store, book, since, until, most, days)
    if TOOL_NAME in {first, second}:
        other = second if first == TOOL_NAME else first
        by_other = reader.of(other)
        pair = (list(by_other.values()), list(reader.of_tool(by_other, other)))
        one, two = pair if second == TOOL_NAME else reversed(pair)
    else:
        one, two = (list(reader.of(rater).values()) for rater in (first, second))
    return Judgements(one, two, len(reader.nameless), len(reader.unread))
