"""Kept judgements of raters: assessments with one grade on nails, overrides of them, and marks by hand."""

from __future__ import annotations

import json
from typing import Any

from fitcheck.agreement.judgement import JudgedGrade
from fitcheck.assessment.models import Assessment
from fitcheck.fitting.models import FittedFoot
from fitcheck.marking import HandMarks, hand_marks_of, parse_hand_marks
from fitcheck.marking.by_hand import marked_criteria
from fitcheck.marking.overrides import Override
from fitcheck.records import Draft, Store, draft_of_hand_marks, draft_of_override
from fitcheck.stored import assessment_of
from tests.support.marked import BOOK, assessed, finding, overridden

__all__ = ["answered", "by_hand", "gone_over", "judged"]


def answered(grade: JudgedGrade, id_: str, **edits: Any) -> Assessment:
    """An answer whose worst grade on nails is ``grade``, good by a reading that conforms."""
    findings = [] if grade == "good" else [finding("nails", grade, "nail:medial:1")]
    decision = "put_right" if grade == "major" else "release"
    return assessed(*findings, decision=decision, id=id_, **edits)


def judged(grade: JudgedGrade, id_: str, *, foot: FittedFoot = "left_fore", **names: Any) -> Draft:
    """A kept assessment; ``names``: assessor, horse, visit, person, created, about, and stage."""
    columns = {"created": "2026-03-04T10:00:00.000Z", "horse": "H-1", "visit": "v", "stage": "finished"} | names
    of_foot = {"stage": columns["stage"]} if columns["stage"] != "finished" else {}
    answer = answered(grade, id_, foot=foot, created=columns["created"], **of_foot)
    sent = {name: {"id": columns.get(name)} for name in ("person", "assessor", "horse")}
    sent |= {name: columns[name] for name in ("visit", "stage")} | {"foot": foot}
    return Draft(
        kind="assessment",
        received=json.dumps(sent).encode(),
        answer=answer.model_dump_json().encode(),
        id=id_,
        foot=foot,
        decision=answer.decision,
        rulebook_version=answer.rulebook.version,
        rulebook_digest=answer.rulebook.digest,
        **columns,
    )


def gone_over(store: Store, id_: str, *changes: dict[str, Any], by: str) -> Override:
    """Keep an override of the assessment ``id_`` by that assessor."""
    record = store.record(id_)
    assert record is not None
    override = overridden(assessment_of(record), *changes, by=by)
    store.keep(draft_of_override(b"{}", override, record))
    return override


def by_hand(store: Store, id_: str, by: str, comment: str | None = None, **grades: JudgedGrade | None) -> HandMarks:
    """Keep marks by hand of the assessment ``id_``: good but for these criteria."""
    record = store.record(id_)
    assert record is not None
    assessment = assessment_of(record)
    criteria = [{"criterion": name, "grade": grades.get(name, "good")} for name in marked_criteria(assessment, BOOK)]
    sent = {"about": id_, "assessor": {"id": by}, "criteria": criteria} | ({"comment": comment} if comment else {})
    made = hand_marks_of(parse_hand_marks(sent), assessment, BOOK, blind=True)
    store.keep(draft_of_hand_marks(json.dumps(sent).encode(), made, record))
    return made
