"""An assessor's overrides: strict bodies, applied to marks only, both reckonings shown, ready to be kept."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from fitcheck.assessment.assess import assess
from fitcheck.errors import BadInput
from fitcheck.fitting.validation import parse_fitting
from fitcheck.marking import Override, mark_of, override_of, parse_override
from fitcheck.records import draft_of, draft_of_override, open_store, verify
from fitcheck.stored import assessment_of
from rules import marking_of
from tests.support.marked import BOOK, assessed, finding, overridden

CLOSE = finding("heel_fit", "minor", "medial_heel")
FLINCH = finding("nails", "critical", "nail:medial:2", rule="nail-flinch")
STRIKE = {"what": "strike", "finding": CLOSE.id, "reason": "The rule slipped."}


def body(*changes: dict[str, Any], **more: Any) -> dict[str, Any]:
    return {"about": "1", "assessor": {"id": "S-1"}, "changes": list(changes or (STRIKE,)), **more}


def refused(raw: object) -> dict[str, str]:
    with pytest.raises(BadInput) as caught:
        parse_override(raw)
    return {problem.field: f"{problem.detail} Allowed: {problem.allowed}" for problem in caught.value.problems}


REFUSED: dict[str, tuple[object, str, str]] = {
    "no object": ([], "(document)", "stands where an object belongs"),
    "an unknown key": (body(mark=3), "mark", 'There is no key "mark" here'),
    "no assessor": ({"about": "1", "changes": [STRIKE]}, "assessor", "This key is missing"),
    "an assessor by name": (body(assessor={"id": "J. Smith"}), "assessor.id", "an opaque id"),
    "no changes": (body() | {"changes": []}, "changes", "too short"),
    "too many changes": (body(*(STRIKE | {"finding": f"toe-full@{n}"} for n in range(51))), "changes", "too long"),
    "an unknown kind": (body(STRIKE | {"what": "delete"}), "changes.0.what", "is not one of the words known here"),
    "no reason": (body({"what": "strike", "finding": "a@b"}), "changes.0.reason", "This key is missing"),
    "an empty reason": (body(STRIKE | {"reason": ""}), "changes.0.reason", "This text is empty"),
    "a blank reason": (body(STRIKE | {"reason": " \t\n"}), "changes.0.reason", "There is no reason here"),
    "a long reason": (body(STRIKE | {"reason": "x" * 501}), "changes.0.reason", "This text is too long"),
    "a strike of nothing": (body({"what": "strike", "reason": "So."}), "changes.0.finding", "Strike needs finding"),
    "a strike with a grade": (body(STRIKE | {"grade": "minor"}), "changes.0.grade", "Grade does not belong to strike"),
    "a regrade to nothing": (body(STRIKE | {"what": "regrade"}), "changes.0.grade", "Regrade needs grade"),
    "a grade that is none": (body(STRIKE | {"grade": "good"}), "changes.0.grade", "is not one of the words known here"),
    "a mark of a finding": (body(STRIKE | {"mark": 3}), "changes.0.mark", "Mark does not belong to strike"),
    "a mark of no criterion": (
        body({"what": "set_mark", "mark": 3, "reason": "So."}),
        "changes.0.criterion",
        "Set_mark needs criterion",
    ),
    "a mark as text": (
        body({"what": "set_mark", "criterion": "finish", "mark": "3", "reason": "So."}),
        "changes.0.mark",
        "is not a number",
    ),
    "a mark below nought": (
        body({"what": "set_mark", "criterion": "finish", "mark": -1, "reason": "So."}),
        "changes.0.mark",
        "is too small",
    ),
    "no finite mark": (
        body({"what": "set_mark", "criterion": "finish", "mark": float("nan"), "reason": "So."}),
        "changes.0.mark",
        "is not a finite number",
    ),
    "one finding twice": (body(STRIKE, STRIKE), "changes.1.finding", "This stands here twice"),
}


@pytest.mark.parametrize(("raw", "field", "says"), REFUSED.values(), ids=REFUSED)
def test_a_body_that_is_wrong_is_refused_with_field_and_what_to_do(raw: object, field: str, says: str) -> None:
    problems = refused(raw)
    assert field in problems
    assert says in problems[field]


UNFIT: dict[str, tuple[dict[str, Any], str, str]] = {
    "a finding that was not found": ({"what": "strike", "finding": "toe-full@toe"}, "finding", "does not count here"),
    "the grade that it has": ({"what": "regrade", "finding": CLOSE.id, "grade": "minor"}, "grade", "minor already"),
    "one that is there": ({"what": "add", "finding": CLOSE.id}, "finding", "counts already"),
    "a rule that there is not": ({"what": "add", "finding": "toe-odd@toe"}, "finding", 'No rule "toe-odd"'),
    "a joined rule": ({"what": "add", "finding": "shoe-too-small@foot"}, "finding", "No rule"),
    "a rule on two feet": ({"what": "add", "finding": "pair-shoes-differ@pair"}, "finding", "No rule"),
    "a check of readings": ({"what": "add", "finding": "readings-disagree@toe"}, "finding", "No rule"),
    "a place where the rule never looks": ({"what": "add", "finding": "toe-full@sole"}, "finding", "no such place"),
    "no place": ({"what": "add", "finding": "toe-full"}, "finding", "no such place"),
    "a nail that there cannot be": ({"what": "add", "finding": "nail-low@nail:medial:0"}, "finding", "no such place"),
    "no nail in particular": ({"what": "add", "finding": "nail-low@nail"}, "finding", "no such place"),
    "more than all": ({"what": "set_mark", "criterion": "finish", "mark": 6.01}, "mark", "has 6 marks"),
    "too fine a mark": ({"what": "set_mark", "criterion": "finish", "mark": 1.005}, "mark", "two decimals"),
    "a criterion without marks": ({"what": "set_mark", "criterion": "history", "mark": 0}, "criterion", "no marks"),
    "a criterion that there is not": ({"what": "set_mark", "criterion": "gait", "mark": 0}, "criterion", "no marks"),
    "a criterion of two feet": ({"what": "set_mark", "criterion": "pair", "mark": 0}, "criterion", "no marks"),
}


@pytest.mark.parametrize(("change", "key", "says"), UNFIT.values(), ids=UNFIT)
def test_a_change_that_cannot_be_made_is_refused(change: dict[str, Any], key: str, says: str) -> None:
    with pytest.raises(BadInput) as caught:
        overridden(assessed(CLOSE), {"what": "set_mark", "criterion": "nails", "mark": 1}, change)
    (problem,) = caught.value.problems
    assert problem.field == f"changes.1.{key}"
    assert says in problem.detail
    assert problem.allowed


def test_a_criterion_that_the_stage_does_not_require_has_no_mark_to_set() -> None:
    with pytest.raises(BadInput, match="no marks on this foot at this stage"):
        overridden(assessed(stage="nailed"), {"what": "set_mark", "criterion": "finish", "mark": 3})


def test_an_override_is_about_one_assessment() -> None:
    with pytest.raises(BadInput) as caught:
        override_of(parse_override(body()), assessed(CLOSE), BOOK)
    assert [problem.field for problem in caught.value.problems] == ["about"]
    made = overridden(assessed(CLOSE, id="first"), STRIKE)
    with pytest.raises(ValueError, match="is about assessment first, not second"):
        mark_of(assessed(CLOSE, id="second"), BOOK, [made])


APPLIED: dict[str, tuple[list[dict[str, Any]], float, str]] = {
    "struck: the 2.2 come back": ([STRIKE], 100.0, "Struck, was minor."),
    "graver: 11 instead of 2.2 off": (
        [{"what": "regrade", "finding": CLOSE.id, "grade": "major"}],
        89.0,
        "Counted as major, was minor.",
    ),
    "added with the rule's grade: half of clinches' 10 off": (
        [{"what": "add", "finding": "clinch-proud-medial@nail:medial:2"}],
        92.8,
        "Added as major.",
    ),
    "added with a grade: a tenth of 10 off": (
        [{"what": "add", "finding": "clinch-proud-medial@nail:medial:2", "grade": "minor"}],
        96.8,
        "Added as minor.",
    ),
    "set: 4.25 of 6 for the finish": (
        [{"what": "set_mark", "criterion": "finish", "mark": 4.25}],
        96.05,
        "Marked 4.25 of 6.",
    ),
    "set, whatever was found": ([{"what": "set_mark", "criterion": "heel_fit", "mark": 22}], 100.0, "Marked 22 of 22."),
}


@pytest.mark.parametrize(("changes", "mark", "says"), APPLIED.values(), ids=APPLIED)
def test_both_reckonings_are_shown_each_with_its_reasons(changes: list[dict[str, Any]], mark: float, says: str) -> None:
    """By hand: the close heel alone takes 2.2 of 100."""
    said = assessed(CLOSE)
    sheet = mark_of(said, BOOK, [overridden(said, *changes)])
    assert sheet.assessor is not None
    assert (sheet.tool.mark, sheet.assessor.mark) == (97.8, mark)
    assert sheet.counts is sheet.assessor
    (shown,) = sheet.changes
    assert (shown.assessor, shown.applied, shown.say) == ("S-1", True, says)
    assert shown.reason
    assert marking_of(BOOK).says["overridden"].text in sheet.says


def test_an_assessor_may_mark_what_the_tool_could_not() -> None:
    said = assessed(without="finish")
    sheet = mark_of(said, BOOK, [overridden(said, {"what": "set_mark", "criterion": "finish", "mark": 5})])
    assert (sheet.tool.state, sheet.tool.so_far) == ("incomplete", 94.0)
    assert sheet.assessor is not None
    assert (sheet.assessor.state, sheet.assessor.mark, sheet.assessor.missing) == ("whole", 99.0, ())


@pytest.mark.parametrize("how", [{"what": "strike"}, {"what": "regrade", "grade": "minor"}])
def test_a_critical_finding_may_be_overridden_in_the_marks_and_never_for_the_horse(how: dict[str, Any]) -> None:
    said = assessed(FLINCH, decision="stop_and_refer")
    override = overridden(said, {"finding": FLINCH.id, **how})
    sheet = mark_of(said, BOOK, [override])
    assert sheet.assessor is not None
    assert (sheet.tool.state, sheet.assessor.state) == ("stopped", "whole")
    assert sheet.decision == override.decision == "stop_and_refer"
    for says in (sheet.says, override.says):
        assert marking_of(BOOK).says["stop_stays"].text in says


@pytest.mark.parametrize(
    "change",
    [
        {"what": "add", "finding": "nail-flinch@nail:medial:2"},
        {"what": "regrade", "finding": CLOSE.id, "grade": "critical"},
    ],
)
def test_what_an_assessor_finds_critical_stops_the_mark_too(change: dict[str, Any]) -> None:
    said = assessed(CLOSE)
    sheet = mark_of(said, BOOK, [overridden(said, change)])
    assert sheet.assessor is not None
    assert (sheet.tool.state, sheet.assessor.state, sheet.decision) == ("whole", "stopped", "release")
    assert marking_of(BOOK).says["stop_added"].text in sheet.says


def test_a_mark_that_was_set_does_not_get_round_a_critical_finding() -> None:
    said = assessed(FLINCH, decision="stop_and_refer")
    sheet = mark_of(said, BOOK, [overridden(said, {"what": "set_mark", "criterion": "nails", "mark": 20})])
    assert sheet.assessor is not None
    assert sheet.assessor.state == "stopped"


def test_a_later_override_is_of_what_the_earlier_ones_leave() -> None:
    said = assessed(CLOSE)
    # The clock went back meanwhile.
    first = overridden(said, STRIKE).model_copy(update={"created": "2099-03-04T10:00:00.000Z"})
    with pytest.raises(BadInput, match="does not count here"):
        overridden(said, STRIKE, by="S-2", earlier=(first,))
    second = overridden(said, {"what": "add", "finding": CLOSE.id}, by="S-2", earlier=(first,))
    sheet = mark_of(said, BOOK, [first, second])
    assert sheet.assessor is not None
    assert [change.assessor for change in sheet.changes] == ["S-1", "S-2"]
    assert sheet.assessor.mark == sheet.tool.mark == 97.8


def test_a_kept_change_that_no_longer_applies_is_shown_and_counts_for_nothing() -> None:
    said = assessed(CLOSE)
    twice = [
        overridden(said, STRIKE).model_copy(update={"created": f"2026-03-04T10:00:0{second}.000Z"}) for second in (0, 1)
    ]
    sheet = mark_of(said, BOOK, twice)
    assert [change.applied for change in sheet.changes] == [True, False]
    assert sheet.changes[1].say.startswith("Not applied: This finding does not count here.")


# Kept as a record.


def test_an_override_is_kept_with_its_assessment_read_back_and_erased_with_it(
    good: dict[str, Any], tmp_path: Path
) -> None:
    raw = json.dumps(good).encode()
    fitting = parse_fitting(good)
    assessment = assess(fitting, BOOK)
    store = open_store(f"sqlite:///{tmp_path / 'records.sqlite3'}")
    kept = store.keep(draft_of(raw, fitting, assessment)).record
    asked = body({"what": "set_mark", "criterion": "finish", "mark": 4.5, "reason": "Rasp marks."}, about=assessment.id)
    sent = json.dumps(asked).encode()
    override = override_of(parse_override(asked), assessment, BOOK)
    record = store.keep(draft_of_override(sent, override, kept)).record
    assert (record.kind, record.id, record.about, record.decision) == ("override", override.id, assessment.id, None)
    assert (record.person, record.horse, record.visit, record.foot) == (kept.person, kept.horse, kept.visit, kept.foot)
    assert (record.assessor, record.received) == ("S-1", sent)
    assert (record.rulebook_version, record.rulebook_digest) == (BOOK.version, BOOK.digest)
    back = Override.model_validate_json(record.answer)
    assert back == override
    assert mark_of(assessment_of(kept), BOOK, [back]).counts.mark == 98.5
    assert list(verify(store)) == []
    with pytest.raises(ValueError, match="is about assessment"):
        draft_of_override(sent, override, record)
    store.erase(kept.person or "", reason="Asked for.", created="2026-03-05T10:00:00.000Z")
    erased = store.record(override.id)
    assert erased is not None
    assert (erased.erased, erased.answer) == (True, b"")
    store.close()
