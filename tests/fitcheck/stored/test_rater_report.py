"""Raters held against each other over kept records: whose judgement it is, which counts, and where they differ."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from fitcheck.agreement.judgement import JudgedGrade
from fitcheck.errors import BadInput
from fitcheck.records import Store, TooManyRecords, open_store
from fitcheck.stored import judgements
from fitcheck.stored.judgements import judgements_by_both
from fitcheck.stored.rater_report import Agreement, rater_report
from rules import shipped_rulebook
from tests.support.desk_records import like
from tests.support.raters import gone_over, judged

BOOK = shipped_rulebook()
MADE = "nail-low@nail:medial:1"
HIGH = "nail-high@nail:medial:1"
STRIKE = {"what": "strike", "finding": MADE}


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(f"sqlite:///{tmp_path / 'records.sqlite3'}") as opened:
        yield opened


def agreement(store: Store, first: str = "S-1", second: str = "S-2", **days: Any) -> Agreement:
    return rater_report(store, first, second, BOOK, **days)


def nails(found: Agreement) -> tuple[int, int]:
    """On how many of how many feet both gave nails the same grade."""
    on = next((each for each in found.criteria if each.criterion == "nails"), None)
    return (0, 0) if on is None else (on.same.part, on.same.whole)


def test_two_assessors_who_each_read_the_feet_are_compared(store: Store) -> None:
    """The grades, kappa and interval of the worked example in docs/agreement.md."""
    columns: dict[str, list[JudgedGrade]] = {
        "A-3": ["good", "good", "minor", "major", "good", "good"],
        "S-1": ["good", "minor", "minor", "major", "good", "major"],
    }
    for rater, grades in columns.items():
        store.keep_many(
            [
                judged(grade, f"{rater}-{n}", assessor=rater, horse=f"H-00{n}", visit=f"v-{n}")
                for n, grade in enumerate(grades)
            ]
        )
    found = agreement(store, "A-3", "S-1")
    on = next(each for each in found.criteria if each.criterion == "nails")
    assert (found.feet, found.overrides, nails(found)) == (6, 0, (4, 6))
    kappa = on.kappa["linear"]
    assert None not in (kappa.value, kappa.low, kappa.high)
    assert f"{kappa.value:.2f}, {kappa.low:.2f} to {kappa.high:.2f}" == "0.47, -1.00 to 0.84"
    assert [
        (each.horse, each.criterion, each.first.grade, each.second.grade, each.steps) for each in found.differences
    ] == [("H-005", "nails", "good", "major", 2), ("H-001", "nails", "good", "minor", 1)]
    assert (found.differences[0].first.assessment, found.differences[0].second.assessment) == ("A-3-5", "S-1-5")
    assert found.most_disagreed == ("nails",)
    assert found.says[-1] == "They differ most on nails (2 of 6, 95 % interval 4 % to 78 %)."
    turned = agreement(store, "S-1", "A-3")
    assert [each.steps for each in turned.differences] == [-2, -1]


def test_the_latest_of_each_rater_and_foot_counts_and_a_corrected_one_never(store: Store) -> None:
    store.keep_many(
        [
            judged("major", "old", assessor="S-1"),
            judged("good", "new", assessor="S-1"),
            judged("good", "other", assessor="S-2"),
            judged("minor", "wrong", assessor="S-2", visit="w"),
            judged("good", "right", assessor="S-2", visit="w", about="wrong"),
            judged("good", "mine", assessor="S-1", visit="w"),
        ]
    )
    assert nails(agreement(store)) == (2, 2)


def test_feet_of_other_names_or_stages_are_not_held_together(store: Store) -> None:
    store.keep_many(
        [
            judged("good", "a", assessor="S-1"),
            # From another store: here no visit has two horses.
            judged("good", "b", assessor="S-2", horse="H-2", source="sha256:" + "1" * 64),
            judged("good", "c", assessor="S-2", visit="w"),
            judged("good", "d", assessor="S-2", foot="right_fore"),
            judged("good", "e", assessor="S-1", visit="x", stage="hot_fit"),
            judged("good", "f", assessor="S-2", visit="x"),
        ]
    )
    found = agreement(store)
    assert (found.feet, found.only_first, found.only_second) == (0, 2, 4)
    assert found.grades.share.value is None
    assert found.grades.share.why


def test_what_names_no_horse_or_visit_or_cannot_be_read_is_left_out_and_counted(store: Store) -> None:
    store.keep_many(
        [
            judged("good", "a", assessor="S-1", horse=None),
            judged("good", "b", assessor="S-1", visit=None),
            replace(judged("good", "c", assessor="S-1"), answer=b"{}"),
            replace(judged("good", "d", assessor="S-1", visit="w"), answer=b"no"),
            judged("good", "e", assessor="S-2"),
        ]
    )
    found = agreement(store)
    assert (found.feet, found.nameless, found.unread) == (0, 2, 2)


def test_an_override_is_its_assessors_judgement_and_the_tools_is_the_answer_beneath(store: Store) -> None:
    store.keep_many([judged("minor", "a", assessor="S-1"), judged("major", "b", assessor="S-1", visit="w")])
    made = gone_over(store, "a", STRIKE, by="S-2")
    gone_over(store, "b", {"what": "regrade", "finding": HIGH, "grade": "critical"}, by="S-2")
    for other in ("tool", "S-1"):
        found = agreement(store, "S-2", other)
        assert (found.feet, found.overrides, nails(found)) == (2, 2, (0, 2))
        grades = {each.visit: (each.first.grade, each.second.grade) for each in found.differences}
        assert grades == {"v": ("good", "minor"), "w": ("critical", "major")}
        assert {each.first.override for each in found.differences} >= {made.id}
        assert {each.second.override for each in found.differences} == {None}
        assert "flatters" in found.says[-1]
    # The rest of the foot stays as the tool has it.
    assert [each.same.part for each in agreement(store, "S-2", "tool").criteria if each.criterion == "finish"] == [2]


def test_several_overrides_of_one_assessment_are_one_judgement(store: Store) -> None:
    store.keep_many([judged("minor", "a", assessor="S-1")])
    gone_over(store, "a", STRIKE, by="S-2")
    gone_over(store, "a", {"what": "add", "finding": "surface-rough@foot"}, by="S-2")
    gone_over(store, "a", {"what": "regrade", "finding": MADE, "grade": "critical"}, by="S-3")
    found = agreement(store, "S-2", "tool")
    assert {each.criterion for each in found.differences} == {"nails", "finish"}


def test_the_later_of_a_readers_own_assessment_and_override_counts(store: Store) -> None:
    store.keep_many([judged("minor", "a", assessor="S-1")])
    gone_over(store, "a", STRIKE, by="S-2")
    assert agreement(store, "S-2", "S-1").differences[0].first.grade == "good"
    store.keep_many([judged("minor", "b", assessor="S-2")])
    found = agreement(store, "S-2", "S-1")
    assert (nails(found), found.overrides) == ((1, 1), 0)


def test_a_mark_that_was_set_changes_no_grade(store: Store) -> None:
    store.keep_many([judged("minor", "a", assessor="S-1")])
    gone_over(store, "a", {"what": "set_mark", "criterion": "nails", "mark": 1}, by="S-2")
    assert nails(agreement(store, "S-2", "tool")) == (1, 1)


def test_what_was_not_wholly_seen_is_not_good_because_a_finding_was_struck(store: Store) -> None:
    draft = judged("minor", "a", assessor="S-1")
    needed = b'"still_needed":[{"criterion":"nails","field":"observations.nails","say":"Look."}]'
    assert b'"still_needed":[]' in draft.answer
    store.keep_many([replace(draft, answer=draft.answer.replace(b'"still_needed":[]', needed))])
    gone_over(store, "a", STRIKE, by="S-2")
    found = agreement(store, "S-2", "tool")
    on = next(each for each in found.criteria if each.criterion == "nails")
    assert (on.same.whole, on.only_second) == (0, 1)


def test_the_tool_is_never_held_against_readings_of_the_rater_alone(store: Store) -> None:
    store.keep_many([judged("minor", "a", assessor="S-1")])
    found = agreement(store, "S-1", "tool")
    assert (found.feet, found.only_first) == (0, 1)
    store.keep_many(
        [
            judged("good", "b", person="A-7"),
            judged("major", "c", assessor="S-2"),
            judged("good", "d", assessor="S-2", stage="nailed"),
        ]
    )
    found = agreement(store, "tool", "S-1")
    assert (found.first, found.second, found.feet) == ("tool", "S-1", 1)
    (difference,) = found.differences
    assert (difference.first.assessment, difference.second.assessment) == ("c", "a")


def test_an_override_of_what_was_corrected_or_erased_is_no_judgement(store: Store) -> None:
    store.keep_many([judged("minor", "a", assessor="S-1"), judged("minor", "b", assessor="S-4", visit="w")])
    for id_ in ("a", "b"):
        gone_over(store, id_, STRIKE, by="S-2")
    store.keep_many([judged("good", "c", assessor="S-1", about="a")])
    store.erase("S-4", reason="asked for", created="2026-03-05T10:00:00.000Z")
    assert agreement(store, "S-2", "tool").feet == 0
    store.erase("S-2", reason="asked for", created="2026-03-05T10:00:00.000Z")
    assert agreement(store, "S-2", "tool").feet == 0


def test_an_override_that_cannot_be_read_or_made_here_is_counted(store: Store) -> None:
    store.keep_many([judged("minor", "a", assessor="S-1"), judged("minor", "b", assessor="S-1", visit="w")])
    for id_ in ("a", "b"):
        gone_over(store, id_, STRIKE, by="S-2")
    first, second = (each for each in store.following(0, 9) if each.kind == "override")
    odd = store.record("b")
    assert odd is not None
    own = odd.answer.replace(b'"criterion":"nails","place"', b'"criterion":"own","place"')
    assert own != odd.answer
    store.keep_many(
        [
            like(first, id="bad", assessor="S-9", answer=b"{}"),
            like(odd, id="odd", answer=own.replace(b'"id":"b"', b'"id":"odd"')),
            like(
                second,
                id="about-odd",
                about="odd",
                assessor="S-9",
                answer=second.answer.replace(b'"about":"b"', b'"about":"odd"'),
            ),
        ]
    )
    found = agreement(store, "S-9", "tool")
    assert (found.feet, found.unread) == (0, 2)


def test_days_bound_the_judgements(store: Store) -> None:
    store.keep_many(
        [
            judged("good", "a", assessor="S-1", created="2026-03-04T23:59:59.999Z"),
            judged("good", "b", assessor="S-2", created="2026-03-05T00:00:00.000Z"),
        ]
    )
    assert agreement(store).feet == 1
    assert agreement(store, since="2026-03-04", until="2026-03-05").feet == 0
    assert agreement(store, since="2026-03-05").only_second == 1


def test_one_rater_alone_or_too_many_records_are_told(store: Store) -> None:
    with pytest.raises(BadInput, match="nobody to agree with"):
        agreement(store, "S-1", "S-1")
    store.keep_many([judged("good", f"a-{n}", assessor="S-1", visit=f"v-{n}") for n in range(5)])
    assert len(judgements_by_both(store, "S-1", "S-2", BOOK, most=5).first) == 5
    with pytest.raises(TooManyRecords, match="more than 4"):
        judgements_by_both(store, "S-1", "S-2", BOOK, most=4)


def test_a_rater_of_many_feet_is_gone_through_a_part_at_a_time(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    store.keep_many([judged("minor", f"a-{n}", assessor="S-1", visit=f"v-{n}") for n in range(250)])
    for number in range(250):
        gone_over(store, f"a-{number}", STRIKE, by="S-2")
    seen: list[int] = []
    records = Store.records

    def watched(*given: Any, **options: Any) -> Any:
        seen.append(options["limit"])
        return records(*given, **options)

    monkeypatch.setattr(Store, "records", watched)
    found = agreement(store, "S-2", "S-1")
    assert (found.feet, nails(found), len(found.differences)) == (250, (0, 250), 250)
    assert max(seen) <= 100
    assert judgements.MOST_JUDGED >= 1000
