"""An assessment's findings and marks as its overrides leave them, and whether one more can be applied."""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterable, Iterator
from fractions import Fraction
from typing import Final, NamedTuple

from fitcheck.assessment.models import Assessment, RulebookIdentity
from fitcheck.errors import BadInput, Problem
from fitcheck.marking.deductions import HUNDREDTHS, Found, found_among, shown_marks
from fitcheck.marking.overrides import Change, Override, OverrideRequest
from fitcheck.marking.sheet import ChangeView
from fitcheck.text.catalogue import messages_of
from fitcheck.vocabulary import now
from rules import Rulebook, marking_of
from rules.situation import spot_of

__all__ = ["Applied", "MarkSet", "override_of"]

_NAIL: Final = re.compile(r"nail:(medial|lateral):([1-9][0-9]?)")


class MarkSet(NamedTuple):
    """The mark that an assessor set, in hundredths."""

    hundredths: int
    why: str


class _Fault(NamedTuple):
    """Why a change cannot be made: the key that is at fault, what is allowed, what to do."""

    key: str
    allowed: str
    detail: str


class Applied:
    """The findings of an assessment by id, the marks that were set by criterion, and every change that was made.

    ``overrides`` are applied in the order in which they come: that in which they were kept.  Raises BadInput when a
    finding belongs to a criterion that ``book`` does not have, ValueError when an override is about another assessment.
    """

    def __init__(self, assessment: Assessment, book: Rulebook, overrides: Iterable[Override]) -> None:
        self.assessment = assessment
        self.judged = {each.criterion for each in assessment.findings} | {
            each.criterion for each in assessment.conforms
        }
        """The criteria of which something was judged."""
        self._book = book
        self._own = found_among(assessment.findings, book)
        self.findings = dict(self._own)
        self.set: dict[str, MarkSet] = {}
        self.changes: list[ChangeView] = []
        for override in overrides:
            if override.about != assessment.id:
                raise ValueError(f"override {override.id} is about assessment {override.about}, not {assessment.id}")
            for change in override.changes:
                self._apply(change, override)

    @property
    def required(self) -> tuple[str, ...]:
        """The criteria that the stage requires of this foot.

        Whether the shoe was hot does not stand in an assessment: what is required of a hot one only is so where some of
        it was observed or asked for.
        """
        book = self._book
        touched = self.judged | {each.criterion for each in self.assessment.still_needed}
        hot = not touched.isdisjoint(book.required_when_hot_fitted)
        required = book.required_at(self.assessment.stage, "yes" if hot else "no")
        return tuple(name for name in book.criteria if name in required)

    def _apply(self, change: Change, override: Override) -> None:
        fault = self.fault(change)
        messages = messages_of(self._book)
        say = messages.say("marks.not_applied", why=fault.detail) if fault else self._made(change, override)
        self.changes.append(
            ChangeView(
                override=override.id,
                assessor=override.assessor.id,
                created=override.created,
                what=change.what,
                about=change.target,
                reason=change.reason,
                applied=fault is None,
                say=say,
            )
        )

    def _made(self, change: Change, override: Override) -> str:
        """Make a change that can be made; what it comes to, in words."""
        name, messages = change.target, messages_of(self._book)
        if change.what == "strike":
            found = self.findings.pop(name)
            return messages.say("marks.struck", grade=messages.named("grade", found.grade))
        if change.what == "regrade" and change.grade is not None:
            before = self.findings[name]
            self.findings[name] = before.graded(change.grade)
            grades = (messages.named("grade", grade) for grade in (change.grade, before.grade))
            return messages.say("marks.regraded", **dict(zip(("grade", "before"), grades, strict=True)))
        if change.what == "add":
            found = self._added(change)
            self.findings[name] = found
            return messages.say("marks.added", grade=messages.named("grade", found.grade))
        hundredths = _hundredths(change.mark)
        of = marking_of(self._book).marks[name].marks
        self.set[name] = MarkSet(
            hundredths, messages.say("marks.set_by", assessor=override.assessor.id, reason=change.reason)
        )
        return messages.say("marks.set", mark=messages.number(shown_marks(hundredths)), of=of)

    def _added(self, change: Change) -> Found:
        own = self._own.get(change.target)
        if own is not None:
            return own.graded(change.grade or own.grade)
        rule, _, _ = change.target.partition("@")
        return Found(
            id=change.target,
            rule=rule,
            criterion=self._book.criterion_for(rule) or "",
            grade=change.grade or self._book.rules[rule].grade,
            grade_found=None,
            say=messages_of(self._book).say("marks.added_by", reason=change.reason),
        )

    def fault(self, change: Change) -> _Fault | None:
        """Why ``change`` cannot be made as things stand; None where it can."""
        if change.what == "set_mark":
            return self._fault_of_mark(change)
        if change.what == "add":
            return self._fault_of_added(change.target)
        if change.target not in self.findings:
            names = ", ".join(self.findings) or "none: nothing counts here"
            return _Fault("finding", names, "This finding does not count here. Name one that does.")
        if change.grade == self.findings[change.target].grade:
            return _Fault("grade", "another grade", f"The finding is {change.grade} already. Leave it as it is.")
        return None

    def _fault_of_mark(self, change: Change) -> _Fault | None:
        marks = marking_of(self._book).marks
        required = [name for name in self.required if marks[name].marks]
        if change.target not in required:
            detail = "This criterion has no marks on this foot at this stage. Name one that has."
            return _Fault("criterion", ", ".join(required), detail)
        most = marks[change.target].marks
        exact = Fraction(repr(change.mark)) * HUNDREDTHS
        if exact > most * HUNDREDTHS or exact.denominator != 1:
            detail = f"The criterion has {most} marks. Give a mark out of those, with two decimals at most."
            return _Fault("mark", f"a number from 0 to {most} with at most two decimals", detail)
        return None

    def _fault_of_added(self, name: str) -> _Fault | None:
        if name in self.findings:
            return _Fault(
                "finding", "a finding that does not count yet", "This counts already. Regrade it, or leave it."
            )
        if name in self._own:
            return None
        rule_id, _, place = name.partition("@")
        rule, criterion = self._book.rules.get(rule_id), None
        if rule is not None:
            criterion = self._book.criterion_for(rule_id)
        if rule is None or criterion is None or self._book.criteria[criterion].of != "foot":
            detail = f"No rule \"{rule_id}\" finds anything on one foot. 'fitcheck rules list' has those that do."
            return _Fault("finding", "rule@place, of a rule on one foot that joins no others", detail)
        places = self._book.places_of(rule)
        if spot_of(place) not in places or (spot_of(place) == "nail" and _NAIL.fullmatch(place) is None):
            shown = ", ".join("nail:medial:1 and so on" if each == "nail" else each for each in places)
            return _Fault("finding", f"{rule_id}@ one of {shown}", "The rule looks at no such place. Name one of them.")
        return None


def override_of(
    request: OverrideRequest,
    assessment: Assessment,
    book: Rulebook,
    *,
    earlier: Iterable[Override] = (),
) -> Override:
    """The override that ``request`` asks for, of ``assessment`` as ``earlier`` ones leave it; its id and time are new.

    Raises BadInput where it is about another assessment, strikes or regrades what does not count, adds what does, adds
    what no rule of ``book`` finds there, or sets a mark that the criterion cannot have.
    """
    problems = list(_problems(request, Applied(assessment, book, earlier)))
    if problems:
        raise BadInput(problems)
    notes = [marking_of(book).says["overridden"].text]
    if assessment.decision == "stop_and_refer":
        notes.append(marking_of(book).says["stop_stays"].text)
    return Override(
        id=str(uuid.uuid4()),
        created=now(),
        about=request.about,
        assessor=request.assessor,
        changes=tuple(request.changes),
        rulebook=RulebookIdentity.of(book),
        decision=assessment.decision,
        says=tuple(notes),
    )


def _problems(request: OverrideRequest, state: Applied) -> Iterator[Problem]:
    if request.about != state.assessment.id:
        detail = "This is about another assessment. Send it to the one that it is about."
        yield Problem("about", request.about, f"the id {state.assessment.id}", detail)
        return
    for number, change in enumerate(request.changes):
        fault = state.fault(change)
        if fault is not None:
            yield Problem(f"changes.{number}.{fault.key}", getattr(change, fault.key), fault.allowed, fault.detail)


def _hundredths(mark: float | None) -> int:
    return int(Fraction(repr(mark)) * HUNDREDTHS)
