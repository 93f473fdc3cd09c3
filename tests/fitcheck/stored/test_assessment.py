"""A kept answer has one reader: what was answered comes back whole; whatever is made of it refuses the same."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from fitcheck.assessment.assess import assess
from fitcheck.assessment.models import Assessment
from fitcheck.fitting.validation import parse_fitting
from fitcheck.records import Record, RecordFilter, Store, draft_of, open_store
from fitcheck.stored import Unreadable, assessment_of, foot_of, stored_language, stored_visit
from fitcheck.stored.judgements import judgements_by_both
from fitcheck.stored.marks import dated_sheets
from fitcheck.stored.regrade import Regrading
from rules import load_rulebook, localized, shipped_rulebook
from tests.support.desk_records import like
from tests.support.kept_fittings import kept_fittings
from tests.support.yard_books import IDENTITY, yard_folder

BOOK = shipped_rulebook()
Keep = Callable[..., Record]


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(f"sqlite:///{tmp_path / 'records.sqlite3'}") as opened:
        yield opened


@pytest.fixture
def keep(store: Store, changed: Callable[..., dict[str, Any]]) -> Keep:
    """Keeps the good foot with these changes, judged by the shipped rulebook, in ``language``."""

    def of(language: str = "en", **edits: Any) -> Record:
        document = changed(assessor={"id": "S-1"}, **edits)
        fitting = parse_fitting(document)
        draft = draft_of(json.dumps(document).encode(), fitting, assess(fitting, localized(BOOK, language)))
        return store.keep(draft).record

    return of


def odd(store: Store, record: Record, answer: bytes) -> Record:
    """A record like this one but for its answer."""
    return store.keep(like(record, id="odd", answer=answer)).record


def test_every_kept_answer_of_the_demo_fittings_comes_back_as_it_was(store: Store) -> None:
    kept = store.keep_many([*kept_fittings(30)])
    for record in kept:
        found = assessment_of(record)
        assert found == Assessment.model_validate(json.loads(record.answer))
        assert found.model_dump_json().encode() == record.answer


@pytest.mark.parametrize("language", ["en", "de"])
def test_the_language_is_that_of_what_was_answered(keep: Keep, language: str) -> None:
    record = keep(language)
    assert stored_language(record) == language
    assert (assessment_of(record).language or "en") == language
    assert foot_of(record, BOOK).book.language == "en", "the rulebook that judged is in its own language"


UNREADABLE: dict[str, Callable[[dict[str, Any]], object]] = {
    "an assessment of another version, with a key more": lambda answer: answer | {"colour": "bay"},
    "a grade that there is not": lambda answer: answer | {"decision": "fine"},
    "a day that is none": lambda answer: answer | {"created": "yesterday"},
    "a time that may be any": lambda answer: answer | {"created": "2026-03-04T10:00:00"},
    "a number that is none": lambda answer: (
        answer | {"measurements": [answer["measurements"][0] | {"value": float("nan")}]}
    ),
    "a list": lambda answer: [answer],
}


@pytest.mark.parametrize("change", UNREADABLE.values(), ids=UNREADABLE)
def test_an_answer_of_another_shape_is_said_to_be_unreadable_by_its_id(
    store: Store, keep: Keep, change: Callable[[dict[str, Any]], object]
) -> None:
    record = keep()
    other = odd(store, record, json.dumps(change(json.loads(record.answer))).encode())
    with pytest.raises(Unreadable, match="The answer kept as odd is not one that this version reads"):
        assessment_of(other)
    assert stored_language(other) is None


@pytest.mark.parametrize(
    "key", ["id", "findings", "conforms", "still_needed", "not_assessed", "measurements", "rulebook", "stage"]
)
def test_an_answer_that_lacks_what_every_assessment_has_is_unreadable(store: Store, keep: Keep, key: str) -> None:
    record = keep()
    answer = json.loads(record.answer)
    del answer[key]
    with pytest.raises(Unreadable):
        assessment_of(odd(store, record, json.dumps(answer).encode()))


@pytest.mark.parametrize("answer", [b"", b"no", b"\xff", b"{}", b"{}{}", b"null"])
def test_bytes_that_are_no_answer_at_all_are_unreadable(store: Store, keep: Keep, answer: bytes) -> None:
    with pytest.raises(Unreadable):
        assessment_of(odd(store, keep(), answer))


def test_all_that_is_made_of_kept_answers_refuses_the_one_that_the_reader_refuses(store: Store, keep: Keep) -> None:
    record = keep(visit="v-1", horse={"id": "H-1"})
    odd(store, record, json.dumps(json.loads(record.answer) | {"colour": "bay"}).encode())
    with pytest.raises(Unreadable):
        stored_visit(store, "v-1", BOOK)
    with pytest.raises(Unreadable):
        list(dated_sheets(store, RecordFilter(kind="assessment"), BOOK))
    found = judgements_by_both(store, "S-1", "S-2", BOOK)
    assert (len(found.first), found.unread) == (1, 1)
    first, second = Regrading(store, BOOK, RecordFilter(kind="assessment")).each()
    assert (first.problem, second.case) == (None, None)
    assert second.problem == "The kept answer is not one that this fitcheck can read."


def test_a_foot_is_shown_by_the_rulebook_that_judged_it_and_else_by_the_one_at_hand(keep: Keep, tmp_path: Path) -> None:
    yard = load_rulebook(yard_folder(tmp_path, IDENTITY))
    shown = foot_of(keep(), yard)
    assert (shown.book, shown.same_book) == (BOOK, True)
    assert (shown.fitting.foot, shown.fitting.stage) == (shown.assessment.foot, shown.assessment.stage)
    elsewhere = json.loads(shown.record.answer)
    elsewhere["rulebook"]["digest"] = "sha256:" + "c" * 64
    other = foot_of(replace(shown.record, answer=json.dumps(elsewhere).encode()), yard)
    assert (other.book, other.same_book) == (yard, False)


@pytest.mark.parametrize(
    ("part", "content"),
    [("received", b"{}"), ("received", b"\xff"), ("answer", None)],
    ids=["no fitting", "no JSON", "an answer of another foot"],
)
def test_a_foot_of_which_fitting_or_answer_do_not_fit_is_unreadable(
    store: Store, keep: Keep, part: str, content: bytes | None
) -> None:
    record = keep()
    other_foot = json.dumps(json.loads(record.answer) | {"foot": "right_hind"}).encode()
    changes: dict[str, Any] = {part: content if content is not None else other_foot}
    with pytest.raises(Unreadable, match="kept as odd"):
        foot_of(store.keep(like(record, id="odd", **changes)).record, BOOK)
