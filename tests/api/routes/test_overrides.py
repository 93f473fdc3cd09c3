"""Overrides: kept beside the assessment as they were sent, listed, and erased with the people that they name."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import httpx
import pytest
from fastapi import FastAPI

from api.application import create_app
from api.routes.overrides import MOST_OVERRIDES
from fitcheck.records import Draft, Store, UnknownRecord, draft_of_override, verify
from rules import load_rulebook
from tests.support.desk_records import HOSTILE, like
from tests.support.pages import page_of
from tests.support.yard_books import IDENTITY, yard_folder

Ask = Callable[..., httpx.Response]
CheckProblem = Callable[..., list[dict[str, Any]]]
Edit = Callable[..., dict[str, Any]]
ERASED = {"reason": "asked for by the person", "created": "2026-03-05T10:00:00.000Z"}


@pytest.fixture
def high(own: Ask, changed: Edit) -> dict[str, Any]:
    """A kept assessment of A-7's work, read by S-1, with a nail that comes out too high."""
    fitting = changed(person={"id": "A-7"}, assessor={"id": "S-1"}, visit="v", observations__nails__1__exit_height=44)
    response = own("POST", "/v1/assessments", json=fitting)
    assert response.json()["findings"]
    found: dict[str, Any] = response.json()
    return found


def strike(assessment: dict[str, Any], reason: str = "Measured again: 38 mm.") -> dict[str, Any]:
    return {"what": "strike", "finding": assessment["findings"][0]["id"], "reason": reason}


def override(ask: Ask, assessment: dict[str, Any], *changes: Any, by: str = "S-2", **request: Any) -> httpx.Response:
    body = {"about": assessment["id"], "assessor": {"id": by}, "changes": list(changes)}
    return ask("POST", f"/v1/assessments/{assessment['id']}/overrides", json=body, **request)


def test_an_override_is_kept_as_it_was_sent_and_answered(own: Ask, high: dict[str, Any], store: Store) -> None:
    response = override(own, high, strike(high))
    assert response.status_code == 201
    answer = response.json()
    assert (answer["about"], answer["assessor"]["id"], answer["decision"]) == (high["id"], "S-2", high["decision"])
    record = store.following(1, 9)[0]
    assert (record.kind, record.about, record.id) == ("override", high["id"], answer["id"])
    assert (record.person, record.assessor, record.visit, record.decision) == ("A-7", "S-2", "v", None)
    assert json.loads(record.received)["changes"] == [strike(high)]
    assert record.answer == response.content
    assert response.headers["etag"] == f'"{record.digest}"'
    assert list(verify(store)) == []
    again = own("GET", response.headers["location"])
    assert (again.status_code, again.content) == (200, response.content)
    tag = {"if-none-match": again.headers["etag"]}
    assert own("GET", response.headers["location"], headers=tag).status_code == 304


def test_the_assessment_itself_stays_as_it_was(own: Ask, high: dict[str, Any]) -> None:
    override(own, high, strike(high))
    assert own("GET", f"/v1/assessments/{high['id']}").json() == high


def test_overrides_are_listed_in_the_order_of_keeping(own: Ask, high: dict[str, Any]) -> None:
    address = f"/v1/assessments/{high['id']}/overrides"
    assert own("GET", address).json() == {"overrides": [], "erased": 0}
    first = override(own, high, strike(high)).json()
    second = override(own, high, {"what": "set_mark", "criterion": "finish", "mark": 4, "reason": "Rasp marks."}).json()
    assert own("GET", address).json() == {"overrides": [first, second], "erased": 0}


def test_each_override_must_fit_what_counts_by_then(own: Ask, high: dict[str, Any], problem: CheckProblem) -> None:
    assert override(own, high, strike(high)).status_code == 201
    [error] = problem(override(own, high, strike(high)), "bad-override")
    assert error["field"] == "changes.0.finding"


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"what": "strike", "finding": "x@y", "reason": "No."}, "changes.0.finding"),
        ({"what": "strike", "finding": "x@y"}, "changes.0.reason"),
        ({"what": "strike", "finding": "x@y", "reason": "   "}, "changes.0.reason"),
        ({"what": "set_mark", "criterion": "finish", "mark": 1e4, "reason": "No."}, "changes.0.mark"),
        ({"what": "add", "finding": "no-rule@toe", "reason": "No."}, "changes.0.finding"),
        ({"what": "praise", "reason": "No."}, "changes.0.what"),
    ],
)
def test_what_cannot_be_made_is_refused_by_its_field(
    own: Ask, high: dict[str, Any], store: Store, problem: CheckProblem, change: dict[str, Any], field: str
) -> None:
    errors = problem(override(own, high, change), "bad-override")
    assert field in [error["field"] for error in errors]
    assert store.head().number == 1


def test_an_override_of_another_assessment_is_refused(own: Ask, high: dict[str, Any], problem: CheckProblem) -> None:
    body = {"about": "another", "assessor": {"id": "S-2"}, "changes": [strike(high)]}
    [error] = problem(own("POST", f"/v1/assessments/{high['id']}/overrides", json=body), "bad-override")
    assert error["field"] == "about"


def test_bodies_and_queries_are_as_strict_as_for_assessments(
    own: Ask, high: dict[str, Any], problem: CheckProblem
) -> None:
    address = f"/v1/assessments/{high['id']}/overrides"
    as_json = {"content-type": "application/json"}
    problem(own("POST", address, content="{", headers=as_json), "bad-json")
    problem(own("POST", address, content='{"about": "a", "about": "b"}', headers=as_json), "bad-json")
    problem(own("POST", address, content="{}"), "unsupported-media-type")
    problem(own("POST", address, content=b" " * 1_100_000, headers=as_json), "body-too-large")
    problem(own("POST", f"{address}?keep=false", json={}), "bad-query")
    problem(own("GET", f"{address}?x=1"), "bad-query")
    problem(override(own, high, strike(high), headers={"idempotency-key": "a b"}), "bad-idempotency-key")


def test_a_repeated_request_keeps_nothing_twice(
    own: Ask, high: dict[str, Any], store: Store, problem: CheckProblem
) -> None:
    key = {"idempotency-key": "k-1"}
    first = override(own, high, strike(high), headers=key)
    again = override(own, high, strike(high), headers=key)
    assert (again.status_code, again.content) == (201, first.content)
    assert (again.headers["location"], again.headers["idempotency-replayed"]) == (first.headers["location"], "true")
    assert "idempotency-replayed" not in first.headers
    assert store.head().number == 2
    problem(override(own, high, strike(high, "Another."), headers=key), "key-reused")
    problem(own("POST", "/v1/assessments", json={}, headers=key), "key-reused")


def test_of_nothing_there_is_no_override(own: Ask, high: dict[str, Any], problem: CheckProblem) -> None:
    missing = {"id": "x", "findings": high["findings"]}
    problem(override(own, missing, strike(high)), "not-found")
    problem(own("GET", "/v1/assessments/x/overrides"), "not-found")
    made = override(own, high, strike(high)).json()
    problem(own("GET", f"/v1/assessments/{made['id']}/overrides"), "not-found")
    problem(own("GET", f"/v1/assessments/{made['id']}"), "not-found")
    problem(own("GET", f"/v1/assessments/{high['id']}/overrides/{high['id']}"), "not-found")
    problem(own("GET", f"/v1/assessments/x/overrides/{made['id']}"), "not-found")


def test_who_fitted_takes_the_overrides_along(
    own: Ask, high: dict[str, Any], store: Store, problem: CheckProblem
) -> None:
    made = override(own, high, strike(high))
    store.erase("A-7", **ERASED)
    assert [record.erased for record in store.following(0, 2)] == [True, True]
    for response in (
        override(own, high, strike(high)),
        own("GET", f"/v1/assessments/{high['id']}/overrides"),
        own("GET", made.headers["location"]),
        own("GET", f"/v1/assessments/{high['id']}/marks"),
    ):
        problem(response, "gone")


def test_who_made_an_override_is_erased_without_the_assessment(
    own: Ask, high: dict[str, Any], store: Store, problem: CheckProblem
) -> None:
    made = override(own, high, strike(high))
    store.erase("S-2", **ERASED)
    assert own("GET", f"/v1/assessments/{high['id']}").json() == high
    assert own("GET", f"/v1/assessments/{high['id']}/overrides").json() == {"overrides": [], "erased": 1}
    assert own("GET", f"/v1/assessments/{high['id']}/marks").json()["assessor"] is None
    problem(own("GET", made.headers["location"]), "gone")


def test_an_erasure_in_between_is_not_undone(
    own: Ask, high: dict[str, Any], store: Store, problem: CheckProblem, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Between reading the assessment and keeping the override the person is erased: the name must not come back."""

    def erased_meanwhile(*given: Any) -> Draft:
        draft = draft_of_override(*given)
        store.erase("A-7", **ERASED)
        return draft

    monkeypatch.setattr("api.routes.overrides.draft_of_override", erased_meanwhile)
    problem(override(own, high, strike(high)), "gone")
    assert all(record.person is None for record in store.following(0, 9))
    assert [record.kind for record in store.following(0, 9)] == ["assessment", "erasure"]


def test_the_store_keeps_no_override_of_what_is_not_there(store: Store, own: Ask, high: dict[str, Any]) -> None:
    override(own, high, strike(high))
    made = store.following(1, 1)[0]
    with pytest.raises(UnknownRecord):
        store.keep(like(made, id="other", about="nothing"))


def test_there_is_an_end_to_overrides(own: Ask, high: dict[str, Any], store: Store, problem: CheckProblem) -> None:
    override(own, high, strike(high))
    made = store.following(1, 1)[0]
    more = MOST_OVERRIDES - 1
    store.keep_many([like(made, id=f"more-{number}") for number in range(more)])
    change = {"what": "set_mark", "criterion": "finish", "mark": 4, "reason": "Rasp marks."}
    problem(override(own, high, change), "too-many-overrides")


def test_what_this_version_does_not_read_takes_no_override(
    own: Ask, high: dict[str, Any], store: Store, problem: CheckProblem
) -> None:
    (record,) = store.following(0, 1)
    odd = json.loads(record.answer)
    odd["findings"][0]["criterion"] = "own_thing"
    made = {"no-json": b"no", "no-answer": b"{}", "own-criterion": json.dumps(odd | {"id": "own-criterion"}).encode()}
    store.keep_many([like(record, id=name, answer=answer) for name, answer in made.items()])
    for name, kind in {"no-json": "cannot-show", "no-answer": "cannot-show", "own-criterion": "cannot-mark"}.items():
        problem(override(own, {"id": name}, strike(high)), kind)
        problem(own("GET", f"/v1/assessments/{name}/marks"), kind)
    override(own, high, strike(high))
    bad = next(each for each in store.following(0, 99) if each.kind == "override")
    store.keep_many([like(bad, id="bad", answer=b"{}")])
    problem(own("GET", f"/v1/assessments/{high['id']}/overrides"), "cannot-show")
    problem(own("GET", f"/v1/assessments/{high['id']}/marks"), "cannot-show")


def test_an_assessment_by_another_rulebook_is_marked_by_the_service_s_own(
    high: dict[str, Any], store: Store, ask_of: Callable[[FastAPI], Ask], tmp_path_factory: Any
) -> None:
    book = load_rulebook(yard_folder(tmp_path_factory.mktemp("book"), IDENTITY))
    yard = ask_of(create_app(book, store=store))
    made = override(yard, high, strike(high)).json()
    assert made["rulebook"]["digest"] == book.digest
    sheet = yard("GET", f"/v1/assessments/{high['id']}/marks").json()
    assert (sheet["judged_by"]["digest"], sheet["marked_by"]["digest"]) == (high["rulebook"]["digest"], book.digest)


def test_a_reason_that_breaks_out_elsewhere_is_text_in_the_report(own: Ask, high: dict[str, Any]) -> None:
    assert override(own, high, strike(high, HOSTILE)).status_code == 201
    html = own("GET", f"/v1/assessments/{high['id']}/report.html").text
    page = page_of(html)
    assert not list(page.all("script", "img"))
    assert "Reason: <script>alert('1')</script>" in page.text
    assert "\u202e" not in html
    assert "Struck, was major." in page.text


def test_an_assessor_cannot_talk_a_stop_away(own: Ask, changed: Edit) -> None:
    lame = own("POST", "/v1/assessments", json=changed(observations__soundness={"trot_up": "lame"})).json()
    assert lame["decision"] == "stop_and_refer"
    made = override(own, lame, *[strike({"findings": [each]}) for each in lame["findings"]]).json()
    assert made["decision"] == "stop_and_refer"
    report = page_of(own("GET", f"/v1/assessments/{lame['id']}/report.html").text).text
    assert "STOP AND REFER" in report
    assert "STOP." in report


def test_keys_for_reading_take_no_overrides(yard: Any, good: dict[str, Any], problem: CheckProblem) -> None:
    sent = yard.ask("POST", "/v1/assessments", json=good, headers=yard.bearer("assess")).json()
    change = {"what": "set_mark", "criterion": "finish", "mark": 4, "reason": "Rasp marks."}
    for scope in ("read", "assess"):
        problem(override(yard.ask, sent, change, headers=yard.bearer(scope, person="S-2")), "forbidden")
    problem(override(yard.ask, sent, change), "unauthorized")
    assert override(yard.ask, sent, change, headers=yard.bearer("mark", person="S-2")).status_code == 201


@pytest.mark.parametrize(
    ("key", "allowed"),
    [
        ({"scopes": ("mark",), "person": "S-1"}, "S-1"),
        ({"scopes": ("admin",), "person": "S-1"}, "S-1"),
        ({"scopes": ("admin",), "person": None}, "a key made with --person"),
    ],
)
def test_nobody_overrides_in_anothers_name(
    yard: Any, good: dict[str, Any], problem: CheckProblem, key: dict[str, Any], allowed: str
) -> None:
    sent = yard.ask("POST", "/v1/assessments", json=good, headers=yard.bearer("assess")).json()
    change = {"what": "set_mark", "criterion": "finish", "mark": 4, "reason": "Rasp marks."}
    headers = yard.bearer(*key["scopes"], person=key["person"])
    [error] = problem(override(yard.ask, sent, change, headers=headers), "not-in-own-name")
    assert (error["field"], error["value"], error["allowed"]) == ("assessor.id", "S-2", allowed)
    assert yard.store.head().number == 1
