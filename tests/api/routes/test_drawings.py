"""GET /v1/assessments/{id}/drawing.svg: what was kept, drawn, and nothing that was not."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi import FastAPI

from api.application import create_app
from fitcheck.assessment.models import Assessment
from fitcheck.drawing import draw
from fitcheck.fitting.validation import parse_fitting
from fitcheck.records import Store, open_store
from rules import load_rulebook, shipped_rulebook
from tests.support.desk_records import like
from tests.support.drawings import tag_of, tree_of
from tests.support.yard_books import IDENTITY, yard_folder

Ask = Callable[..., httpx.Response]
CheckProblem = Callable[..., list[dict[str, Any]]]
Edit = Callable[..., dict[str, Any]]
LEFT_OUT = "not at hand: the bands for nails are left out"


@pytest.fixture
def send(own: Ask, changed: Edit) -> Callable[..., str]:
    """Has the good fitting assessed and kept, with changes; its address."""

    def post(query: str = "", **edits: Any) -> str:
        response = own("POST", f"/v1/assessments{query}", json=changed(**edits))
        assert response.status_code == 201, response.text
        return response.headers["location"]

    return post


def said(svg: str) -> str:
    return " ".join(each.text or "" for each in tree_of(svg).iter())


def test_the_drawing_is_that_of_the_fitting_and_the_answer_that_were_kept(own: Ask, send: Any, store: Store) -> None:
    address = send(observations__nails__1__exit_height=44)
    response = own("GET", f"{address}/drawing.svg")
    assert (response.status_code, response.headers["content-type"]) == (200, "image/svg+xml")
    (record,) = store.following(0, 9)
    book = shipped_rulebook()
    kept = Assessment.model_validate_json(record.answer)
    assert kept.findings
    assert response.text == draw(parse_fitting(json.loads(record.received), book), kept, book)


def test_a_sheet_is_wider_than_a_column(own: Ask, send: Any) -> None:
    address = send()
    widths = {
        form: float(tree_of(own("GET", f"{address}/drawing.svg?form={form}").text).get("width") or 0)
        for form in ("column", "sheet")
    }
    assert widths["column"] < widths["sheet"]


@pytest.mark.parametrize("query", ["form=wide", "form=", "width=3", "form=column&form=sheet"])
def test_any_other_query_is_refused(own: Ask, send: Any, problem: CheckProblem, query: str) -> None:
    problem(own("GET", f"{send()}/drawing.svg?{query}"), "bad-query")


def test_a_picture_opened_by_itself_may_load_and_run_nothing(own: Ask, send: Any) -> None:
    policy = own("GET", f"{send()}/drawing.svg").headers["content-security-policy"]
    parts = [part.strip() for part in policy.split(";")]
    assert "default-src 'none'" in parts
    assert "sandbox" in parts
    assert "unsafe" not in policy


def test_who_has_the_drawing_is_not_sent_it_again(own: Ask, send: Any) -> None:
    address = send() + "/drawing.svg"
    first = own("GET", address)
    again = own("GET", address, headers={"if-none-match": first.headers["etag"]})
    assert (again.status_code, again.content, again.headers["etag"]) == (304, b"", first.headers["etag"])
    assert own("GET", f"{address}?form=sheet", headers={"if-none-match": first.headers["etag"]}).status_code == 200
    assert own("HEAD", address).headers["content-length"] == str(len(first.content))


def test_what_is_not_kept_has_no_drawing(own: Ask, problem: CheckProblem) -> None:
    for name in ("x", "batch", "%00", "%3Csvg%20onload=alert(1)%3E"):
        problem(own("GET", f"/v1/assessments/{name}/drawing.svg"), "not-found")


def test_what_was_erased_has_no_drawing_any_more(own: Ask, send: Any, store: Store, problem: CheckProblem) -> None:
    address = send(person={"id": "A-7"})
    store.erase("A-7", reason="asked for by the person", created="2026-03-05T10:00:00.000Z")
    problem(own("GET", f"{address}/drawing.svg"), "gone")


def test_a_corrected_assessment_is_still_drawn_as_it_was(own: Ask, send: Any) -> None:
    address = send(observations__nails__1__exit_height=44)
    before = own("GET", f"{address}/drawing.svg").text
    send(f"?corrects={address.rpartition('/')[2]}")
    assert own("GET", f"{address}/drawing.svg").text == before


def test_under_another_rulebook_the_bands_are_left_out_and_the_drawing_says_so(
    own: Ask, send: Any, records: str, ask_of: Callable[[FastAPI], Ask], tmp_path: Path
) -> None:
    """What the shipped book judged has its bands under any book; what the yard's did has them only there."""
    (folder := tmp_path / "book").mkdir()
    book = load_rulebook(yard_folder(folder, IDENTITY))
    by_shipped = send()
    assert LEFT_OUT not in said(own("GET", f"{by_shipped}/drawing.svg").text)
    with open_store(records) as other:
        yard = ask_of(create_app(book, store=other))
        body = own("GET", by_shipped).json()
        assert body["rulebook"]["digest"] == shipped_rulebook().digest
        assert yard("GET", f"{by_shipped}/drawing.svg").text == own("GET", f"{by_shipped}/drawing.svg").text
        (record,) = other.following(0, 1)
        by_yard = yard("POST", "/v1/assessments", content=record.received, headers={"content-type": "application/json"})
        at_yard = yard("GET", f"{by_yard.headers['location']}/drawing.svg").text
    shown = own("GET", f"{by_yard.headers['location']}/drawing.svg").text
    assert LEFT_OUT not in said(at_yard)
    assert 'class="band"' in at_yard
    assert LEFT_OUT in said(shown)
    assert f"Judged by {book.title}, {book.version}." in said(shown)
    assert 'class="band"' not in shown
    assert 'class="limit"' not in shown
    assert "band mm" not in said(shown)


def test_what_a_rulebook_had_of_its_own_goes_by_its_name(own: Ask, send: Any, store: Store) -> None:
    send(observations__nails__1__exit_height=44)
    (record,) = store.following(0, 1)
    answer = json.loads(record.answer)
    answer["rulebook"]["digest"] = "sha256:" + "c" * 64
    answer["findings"][0] |= {"place": "coronet_band", "criterion": "own_thing"}
    answer["not_assessed"] = ["own_thing", "own_thing.own_reading@coronet_band"]
    store.keep_many([like(record, id="other", answer=json.dumps(answer).encode())])
    shown = said(own("GET", "/v1/assessments/other/drawing.svg").text)
    assert "coronet band" in shown
    assert "own thing: own reading, coronet band" in shown


def test_what_this_version_does_not_read_is_not_drawn(own: Ask, send: Any, store: Store, problem: CheckProblem) -> None:
    send()
    (record,) = store.following(0, 1)
    other_foot = json.loads(record.answer) | {"foot": "right_hind"}
    made = {
        "no-answer": {"answer": b"{}"},
        "no-fitting": {"received": b"{}"},
        "no-json": {"received": b"\xff"},
        "other-foot": {"answer": json.dumps(other_foot).encode()},
    }
    store.keep_many([like(record, id=name, **changes) for name, changes in made.items()])
    for name in made:
        problem(own("GET", f"/v1/assessments/{name}/drawing.svg"), "cannot-show")


def test_names_that_a_fitting_brings_are_text_in_the_drawing(own: Ask, send: Any) -> None:
    hostile = '<script>alert("1")</script>&\'"'
    address = send(horse={"id": hostile}, visit="\u202ex]]><svg onload=alert(1)>")
    svg = own("GET", f"{address}/drawing.svg").text
    assert {tag_of(each) for each in tree_of(svg).iter()} <= {
        "svg", "title", "desc", "rect", "text", "path", "line", "circle", "g",
    }  # fmt: skip
    assert "<script" not in svg
    assert "\u202e" not in svg
    assert "<script>" in said(svg)
