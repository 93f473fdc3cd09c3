"""GET …/marks and …/progress: what was kept, marked by the scheme of today and never assessed anew."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any
from urllib.parse import quote

import httpx
import jsonschema
import pytest

from fitcheck.assessment.models import Assessment
from fitcheck.fitting.validation import parse_fitting
from fitcheck.marking import mark_of, sheet_of_visit
from fitcheck.marking.progress import DatedSheet, progress_of
from fitcheck.pairs.visit import Assessed, visit_of
from fitcheck.records import RecordFilter, Store
from fitcheck.stored import marks as work
from rules import EngineFault, shipped_rulebook
from tests.support.desk_records import imported_into, like
from tests.support.drawings import tag_of, tree_of

Ask = Callable[..., httpx.Response]
CheckProblem = Callable[..., list[dict[str, Any]]]
Edit = Callable[..., dict[str, Any]]
BOOK = shipped_rulebook()
VISIT = "2026-03-04-H-101"
ERASED = {"reason": "asked for by the person", "created": "2026-03-05T10:00:00.000Z"}


@pytest.fixture
def send(own: Ask, changed: Edit) -> Callable[..., dict[str, Any]]:
    """Has the good fitting assessed and kept, with changes, as of one visit; its answer."""

    def post(query: str = "", **edits: Any) -> dict[str, Any]:
        fitting = changed(**({"horse": {"id": "H-101"}, "visit": VISIT, "person": {"id": "A-7"}} | edits))
        response = own("POST", f"/v1/assessments{query}", json=fitting)
        assert response.status_code == 201, response.text
        answer: dict[str, Any] = response.json()
        return answer

    return post


HIGH = {"observations__nails__1__exit_height": 44}


def follows(ask: Ask, template: str, answer: Any) -> None:
    document = ask("GET", "/openapi.json").json()
    schema = document["paths"][template]["get"]["responses"]["200"]["content"]["application/json"]["schema"]
    jsonschema.Draft202012Validator(schema | {"components": document["components"]}).validate(answer)


def test_the_marks_of_a_foot_are_those_of_its_kept_answer(own: Ask, send: Any) -> None:
    sent = send(**HIGH)
    sheet = own("GET", f"/v1/assessments/{sent['id']}/marks").json()
    assert sheet == mark_of(Assessment.model_validate(sent), BOOK).model_dump(mode="json")
    assert sheet["tool"]["mark"] < sheet["tool"]["of"]
    follows(own, "/v1/assessments/{id}/marks", sheet)


def test_an_override_stands_beside_the_tool_s_own(own: Ask, send: Any) -> None:
    sent = send(**HIGH)
    changes = [{"what": "strike", "finding": each["id"], "reason": "Measured again."} for each in sent["findings"]]
    body = {"about": sent["id"], "assessor": {"id": "S-2"}, "changes": changes}
    first = own("GET", f"/v1/assessments/{sent['id']}/marks")
    assert own("POST", f"/v1/assessments/{sent['id']}/overrides", json=body).status_code == 201
    tag = {"if-none-match": first.headers["etag"]}
    again = own("GET", f"/v1/assessments/{sent['id']}/marks", headers=tag)
    assert again.status_code == 200
    sheet = again.json()
    assert sheet["tool"] == first.json()["tool"]
    assert sheet["assessor"]["mark"] > sheet["tool"]["mark"]
    assert [each["assessor"] for each in sheet["changes"]] == ["S-2"] * len(changes)
    visit = own("GET", f"/v1/visits/{VISIT}/marks").json()
    assert visit["feet"] == [sheet]
    assert own("GET", "/v1/people/A-7/progress").json()["marks"][0]["percent"] == sheet["assessor"]["percent"]


def test_the_marks_of_a_visit_are_those_of_the_feet_that_count(own: Ask, send: Any, store: Store) -> None:
    send(foot="left_fore", **HIGH)
    send(foot="left_fore")
    wrong = send(foot="right_fore", **HIGH)
    send(f"?corrects={wrong['id']}", foot="right_fore")
    found = own("GET", f"/v1/visits/{VISIT}/marks").json()
    records = [each for each in store.each_record(RecordFilter(visit=VISIT)) if each.id != wrong["id"]]
    visit = visit_of(
        [
            Assessed(parse_fitting(json.loads(each.received)), Assessment.model_validate_json(each.answer))
            for each in records
        ]
    )
    said = {each.id: Assessment.model_validate_json(each.answer) for each in records}
    assert found == sheet_of_visit(visit, said, BOOK).model_dump(mode="json")
    assert [each["tool"]["state"] for each in found["feet"]] == ["whole", "whole"]
    follows(own, "/v1/visits/{visit}/marks", found)


@pytest.mark.parametrize("name", ["H-101/2026-03-04", "Łąka 7 馬", "a?b#c%d", "x/marks"])
def test_a_visit_of_any_name_is_marked(own: Ask, send: Any, name: str) -> None:
    send(visit=name)
    assert own("GET", f"/v1/visits/{quote(name, safe='')}/marks").json()["visit"] == name


def test_what_is_not_there_or_was_erased_has_no_marks(own: Ask, send: Any, store: Store, problem: CheckProblem) -> None:
    sent = send()
    problem(own("GET", f"/v1/assessments/{sent['id']}/marks?x=1"), "bad-query")
    problem(own("GET", "/v1/assessments/x/marks"), "not-found")
    problem(own("GET", "/v1/visits/x/marks"), "not-found")
    problem(own("GET", "/v1/people/x/progress"), "not-found")
    assert own("GET", "/v1/people/A-7/progress").status_code == 200
    store.erase("A-7", **ERASED)
    problem(own("GET", f"/v1/assessments/{sent['id']}/marks"), "gone")
    problem(own("GET", f"/v1/visits/{VISIT}/marks"), "not-found")
    problem(own("GET", "/v1/people/A-7/progress"), "not-found")


def test_a_visit_in_conflict_or_that_cannot_be_marked_is_told(
    own: Ask, send: Any, store: Store, problem: CheckProblem, monkeypatch: pytest.MonkeyPatch
) -> None:
    send(foot="left_fore", **HIGH)
    send(foot="right_fore")
    with monkeypatch.context() as patch:
        patch.setattr("rules.engine.evaluator.Evaluator.evaluate", _fail)
        problem(own("GET", f"/v1/visits/{VISIT}/marks"), "not-assessed")
    first = store.following(0, 1)[0]
    odd = json.loads(first.answer)
    odd["findings"][0]["criterion"] = "own_thing"
    store.keep_many([like(first, id=odd["id"] + "x", visit="odd", answer=json.dumps(odd).encode())])
    problem(own("GET", "/v1/visits/odd/marks"), "cannot-mark")
    problem(own("GET", "/v1/people/A-7/progress"), "cannot-mark")
    other = send(foot="left_hind", horse={"id": "H-102"}, visit="another")
    imported_into(store, VISIT, other["id"])
    problem(own("GET", f"/v1/visits/{VISIT}/marks"), "visit-in-conflict")


def _fail(*_: Any) -> None:
    raise EngineFault("lost")


def test_progress_goes_over_what_no_later_assessment_corrects(own: Ask, send: Any, store: Store) -> None:
    wrong = send(visit="v-1", **HIGH)
    send(f"?corrects={wrong['id']}", visit="v-1", observations__history__fitted="2026-03-02")
    send(visit="v-2", foot="right_fore", **HIGH)
    send(visit="v-2", person={"id": "A-8"}, **HIGH)
    found = own("GET", "/v1/people/A-7/progress").json()
    kept = [record for record in store.following(0, 9) if record.person == "A-7" and record.id != wrong["id"]]
    feet = [
        DatedSheet(
            work._day(each),
            json.dumps([each.horse, each.visit]),
            mark_of(Assessment.model_validate_json(each.answer), BOOK),
        )
        for each in kept
    ]
    assert len(feet) == 2
    assert found == progress_of(feet, BOOK).model_dump(mode="json")
    assert [each["day"] for each in found["marks"]] == ["2026-03-02", "2026-03-04"]
    follows(own, "/v1/people/{person}/progress", found)


def test_visits_of_one_name_of_two_horses_are_two_feet(own: Ask, send: Any, store: Store) -> None:
    """As an import may have them."""
    send(visit="monday")
    (record,) = store.following(0, 1)
    received = json.dumps(json.loads(record.received) | {"horse": {"id": "H-102"}}).encode()
    store.keep(like(record, id="other", horse="H-102", received=received, source="sha256:" + "1" * 64))
    assert own("GET", "/v1/people/A-7/progress").json()["feet"] == 2


@pytest.mark.parametrize("plot", ["marks", "shares"])
def test_plots_are_pictures_that_load_nothing(own: Ask, send: Any, plot: str) -> None:
    send(**HIGH)
    response = own("GET", f"/v1/people/A-7/progress/{plot}.svg")
    assert (response.status_code, response.headers["content-type"]) == (200, "image/svg+xml")
    assert tag_of(tree_of(response.text)) == "svg"
    assert "sandbox" in response.headers["content-security-policy"]
    tag = {"if-none-match": response.headers["etag"]}
    assert own("GET", f"/v1/people/A-7/progress/{plot}.svg", headers=tag).status_code == 304


@pytest.mark.parametrize("query", ["from=2026-13-01", "from=2026-03-05&to=2026-03-04", "until=2026-03-04", "from="])
@pytest.mark.parametrize("path", ["", "/marks.svg"])
def test_days_that_are_none_are_refused(own: Ask, send: Any, problem: CheckProblem, query: str, path: str) -> None:
    send()
    problem(own("GET", f"/v1/people/A-7/progress{path}?{query}"), "bad-query")


def test_days_bound_what_is_gone_over(own: Ask, store: Store, send: Any, problem: CheckProblem) -> None:
    send()
    (record,) = store.following(0, 1)
    answer = json.dumps(json.loads(record.answer) | {"id": "early"}).encode()
    store.keep_many([like(record, id="early", created="2020-01-31T23:59:59.999Z", visit="other", answer=answer)])
    assert own("GET", "/v1/people/A-7/progress").json()["assessments"] == 2
    assert own("GET", "/v1/people/A-7/progress?to=2020-01-31").json()["assessments"] == 1
    assert own("GET", "/v1/people/A-7/progress?from=2020-02-01").json()["assessments"] == 1
    problem(own("GET", "/v1/people/A-7/progress?to=2020-01-30"), "not-found")


@pytest.mark.parametrize("name", ["A-7", "a/b", "..", "progress", "x/progress", "é 1", "<script>", "a?b#c%2F"])
def test_a_person_of_any_name_has_progress(own: Ask, send: Any, store: Store, name: str) -> None:
    send()
    (record,) = store.following(0, 1)
    store.keep_many([like(record, id="other", person=name)])
    path = quote(name, safe="").replace("..", "%2E%2E")
    assert own("GET", f"/v1/people/{path}/progress").json()["assessments"] == (2 if name == "A-7" else 1)


@pytest.mark.parametrize("name", ["", "%00", "x" * 65, "%0A"])
def test_what_is_no_name_has_no_progress(own: Ask, problem: CheckProblem, name: str) -> None:
    problem(own("GET", f"/v1/people/{name}/progress"), "not-found")


def test_too_much_work_for_one_request_is_told(
    own: Ask, send: Any, problem: CheckProblem, monkeypatch: pytest.MonkeyPatch
) -> None:
    for number in range(3):
        send(visit=f"v-{number}")
    marked = work.dated_sheets
    monkeypatch.setattr("api.routes.marks.dated_sheets", lambda store, wanted, book: marked(store, wanted, book, 2))
    [error] = problem(own("GET", "/v1/people/A-7/progress"), "bad-query")
    assert "2 records" in error["detail"]
