"""GET /v1/visits/{visit}: the feet that were kept, as they were answered, and what is said of the pairs now."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any
from urllib.parse import quote

import httpx
import pytest
from fastapi import FastAPI

from api.application import create_app
from fitcheck.assessment.models import Assessment
from fitcheck.errors import BadInput
from fitcheck.fitting.validation import parse_fitting
from fitcheck.pairs.visit import Assessed, VisitAssessment, visit_of
from fitcheck.records import RecordFilter, Store, open_store
from fitcheck.rulebooks.selection import book_named
from rules import EngineFault, shipped_rulebook
from tests.support.desk_records import imported_into, like

Ask = Callable[..., httpx.Response]
CheckProblem = Callable[..., list[dict[str, Any]]]
Edit = Callable[..., dict[str, Any]]
VISIT = "2026-03-04-H-101"
FEET = ("left_fore", "right_fore", "left_hind", "right_hind")


@pytest.fixture
def send(own: Ask, changed: Edit) -> Callable[..., dict[str, Any]]:
    """Has the good fitting assessed and kept, with changes, as of one visit; its answer."""

    def post(query: str = "", **edits: Any) -> dict[str, Any]:
        fitting = changed(**({"horse": {"id": "H-101"}, "visit": VISIT} | edits))
        response = own("POST", f"/v1/assessments{query}", json=fitting)
        assert response.status_code == 201, response.text
        answer: dict[str, Any] = response.json()
        return answer

    return post


def visit(ask: Ask, name: str = VISIT) -> dict[str, Any]:
    response = ask("GET", f"/v1/visits/{name}")
    assert response.status_code == 200, response.text
    found: dict[str, Any] = response.json()
    return found


def test_all_feet_of_a_visit_stand_together_with_their_pairs(own: Ask, send: Any) -> None:
    sent = {foot: send(foot=foot) for foot in FEET}
    send(visit="another")
    found = visit(own)
    assert (found["visit"], found["decision"], found["feet_missing"]) == (VISIT, "release", [])
    assert [(each["foot"], each["assessment"], each["decision"]) for each in found["feet"]] == [
        (foot, sent[foot]["id"], "release") for foot in FEET
    ]
    assert [(pair["pair"], pair["compared"]) for pair in found["pairs"]] == [("fore", True), ("hind", True)]
    assert {pair["rulebook"]["digest"] for pair in found["pairs"]} == {shipped_rulebook().digest}


def test_feet_that_were_not_seen_are_named(own: Ask, send: Any) -> None:
    send(foot="left_fore")
    found = visit(own)
    assert found["feet_missing"] == ["right_fore", "left_hind", "right_hind"]
    assert [pair["compared"] for pair in found["pairs"]] == [False, False]


def test_the_gravest_foot_decides_and_the_latest_of_each_counts(own: Ask, send: Any) -> None:
    first = send(foot="left_fore", observations__soundness={"trot_up": "lame"})
    send(foot="right_fore")
    assert (visit(own)["decision"], visit(own)["decided_by"]) == ("stop_and_refer", ["left_fore"])
    again = send(foot="left_fore")
    found = visit(own)
    assert (found["decision"], found["feet"][0]["assessment"]) == ("release", again["id"])
    assert found["feet"][0]["earlier"] == [first["id"]]


def test_what_was_corrected_is_left_out_also_where_the_visit_itself_was_wrong(own: Ask, send: Any) -> None:
    wrong = send(foot="left_fore", observations__soundness={"trot_up": "lame"})
    elsewhere = send(foot="right_fore")
    send(f"?corrects={wrong['id']}", foot="left_fore")
    send(f"?corrects={elsewhere['id']}", foot="right_fore", visit="another")
    found = visit(own)
    assert [(each["foot"], each["earlier"]) for each in found["feet"]] == [("left_fore", [])]
    assert found["decision"] == "release"
    assert [each["foot"] for each in visit(own, "another")["feet"]] == ["right_fore"]


def test_feet_are_as_they_were_answered_also_under_another_rulebook_and_pairs_name_theirs(
    own: Ask, send: Any, store: Store, records: str, ask_of: Callable[[FastAPI], Ask], root: Path
) -> None:
    for foot in FEET[:2]:
        send(foot=foot)
    # What it says was kept: to assess anew would give release.
    record = next(store.each_record(RecordFilter(visit=VISIT)))
    said = json.loads(record.answer) | {"decision": "put_right", "id": "kept"}
    store.keep(like(record, answer=json.dumps(said).encode(), id="kept"))
    book = book_named(str(root / "cases_demo" / "yard_book"))
    with open_store(records) as other:
        later = visit(ask_of(create_app(book, store=other)))
    for found in (visit(own), later):
        assert (found["feet"][0]["assessment"], found["feet"][0]["decision"]) == ("kept", "put_right")
        assert found["decision"] == "put_right"
    assert {pair["rulebook"]["digest"] for pair in later["pairs"]} == {book.digest}
    assert book.digest != shipped_rulebook().digest


def test_the_answer_is_that_of_the_function_on_the_fittings_as_received(own: Ask, send: Any, store: Store) -> None:
    send(foot="left_fore", hoof__wall_height=90)
    send(foot="right_fore", hoof__wall_height=110)
    assessed = [
        Assessed(parse_fitting(json.loads(each.received)), Assessment.model_validate_json(each.answer))
        for each in store.each_record(RecordFilter(visit=VISIT))
    ]
    response = own("GET", f"/v1/visits/{VISIT}")
    assert VisitAssessment.model_validate_json(response.content) == visit_of(assessed)
    assert response.json()["decided_by"] == ["pair:fore"]


def test_a_visit_of_which_nothing_was_kept_is_not_found(own: Ask, problem: CheckProblem) -> None:
    for name in ("x", "", "%00", "a/b", "é" * 300):
        problem(own("GET", f"/v1/visits/{name}"), "not-found")
    problem(own("GET", "/v1/visits/x?y=1"), "bad-query")


@pytest.mark.parametrize("name", ["H-101/2026-03-04", "Łąka 7 馬", "a?b#c%d", "batch"])
def test_a_visit_may_have_any_name(own: Ask, send: Any, name: str) -> None:
    send(foot="left_fore", visit=name)
    assert visit(own, quote(name, safe=""))["visit"] == name


def test_feet_of_two_horses_under_one_name_are_no_visit(
    own: Ask, send: Any, store: Store, problem: CheckProblem
) -> None:
    send(foot="left_fore")
    other = send(foot="right_fore", horse={"id": "H-102"}, visit="another")
    imported_into(store, VISIT, other["id"])
    response = own("GET", f"/v1/visits/{VISIT}")
    [error] = problem(response, "visit-in-conflict")
    assert error["field"] == "horse.id"
    assert "H-102" in response.json()["detail"]


def test_such_a_visit_is_put_right_by_correcting_what_is_wrong(
    own: Ask, send: Any, store: Store, problem: CheckProblem, good: dict[str, Any]
) -> None:
    send(foot="left_fore")
    other = send(foot="right_fore", horse={"id": "H-102"}, visit="another")
    imported_into(store, VISIT, other["id"])
    problem(own("GET", f"/v1/visits/{VISIT}"), "visit-in-conflict")
    right = good | {"foot": "right_fore", "horse": {"id": "H-102"}, "visit": "another"}
    assert own("POST", f"/v1/assessments?corrects={other['id']}-again", json=right).status_code == 201
    assert [each["foot"] for each in visit(own)["feet"]] == ["left_fore"]


@pytest.mark.parametrize("horse", [{"id": "H-102"}, {"id": "H-102", "transponder": "276020000000001"}])
def test_a_second_horse_is_not_kept_under_a_visit(
    own: Ask, send: Any, store: Store, problem: CheckProblem, good: dict[str, Any], horse: dict[str, str]
) -> None:
    first = send(foot="left_fore")
    second = good | {"foot": "right_fore", "horse": horse, "visit": VISIT}
    faults = problem(own("POST", "/v1/assessments", json=second), "visit-of-another-horse")
    told = [(fault["field"], fault["value"], fault["allowed"]) for fault in faults]
    assert told == [("visit", VISIT, "a visit of this horse alone"), ("horse.id", "H-102", "H-101")]
    assert first["id"] in faults[0]["detail"]
    problem(own("POST", "/v1/assessments", json=second, headers={"idempotency-key": "k"}), "visit-of-another-horse")
    assert store.head().number == 1
    assert [each["foot"] for each in visit(own)["feet"]] == ["left_fore"]
    lines = "\n".join(json.dumps(each) for each in (second, good | {"visit": VISIT, "foot": "left_hind"}))
    headers = {"content-type": "application/x-ndjson"}
    refused, kept = own("POST", "/v1/assessments/batch?keep=true", content=lines, headers=headers).text.splitlines()
    assert json.loads(refused)["problem"]["type"] == "/problems/visit-of-another-horse"
    assert "location" in json.loads(kept)


def test_a_name_that_is_used_for_everything_is_no_visit(
    own: Ask, send: Any, store: Store, problem: CheckProblem
) -> None:
    send(foot="left_fore")
    record = next(store.each_record(RecordFilter(visit=VISIT)))
    store.keep_many([like(record, id=f"more-{number}") for number in range(200)])
    [error] = problem(own("GET", f"/v1/visits/{VISIT}"), "visit-in-conflict")
    assert (error["field"], error["allowed"]) == ("visit", "at most 200 assessments")


@pytest.mark.parametrize("what", ["", "/report.html", "/marks"])
@pytest.mark.parametrize("changed_part", ["answer", "received"])
def test_a_visit_with_an_assessment_that_is_not_read_here_is_not_shown_in_part(
    own: Ask, send: Any, store: Store, problem: CheckProblem, what: str, changed_part: str
) -> None:
    send(foot="left_fore")
    record = next(store.each_record(RecordFilter(visit=VISIT)))
    changes = {changed_part: json.dumps(json.loads(getattr(record, changed_part)) | {"colour": "bay"}).encode()}
    store.keep(like(record, id="newer", **changes))
    problem(own("GET", f"/v1/visits/{VISIT}{what}"), "cannot-show")


def test_what_the_rulebook_of_today_does_not_take_is_still_shown(
    send: Any, store: Store, records: str, ask_of: Callable[[FastAPI], Ask]
) -> None:
    """A yard's narrower range refuses an overhang that was taken when the foot was kept."""
    sent = send(foot="left_fore")
    book = shipped_rulebook()
    quantity = book.quantities["overhang"]
    narrow = replace(
        book, quantities={**book.quantities, "overhang": quantity.model_copy(update={"range": (20.0, 30.0)})}
    )
    with pytest.raises(BadInput):
        parse_fitting(json.loads(next(store.each_record(RecordFilter(visit=VISIT))).received), narrow)
    with open_store(records) as other:
        found = visit(ask_of(create_app(narrow, store=other)))
    assert [each["assessment"] for each in found["feet"]] == [sent["id"]]


def test_rules_that_do_not_run_on_a_pair_say_nothing_of_the_visit(
    own: Ask, send: Any, problem: CheckProblem, monkeypatch: pytest.MonkeyPatch
) -> None:
    for foot in FEET[:2]:
        send(foot=foot)

    def fail(*_: Any) -> None:
        raise EngineFault("lost")

    monkeypatch.setattr("rules.engine.evaluator.Evaluator.evaluate", fail)
    problem(own("GET", f"/v1/visits/{VISIT}"), "not-assessed")


def test_what_was_erased_is_no_part_of_a_visit(own: Ask, send: Any, store: Store, problem: CheckProblem) -> None:
    send(foot="left_fore", person={"id": "A-7"})
    send(foot="right_fore", person={"id": "A-8"})
    store.erase("A-7", reason="asked for by the person", created="2026-03-05T10:00:00.000Z")
    found = visit(own)
    assert [each["foot"] for each in found["feet"]] == ["right_fore"]
    assert "left_fore" in found["feet_missing"]
    store.erase("A-8", reason="asked for by the person", created="2026-03-05T10:00:00.000Z")
    problem(own("GET", f"/v1/visits/{VISIT}"), "not-found")
