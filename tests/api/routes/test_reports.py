"""GET …/report.html: what was kept as a page, under a policy that lets it load nothing."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import quote

import httpx
import pytest
from fastapi import FastAPI

from api.application import create_app
from fitcheck.records import Store, open_store
from fitcheck.report.html import PAPER_POLICY, REPORT_POLICY
from rules import EngineFault, load_rulebook
from tests.support.desk_records import imported_into, like
from tests.support.pages import Element, page_of
from tests.support.yard_books import IDENTITY, yard_folder

Ask = Callable[..., httpx.Response]
CheckProblem = Callable[..., list[dict[str, Any]]]
Edit = Callable[..., dict[str, Any]]
VISIT = "2026-03-04-H-101"
ERASED = {"reason": "asked for by the person", "created": "2026-03-05T10:00:00.000Z"}


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


def report(ask: Ask, path: str) -> Element:
    response = ask("GET", f"{path}/report.html")
    assert (response.status_code, response.headers["content-type"]) == (200, "text/html; charset=utf-8")
    policy = response.headers["content-security-policy"]
    assert policy == f"{REPORT_POLICY}; frame-ancestors 'none'"
    return page_of(response.text)


def test_a_foot_is_reported_with_its_record(own: Ask, send: Any, store: Store) -> None:
    sent = send()
    (record,) = store.following(0, 9)
    text = report(own, f"/v1/assessments/{sent['id']}").text
    for told in (sent["id"], record.digest, f"Record number {record.number}", *sent["cautions"]):
        assert told in text


def test_a_report_to_be_printed_leaves_readings_out_and_takes_its_own_style(
    own: Ask, send: Any, problem: Callable[..., Any]
) -> None:
    path = f"/v1/assessments/{send()['id']}/report.html"
    whole, paper = own("GET", path), own("GET", f"{path}?form=paper")
    assert 'class="paper' in paper.text
    assert 'class="paper' not in whole.text
    assert paper.headers["content-security-policy"] == f"{PAPER_POLICY}; frame-ancestors 'none'"
    assert paper.headers["etag"] != whole.headers["etag"]
    problem(own("GET", f"{path}?form=column"), "bad-query")


def test_a_corrected_assessment_says_so_and_its_successor_what_it_corrects(own: Ask, send: Any) -> None:
    first = send(observations__nails__1__exit_height=44)
    second = send(f"?corrects={first['id']}")
    assert f"no longer counts. It is corrected by {second['id']}" in report(own, f"/v1/assessments/{first['id']}").text
    assert f"Corrects {first['id']}" in report(own, f"/v1/assessments/{second['id']}").text


def test_who_has_a_report_is_not_sent_it_again_until_it_is_another(own: Ask, send: Any) -> None:
    first = send(observations__nails__1__exit_height=44)
    address = f"/v1/assessments/{first['id']}/report.html"
    tag = own("GET", address).headers["etag"]
    assert own("GET", address, headers={"if-none-match": tag}).status_code == 304
    send(f"?corrects={first['id']}")
    assert own("GET", address, headers={"if-none-match": tag}).status_code == 200


def test_what_is_not_there_was_erased_or_is_not_read_has_no_report(
    own: Ask, send: Any, store: Store, problem: CheckProblem
) -> None:
    sent = send(person={"id": "A-7"})
    (record,) = store.following(0, 1)
    store.keep_many([like(record, id="other", answer=b"{}", visit="other", person="A-8")])
    problem(own("GET", "/v1/assessments/other/report.html"), "cannot-show")
    problem(own("GET", "/v1/visits/other/report.html"), "cannot-show")
    store.erase("A-7", **ERASED)
    problem(own("GET", f"/v1/assessments/{sent['id']}/report.html"), "gone")
    problem(own("GET", f"/v1/visits/{VISIT}/report.html"), "not-found")
    problem(own("GET", "/v1/assessments/x/report.html"), "not-found")
    problem(own("GET", f"/v1/assessments/{sent['id']}/report.html?x=1"), "bad-query")


def test_an_answer_by_another_rulebook_is_reported_as_it_was(
    records: str, ask_of: Callable[[FastAPI], Ask], own: Ask, changed: Edit, tmp_path: Path
) -> None:
    (folder := tmp_path / "book").mkdir()
    book = load_rulebook(yard_folder(folder, IDENTITY))
    with open_store(records) as other:
        sent = ask_of(create_app(book, store=other))("POST", "/v1/assessments", json=changed()).json()
    text = report(own, f"/v1/assessments/{sent['id']}").text
    assert "The rulebook that judged is not at hand." in text
    assert f"{book.title}, {book.version}" in text
    assert book.digest in text


@pytest.mark.parametrize("name", [VISIT, "H-101/2026-03-04", "Łąka 7 馬", "a?b#c%d", "<b>&\"'", "x/report.html"])
def test_a_visit_of_any_name_is_reported_whole(own: Ask, send: Any, name: str) -> None:
    send(foot="left_fore", visit=name, observations__nails__1__exit_height=44)
    last = send(foot="left_fore", visit=name)
    send(foot="right_fore", visit=name)
    page = report(own, f"/v1/visits/{quote(name, safe='')}")
    assert next(page.all("h1")).text == f"Shoeing report: visit {name}"
    assert len(list(page.all("svg"))) == 2
    assert last["id"] in page.text
    assert "Left hind Not seen" in page.text


def test_a_visit_in_conflict_or_beyond_the_rules_is_not_reported(
    own: Ask, send: Any, store: Store, problem: CheckProblem, monkeypatch: pytest.MonkeyPatch
) -> None:
    send(foot="left_fore")
    send(foot="right_fore")
    with monkeypatch.context() as patch:
        patch.setattr("rules.engine.evaluator.Evaluator.evaluate", _fail)
        problem(own("GET", f"/v1/visits/{VISIT}/report.html"), "not-assessed")
    other = send(foot="left_hind", horse={"id": "H-102"}, visit="another")
    imported_into(store, VISIT, other["id"])
    problem(own("GET", f"/v1/visits/{VISIT}/report.html"), "visit-in-conflict")


def _fail(*_: Any) -> None:
    raise EngineFault("lost")


def test_notes_and_names_that_break_out_elsewhere_are_text(own: Ask, send: Any, store: Store) -> None:
    hostile = "</p><script>alert(1)</script>"
    sent = send(notes=hostile, horse={"id": hostile}, visit=hostile)
    (record,) = store.following(0, 1)
    answer = json.loads(record.answer)
    answer |= {"cautions": [hostile], "actions": [hostile], "remarks": [hostile], "not_assessed": [hostile]}
    store.keep_many([like(record, id="other", answer=json.dumps(answer | {"id": "other"}).encode(), about=sent["id"])])
    page = report(own, "/v1/assessments/other")
    assert page.text.count("<script>alert(1)</script>") >= 6
    assert not list(page.all("script"))


def test_a_report_is_in_the_language_of_the_answer_or_of_lang(own: Ask, send: Any) -> None:
    id_ = send("?lang=de", horse={"id": "H-1"}, visit="german")["id"]
    german = own("GET", f"/v1/assessments/{id_}/report.html", headers={"accept-language": "en"})
    english = own("GET", f"/v1/assessments/{id_}/report.html?lang=en")
    assert [each.headers["content-language"] for each in (german, english)] == ["de", "en"]
    assert ("Beschlagbericht" in german.text, "Shoeing report" in english.text) == (True, True)
    visit = own("GET", "/v1/visits/german/report.html")
    assert (visit.headers["content-language"], "Die Hufe" in visit.text) == ("de", True)
    assert "The feet" in own("GET", "/v1/visits/german/report.html?lang=en").text
    assert own("GET", f"/v1/assessments/{id_}/report.html?lang=nl").status_code == 400
