"""/v1/practice and /v1/people/{person}/practice: kept once, told of as what it is, and apart from the work."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import httpx
import jsonschema
import pytest

from fitcheck.practice import exercises_of, outcome_of
from fitcheck.records import Store
from rules import localized, shipped_rulebook
from tests.support.practised import session, session_document

Ask = Callable[..., httpx.Response]
CheckProblem = Callable[..., list[dict[str, Any]]]
Edit = Callable[..., dict[str, Any]]
THEIRS = "/v1/people/A-7/practice"


def follows(ask: Ask, template: str, answer: Any) -> None:
    document = ask("GET", "/openapi.json").json()
    schema = document["paths"][template]["get"]["responses"]["200"]["content"]["application/json"]["schema"]
    jsonschema.Draft202012Validator(schema | {"components": document["components"]}).validate(answer)


def test_what_can_be_practised_has_the_bounds_of_the_book(own: Ask) -> None:
    offer = own("GET", "/v1/practice").json()
    follows(own, "/v1/practice", offer)
    expected = exercises_of(shipped_rulebook())
    assert {each["id"]: tuple(each["bounds"]) for each in offer["exercises"]} == {
        name: each.bounds for name, each in expected.items()
    }
    assert offer["people"]["drawings"] == 30


def test_a_session_is_kept_once_by_its_id(own: Ask) -> None:
    body = session_document(1)
    first = own("POST", THEIRS, json=body)
    assert (first.status_code, first.headers["location"]) == (201, f"{THEIRS}/{body['id']}")
    again = own("POST", THEIRS, json=body)
    assert again.status_code == 200
    assert again.json() == first.json()
    assert own("GET", first.headers["location"]).json() == first.json()
    assert {name: first.json()[name] for name in body} == body
    assert first.json()["person"] == "A-7"
    assert 0 < first.json()["right"] <= 30


def test_an_id_of_another_session_is_refused(own: Ask, problem: CheckProblem) -> None:
    own("POST", THEIRS, json=session_document(1))
    other = session_document(2) | {"id": session_document(1)["id"]}
    problem(own("POST", THEIRS, json=other), "practice-reused")
    problem(own("POST", "/v1/people/A-8/practice", json=session_document(1)), "practice-reused")


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"exercise": "juggling"}, "exercise"),
        ({"id": "7"}, "id"),
        ({"bounds": [1.0, 0.5, 3.0]}, "bounds"),
        ({"bounds": [0.5, 3.0]}, "bounds"),
        ({"ended": "2026-02-28T10:00:00Z"}, "ended"),
        ({"began": "yesterday"}, "began"),
        ({"drawings": []}, "drawings"),
        ({"mood": "good"}, "mood"),
        ({"drawings": [session_document()["drawings"][0] | {"word": "open"}]}, "drawings.0.word"),
        ({"drawings": [session_document()["drawings"][0] | {"value": 70}]}, "drawings.0.value"),
        ({"drawings": [session_document()["drawings"][0] | {"place": "toe"}]}, "drawings.0.place"),
        ({"drawings": [session_document()["drawings"][0] | {"ms": -1}]}, "drawings.0.ms"),
        ({"drawings": [session_document()["drawings"][0]] * 121}, "drawings"),
    ],
)
def test_what_is_no_session_is_told_by_its_field(
    own: Ask, problem: CheckProblem, change: dict[str, Any], field: str
) -> None:
    errors = problem(own("POST", THEIRS, json=session_document() | change), "bad-practice")
    assert [each["field"] for each in errors] == [field]


def test_whoever_practises_goes_by_the_id_of_the_fittings(own: Ask, problem: CheckProblem) -> None:
    errors = problem(own("POST", "/v1/people/Anna%20Berg/practice", json=session_document()), "bad-practice")
    assert errors[0]["field"] == "path.person"


def test_sessions_are_listed_a_page_at_a_time(own: Ask, problem: CheckProblem) -> None:
    for seed in range(1, 6):
        assert own("POST", THEIRS, json=session_document(seed, "gap", day=seed)).status_code == 201
    pages, before = [], ""
    for _ in range(3):
        page = own("GET", f"{THEIRS}?limit=2{before}").json()
        follows(own, "/v1/people/{person}/practice", page)
        pages += [each["ended"][8:10] for each in page["sessions"]]
        before = f"&before={page['next']}"
    assert (pages, page["next"]) == (["05", "04", "03", "02", "01"], None)
    assert own("GET", f"{THEIRS}?exercise=toe").json() == {"sessions": [], "next": None}
    assert own("GET", "/v1/people/nobody/practice").json()["sessions"] == []
    problem(own("GET", f"{THEIRS}?before=gone"), "bad-query")
    problem(own("GET", f"{THEIRS}/gone"), "not-found")


@pytest.mark.parametrize("language", ["en", "de"])
def test_the_outcome_is_that_of_the_sessions(own: Ask, language: str) -> None:
    sessions = [session(1, day=1, off=1.0), session(2, day=9), session(3, "axis", day=9)]
    for each in sessions:
        own("POST", THEIRS, json=each.model_dump(mode="json"))
    answer = own("GET", f"{THEIRS}/outcome?lang={language}")
    assert answer.headers["content-language"] == language
    follows(own, "/v1/people/{person}/practice/outcome", answer.json())
    assert answer.json() == outcome_of(sessions, localized(shipped_rulebook(), language)).model_dump(mode="json")
    heel = answer.json()["exercises"][0]
    assert [each["week"] for each in heel["weeks"]] == ["2026-02-23", "2026-03-09"]


def test_practice_is_in_no_list_mark_progress_or_agreement(own: Ask, changed: Edit, store: Store) -> None:
    fitting = changed(person={"id": "A-7"}, assessor={"id": "S-1"}, visit="2026-03-04-H-101", horse={"id": "H-101"})
    id_ = own("POST", "/v1/assessments", json=fitting).json()["id"]
    paths = (
        "/v1/assessments?person=A-7",
        "/v1/people/A-7/progress",
        "/v1/agreement?first=assessor:S-1&second=tool",
        f"/v1/assessments/{id_}/marks",
        "/v1/visits/2026-03-04-H-101/marks",
        "/v1/events",
        "/desk/progress?person=A-7",
        "/desk/practice?person=A-7",
    )
    before = {path: own("GET", path).text for path in paths}
    head = store.head()
    for seed in (1, 2):
        assert own("POST", THEIRS, json=session_document(seed, off=3.0)).status_code == 201
    assert {path: own("GET", path).text for path in paths} == before
    assert store.head() == head


def test_an_erased_session_is_gone_and_does_not_come_back(own: Ask, store: Store, problem: CheckProblem) -> None:
    own("POST", THEIRS, json=session_document(1))
    store.erase("A-7", reason="asked for", created="2026-03-05T10:00:00.000Z")
    assert own("GET", THEIRS).json()["sessions"] == []
    problem(own("POST", THEIRS, json=session_document(1)), "gone")
