"""One rater's judgement of one shod foot: a grade for each criterion, numbers read, and marks given.

The rater is an apprentice, an assessor or the tool; who gave a judgement and what it was drawn from is the caller's
business.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Final, Literal, NamedTuple, get_args

from fitcheck.assessment.models import Assessment
from fitcheck.errors import BadInput, Problem
from rules.model.records import RANK, Grade

__all__ = ["GRADES", "TOOL", "JudgedGrade", "Judgement", "Subject", "judgement_of", "judgements_by", "overriding"]

JudgedGrade = Literal["good"] | Grade
GRADES: Final[tuple[JudgedGrade, ...]] = ("good", *sorted(RANK, key=RANK.__getitem__))
"""From good to gravest; the distance between two grades is the number of steps between them."""

TOOL: Final = "the tool"
"""The tool as a rater; no person's id has a blank."""


class Subject(NamedTuple):
    """What was judged: one foot of one horse, at one visit and stage."""

    horse: str
    foot: str
    visit: str
    stage: str = "finished"

    def __str__(self) -> str:
        return f"{self.horse}, {self.foot.replace('_', ' ')}, visit {self.visit}, {self.stage.replace('_', ' ')}"


@dataclass(frozen=True, slots=True)
class Judgement:
    """What ``rater`` says of ``subject``.

    Raises BadInput for a grade that is none, and for a reading or mark that is no finite number.
    """

    rater: str
    subject: Subject
    grades: Mapping[str, JudgedGrade | None]
    """By criterion the worst grade; None where it was not assessed, which is not the same as good."""
    readings: Mapping[str, float] = field(default_factory=dict)
    """By quantity@place the number read, in the quantity's own unit."""
    marks: Mapping[str, float] = field(default_factory=dict)
    """By criterion, or by whatever else marks are given for."""

    def __post_init__(self) -> None:
        problems = [
            Problem(f"grades.{name}", grade, f"{', '.join(GRADES)} or none", "Give the worst grade that was found.")
            for name, grade in self.grades.items()
            if grade is not None and grade not in get_args(Grade) and grade != "good"
        ]
        problems += [
            Problem(f"{kind}.{name}", str(number), "a finite number", "Leave out what was not measured.")
            for kind, numbers in (("readings", self.readings), ("marks", self.marks))
            for name, number in numbers.items()
            if not math.isfinite(number)
        ]
        if problems:
            raise BadInput(problems)


def judgement_of(
    assessment: Assessment,
    *,
    rater: str,
    horse: str,
    visit: str,
    marks: Mapping[str, float] | None = None,
) -> Judgement:
    """What an assessment says, as the judgement of ``rater``.

    A criterion has the worst grade of its findings, joined ones included, even where more of it was to be observed.
    Without a finding it is good where readings conform and nothing that the stage requires of it is missing, and
    otherwise not assessed.
    """
    missing = {name for name in assessment.not_assessed if "." not in name}
    missing |= {need.criterion for need in assessment.still_needed}
    grades: dict[str, JudgedGrade | None] = dict.fromkeys((part.criterion for part in assessment.conforms), "good")
    grades |= dict.fromkeys(sorted(missing))
    for finding in assessment.findings:
        candidates: tuple[JudgedGrade, JudgedGrade] = (grades.get(finding.criterion) or "good", finding.grade)
        grades[finding.criterion] = max(candidates, key=GRADES.index)
    readings = {f"{part.quantity}@{part.place}": part.value for part in assessment.measurements}
    subject = Subject(horse, assessment.foot, visit, assessment.stage)
    return Judgement(rater, subject, grades, readings, marks or {})


def overriding(judgement: Judgement, *, rater: str, grades: Mapping[str, JudgedGrade | None]) -> Judgement:
    """The judgement of a ``rater`` who went over another's and set ``grades`` otherwise.

    A rater who saw the first judgement did not judge independently: such agreement is biased upwards.
    """
    return replace(judgement, rater=rater, grades={**judgement.grades, **grades})


def judgements_by(judgements: Iterable[Judgement], rater: str) -> dict[Subject, Judgement]:
    """The judgements of one rater by subject.

    Raises BadInput when the rater judged a subject twice: which one counts is not for a calculation to say.
    """
    found: dict[Subject, Judgement] = {}
    for each in judgements:
        if each.rater != rater:
            continue
        if each.subject in found:
            detail = f"{rater} judged this foot twice. Give the judgement that counts."
            raise BadInput([Problem("judgements", str(each.subject), "one judgement of a foot by a rater", detail)])
        found[each.subject] = each
    return found
