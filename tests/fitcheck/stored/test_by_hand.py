"""Marks by hand: kept as records in the chain, found, exported, erased, held against the tool's, and compared."""

from __future__ import annotations

import json
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

import pytest

from fitcheck.errors import BadInput
from fitcheck.marking import hand_marks_of, parse_hand_marks
from fitcheck.marking.by_hand import marked_criteria
from fitcheck.records import RecordFilter, Store, UnknownRecord, draft_of_hand_marks, open_store, verify
from fitcheck.records.exchange.importing import Importer
from fitcheck.records.exchange.portable import line_of
from fitcheck.records.feed import event_of, source_of
from fitcheck.stored import assessment_of, sheet_of
from fitcheck.stored.by_hand import by_hand_in, by_hand_of, compared, waiting_for
from fitcheck.stored.rater_report import rater_report
from tests.support.marked import BOOK, assessed, finding
from tests.support.raters import by_hand, gone_over, judged

DAY = RecordFilter(kind="assessment", superseded=False)
ERASED = {"reason": "asked for by the person", "created": "2026-03-05T10:00:00.000Z"}


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(f"sqlite:///{tmp_path / 'records.sqlite3'}") as opened:
        yield opened


def test_a_grade_leaves_what_the_scheme_leaves_for_one_fault_of_it(store: Store) -> None:
    """Of nails' 20 marks a minor fault takes a tenth and a major one half (rules/first_book/marking.toml)."""
    store.keep(judged("good", "a", person="A-7"))
    for grade, left in (("good", 20.0), ("minor", 18.0), ("major", 10.0), ("critical", 0.0)):
        made = by_hand(store, "a", f"by-{grade}", nails=grade)  # type: ignore[arg-type]
        assert next(each.mark for each in made.criteria if each.criterion == "nails") == left
        assert made.mark == (None if grade == "critical" else made.of - 20 + left)


def test_what_was_not_looked_at_is_not_good_and_leaves_no_whole_mark(store: Store) -> None:
    store.keep(judged("good", "a"))
    made = by_hand(store, "a", "S-1", nails=None)
    assert made.mark is None
    assert [each.mark for each in made.criteria if each.criterion == "nails"] == [None]


@pytest.mark.parametrize(
    ("change", "field"),
    [
        (lambda sent: sent | {"about": "another"}, "about"),
        (lambda sent: sent | {"criteria": sent["criteria"][1:]}, "criteria"),
        (lambda sent: sent | {"criteria": [*sent["criteria"], sent["criteria"][0]]}, "criteria.{}.criterion"),
        (lambda sent: sent | {"criteria": [*sent["criteria"], {"criterion": "going"}]}, "criteria.{}.criterion"),
        (lambda sent: sent | {"criteria": [{"criterion": "x", "grade": "fine"}]}, "criteria.0.grade.literal['good']"),
        (lambda sent: sent | {"comment": ""}, "comment"),
    ],
)  # fmt: skip
def test_marks_that_do_not_fit_the_foot_are_refused_by_their_field(change: object, field: str) -> None:
    assessment = assessed()
    criteria = [{"criterion": name, "grade": "good"} for name in marked_criteria(assessment, BOOK)]
    sent = {"about": assessment.id, "assessor": {"id": "S-1"}, "criteria": criteria}
    with pytest.raises(BadInput) as caught:
        hand_marks_of(parse_hand_marks(change(sent)), assessment, BOOK, blind=True)  # type: ignore[operator]
    assert caught.value.problems[0].field == field.format(len(criteria))


def test_they_are_sealed_in_the_chain_told_as_events_and_go_out_and_in_whole(store: Store, tmp_path: Path) -> None:
    store.keep(judged("good", "a", person="A-7", assessor="S-0"))
    made = by_hand(store, "a", "S-1", "Mind the last nail.", nails="minor")
    record = store.record(made.id)
    assert record is not None
    assert (record.kind, record.about, record.person, record.assessor) == ("hand_marks", "a", "A-7", "S-1")
    assert list(verify(store)) == []
    event = json.loads(event_of(record, source_of("sha256:" + "1" * 64)))
    assert (event["type"], event["subject"]) == ("fitcheck.hand-marks.kept.v1", "a")
    assert event["data"]["hand_marks"]["comment"] == "Mind the last nail."
    lines = b"".join(line_of(each) for each in store.following(0, 10))
    with open_store(f"sqlite:///{tmp_path / 'other.sqlite3'}") as other:
        assert list(Importer(other, lambda: BOOK).take(BytesIO(lines), "ndjson")) == []
        assert by_hand_of(other, ["a"]) == [made]


@pytest.mark.parametrize("person", ["A-7", "S-0", "S-1"])
def test_they_are_erased_with_whoever_fitted_assessed_or_marked(store: Store, person: str) -> None:
    store.keep(judged("good", "a", person="A-7", assessor="S-0"))
    made = by_hand(store, "a", "S-1", "Mind the last nail.")
    about = store.record("a")
    erasure = store.erase(person, **ERASED)
    assert erasure is not None
    left = store.record(made.id)
    assert left is not None
    assert (left.erased, left.person, left.assessor) == (True, None, None)
    assert list(verify(store)) == []
    assert about is not None
    if person != "S-1":
        with pytest.raises(UnknownRecord):
            store.keep(draft_of_hand_marks(b"{}", made.model_copy(update={"id": "again"}), about))


def test_feet_wait_for_each_assessor_as_they_were_last_assessed_but_for_his_own(store: Store) -> None:
    store.keep_many(
        [
            judged("good", "trial", person="A-7", assessor="S-0"),
            judged("good", "later", person="A-7", assessor="S-0"),
            judged("good", "other-foot", person="A-7", assessor="S-0", foot="right_hind"),
            judged("good", "own", person="A-7", assessor="S-1", foot="left_hind"),
            judged("good", "corrected", person="A-7", foot="right_fore"),
            judged("good", "correction", person="A-7", foot="right_fore", about="corrected"),
        ]
    )
    waiting = waiting_for(store, "S-1", DAY)
    assert [each.id for each in waiting.records] == ["later", "correction", "other-foot"]
    assert (waiting.own, len(waiting.marked), waiting.left_out) == (1, 0, False)
    by_hand(store, "later", "S-1")
    by_hand(store, "correction", "S-2")
    waiting = waiting_for(store, "S-1", DAY)
    assert [each.id for each in waiting.records] == ["correction", "other-foot"]
    assert [each.id for each in waiting.marked] == ["later"]


@pytest.mark.parametrize(
    ("first", "last", "there"),
    [
        ("2026-03-02", "2026-03-02", ["fitted"]),
        ("2026-03-04", "2026-03-04", ["not-said"]),
        (None, "2026-03-03", ["fitted"]),
        ("2026-03-03", None, ["not-said"]),
        ("2026-03-05", None, []),
    ],
)
def test_days_are_those_of_the_fitting_or_else_of_keeping(
    store: Store, first: str | None, last: str | None, there: list[str]
) -> None:
    store.keep_many([judged("good", "fitted", fitted="2026-03-02"), judged("good", "not-said", visit="w")])
    found = store.records(RecordFilter(first_day=first, last_day=last), limit=5)
    assert [each.id for each in found] == there


def test_the_widest_apart_stands_first_and_what_one_did_not_judge_does_not_differ(store: Store) -> None:
    said = assessed(
        finding("nails", "major", "nail:medial:1"), finding("toe_fit", "minor", "toe"), decision="put_right"
    )
    store.keep(judged("good", said.id))
    sent = {"about": said.id, "assessor": {"id": "S-1"}}
    grades = {"nails": "minor", "toe_fit": "critical", "finish": None}
    criteria = [{"criterion": name, "grade": grades.get(name, "good")} for name in marked_criteria(said, BOOK)]
    made = hand_marks_of(parse_hand_marks(sent | {"criteria": criteria}), said, BOOK, blind=True)
    found = compared(made, said, sheet_of(said, [], BOOK))
    assert [(each.by_hand.criterion, each.steps) for each in found[:2]] == [("toe_fit", 2), ("nails", 1)]
    assert {each.steps for each in found[2:]} == {0}


def test_two_assessors_and_the_tool_are_compared_by_what_was_marked_blind(store: Store) -> None:
    for n in range(4):
        store.keep(judged("major" if n == 0 else "good", f"a-{n}", horse=f"H-{n}", visit=f"v-{n}", assessor="S-0"))
        by_hand(store, f"a-{n}", "S-1", nails="major" if n < 2 else "good")
        by_hand(store, f"a-{n}", "S-2")
    both = rater_report(store, "S-1", "S-2", BOOK)
    assert (both.feet, both.blind, both.overrides) == (4, 8, 0)
    assert next((each.same.part, each.same.whole) for each in both.criteria if each.criterion == "nails") == (2, 4)
    basis = both.differences[0].first
    record = store.record(basis.hand_marks or "")
    assert record is not None
    assert by_hand_in(record).assessor.id == "S-1"
    against_tool = rater_report(store, "S-1", "tool", BOOK)
    assert [(each.horse, each.first.grade, each.second.grade) for each in against_tool.differences] == [
        ("H-1", "major", "good")
    ]


def test_an_override_after_marking_by_hand_is_no_judgement_of_its_own(store: Store) -> None:
    """By then the assessor has seen what the tool says."""
    store.keep(judged("major", "a", assessor="S-0"))
    by_hand(store, "a", "S-1")
    record = store.record("a")
    assert record is not None
    [made] = assessment_of(record).findings
    gone_over(store, "a", {"what": "regrade", "finding": made.id, "grade": "minor", "reason": "Seen."}, by="S-1")
    found = rater_report(store, "S-1", "tool", BOOK)
    assert (found.blind, found.overrides, found.differences[0].first.grade) == (1, 0, "good")


def test_agreement_may_be_of_the_days_of_fittings(store: Store) -> None:
    for n in (2, 3):
        store.keep(judged("good", f"a-{n}", horse=f"H-{n}", visit=f"v-{n}", fitted=f"2026-03-0{n}"))
        by_hand(store, f"a-{n}", "S-1")
        by_hand(store, f"a-{n}", "S-2")
    assert rater_report(store, "S-1", "S-2", BOOK, days=("2026-03-03", "2026-03-03")).feet == 1
