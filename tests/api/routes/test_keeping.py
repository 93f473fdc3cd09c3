"""POST /v1/assessments keeps: once for each Idempotency-Key; what is read back is what was answered, to the byte."""

from __future__ import annotations

import asyncio
import json
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi import FastAPI

from api.application import create_app
from api.openapi.examples import EXAMPLES
from fitcheck.records import Store, open_store
from fitcheck.settings import ServiceSettings
from rules import shipped_rulebook
from tests.support.desk_records import like

Ask = Callable[..., httpx.Response]
CheckProblem = Callable[..., list[dict[str, Any]]]
JSON = {"content-type": "application/json"}
GOOD = EXAMPLES[0].fitting
# Blanks and the order of keys are the client's own, and are kept.
BODY = json.dumps(GOOD, indent=3).encode() + b"\r\n"
DIGEST = re.compile(r'"sha256:[0-9a-f]{64}"')


def post(ask: Ask, query: str = "", body: bytes = BODY, **headers: Any) -> httpx.Response:
    named: dict[str, Any] = {name.replace("_", "-"): value for name, value in headers.items()}
    return ask("POST", f"/v1/assessments{query}", content=body, headers=JSON | named)


def kept(store: Store) -> int:
    return store.head().number


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example.name)
def test_what_is_read_back_is_what_was_answered_to_the_byte(own: Ask, store: Store, example: Any) -> None:
    body = json.dumps(example.fitting, indent=1).encode()
    made = post(own, body=body)
    assert made.status_code == 201
    assert made.headers["location"] == f"/v1/assessments/{made.json()['id']}"
    assert "idempotency-replayed" not in made.headers
    found = own("GET", made.headers["location"])
    assert (found.status_code, found.headers["content-type"]) == (200, "application/json")
    assert found.content == made.content
    assert DIGEST.fullmatch(found.headers["etag"])
    assert found.headers["etag"] == made.headers["etag"]
    assert "link" not in found.headers
    record = store.record(made.json()["id"])
    assert record is not None
    assert (record.received, record.answer) == (body, made.content)


def test_head_of_what_was_kept_has_its_headers(own: Ask) -> None:
    made = post(own)
    head = own("HEAD", made.headers["location"], headers={"accept-encoding": "identity"})
    assert (head.status_code, head.content) == (200, b"")
    assert int(head.headers["content-length"]) == len(made.content)
    assert head.headers["etag"] == made.headers["etag"]


def test_nothing_is_kept_where_that_is_asked_for_or_where_there_is_no_assessment(own: Ask, store: Store) -> None:
    assert post(own, "?keep=false").status_code == 200
    assert post(own, body=b"{", idempotency_key="a").status_code == 400
    assert post(own, body=b"{}", idempotency_key="a").status_code == 422
    assert kept(store) == 0
    # A key under which nothing was kept is free.
    assert post(own, idempotency_key="a").status_code == 201


@pytest.mark.parametrize(
    ("given", "status"),
    [
        ("{etag}", 304),
        ("W/{etag}", 304),
        ('"x", W/"y" ,{etag}', 304),
        ("*", 304),
        ('"sha256:0"', 200),
        ("", 200),
        ("sha256", 200),
    ],
)
def test_who_has_it_already_is_told_so(own: Ask, given: str, status: int) -> None:
    made = post(own)
    etag = made.headers["etag"]
    found = own("GET", made.headers["location"], headers={"if-none-match": given.format(etag=etag)})
    assert (found.status_code, found.headers["etag"]) == (status, etag)
    assert found.content == (b"" if status == 304 else made.content)


@pytest.mark.parametrize("name", ["6f1c2f0e-8a55-4f0e-9a3e-2d1f0c5b7a10", "x", "%00", "..%2F", "é" * 300, "1 OR 1=1"])
def test_an_assessment_that_is_not_there_is_not_found(own: Ask, problem: CheckProblem, name: str) -> None:
    response = own("GET", f"/v1/assessments/{name}")
    problem(response, "not-found")
    problem(own("GET", f"/v1/assessments/{name}?x=1"), "not-found" if "%2F" in name else "bad-query")


def test_what_was_erased_is_gone(own: Ask, store: Store, problem: CheckProblem) -> None:
    made = post(own, idempotency_key="once")
    store.erase("A-1", reason="asked for by the person", created="2026-03-05T10:00:00.000Z")
    response = own("GET", made.headers["location"])
    problem(response, "gone")
    assert made.json()["id"] in response.json()["detail"]
    assert "A-1" not in response.text
    [listed] = own("GET", "/v1/assessments").json()["assessments"]
    assert (listed["id"], listed["erased"], listed["person"], listed["foot"]) == (made.json()["id"], True, None, None)
    # The request is known again, though its key is gone: nothing is kept anew.
    problem(post(own, idempotency_key="once"), "gone")
    assert post(own, idempotency_key="another").status_code == 201


# Idempotency-Key


@pytest.mark.parametrize("key", ["a", "~!\"#$%&'()*,/;", "5b0a6b7e-8a55-4f0e-9a3e-2d1f0c5b7a10", "k" * 255])
def test_a_request_sent_again_keeps_nothing_twice_and_is_answered_just_the_same(
    own: Ask, store: Store, key: str
) -> None:
    first = post(own, idempotency_key=key)
    again = [post(own, idempotency_key=key) for _ in range(3)]
    assert kept(store) == 1
    for each in again:
        assert (each.status_code, each.content) == (201, first.content)
        assert each.headers["idempotency-replayed"] == "true"
        for name in ("location", "etag", "content-type"):
            assert each.headers[name] == first.headers[name]
    assert "idempotency-replayed" not in first.headers


def test_a_sheet_sent_again_after_the_access_key_was_changed_is_kept_once(yard: Any) -> None:
    sheet = JSON | {"idempotency-key": "5b0a6b7e-8a55-4f0e-9a3e-2d1f0c5b7a10"}
    first, second = yard.bearer("assess"), yard.bearer("assess")
    sent = yard.ask("POST", "/v1/assessments", content=BODY, headers=sheet | first)
    again = yard.ask("POST", "/v1/assessments", content=BODY, headers=sheet | second)
    assert (again.status_code, again.content) == (201, sent.content)
    assert again.headers["idempotency-replayed"] == "true"
    assert kept(yard.store) == 1
    # With another body it is another request of that access key, and nothing is told of the first.
    other = yard.ask("POST", "/v1/assessments", content=BODY + b" ", headers=sheet | second)
    assert (other.status_code, kept(yard.store)) == (201, 2)
    # Names that are no UUID may be alike by chance.
    for bearer in (first, second):
        yard.ask("POST", "/v1/assessments", content=BODY, headers=JSON | {"idempotency-key": "1"} | bearer)
    assert kept(yard.store) == 4


def test_without_a_key_each_request_is_kept(own: Ask, store: Store) -> None:
    assert post(own).json()["id"] != post(own).json()["id"]
    assert kept(store) == 2


@pytest.mark.parametrize(
    ("query", "body"),
    [
        ("", BODY + b" "),
        ("", json.dumps(GOOD).encode()),
        ("", b"{"),
        ("?explain=true", BODY),
        ("?corrects={id}", BODY),
    ],
)
def test_a_key_that_comes_with_another_request_is_refused(
    own: Ask, store: Store, problem: CheckProblem, query: str, body: bytes
) -> None:
    first = post(own, idempotency_key="k")
    response = post(own, query.format(id=first.json()["id"]), body, idempotency_key="k")
    [error] = problem(response, "key-reused")
    assert (error["field"], error["value"]) == ("header.idempotency-key", "k")
    assert kept(store) == 1


def test_a_default_that_is_written_out_makes_no_other_request(own: Ask, store: Store) -> None:
    first = post(own, idempotency_key="k")
    assert post(own, "?keep=true&explain=false", idempotency_key="k").content == first.content
    assert kept(store) == 1


@pytest.mark.parametrize("key", ["", " ", "a b", "a\tb", "é", "k" * 256, "\x7f"])
def test_what_is_no_key_is_refused(own: Ask, store: Store, problem: CheckProblem, key: str) -> None:
    [error] = problem(post(own, idempotency_key=key.encode("latin-1")), "bad-idempotency-key")
    assert error["field"] == "header.idempotency-key"
    assert kept(store) == 0


def test_two_keys_are_none(own: Ask, store: Store, problem: CheckProblem) -> None:
    headers = [("content-type", "application/json"), ("idempotency-key", "a"), ("idempotency-key", "a")]
    problem(own("POST", "/v1/assessments", content=BODY, headers=headers), "bad-idempotency-key")
    assert kept(store) == 0


def test_the_same_request_many_times_at_once_is_kept_once(own_app: FastAPI, store: Store) -> None:
    async def run() -> list[httpx.Response]:
        transport = httpx.ASGITransport(app=own_app)
        async with httpx.AsyncClient(transport=transport, base_url="http://low-meadow.test") as client:
            headers = JSON | {"idempotency-key": "at-once"}
            return await asyncio.gather(
                *(client.post("/v1/assessments", content=BODY, headers=headers) for _ in range(20))
            )

    answers = asyncio.run(run())
    assert {(answer.status_code, answer.content) for answer in answers} == {(201, answers[0].content)}
    assert sum("idempotency-replayed" not in answer.headers for answer in answers) == 1
    assert kept(store) == 1


def test_many_different_requests_at_once_are_each_kept_and_answered_with_their_own(
    own_app: FastAPI, store: Store
) -> None:
    async def run() -> list[httpx.Response]:
        transport = httpx.ASGITransport(app=own_app)
        async with httpx.AsyncClient(transport=transport, base_url="http://low-meadow.test") as client:
            bodies = [GOOD | {"visit": f"v-{number}"} for number in range(150)]
            return await asyncio.gather(*(client.post("/v1/assessments", json=body) for body in bodies))

    answers = asyncio.run(run())
    assert kept(store) == 150
    for number, answer in enumerate(answers):
        record = store.record(answer.json()["id"])
        assert record is not None
        assert (record.visit, record.answer, answer.status_code) == (f"v-{number}", answer.content, 201)


def test_a_key_holds_over_a_new_start_and_in_another_process_of_the_service(
    own: Ask, store: Store, records: str, ask_of: Callable[[FastAPI], Ask]
) -> None:
    first = post(own, idempotency_key="k")
    with open_store(records) as other:
        again = post(ask_of(create_app(store=other)), idempotency_key="k")
    assert (again.content, again.headers["location"]) == (first.content, first.headers["location"])
    assert kept(store) == 1


def test_each_access_key_has_idempotency_keys_of_its_own(yard: Any) -> None:
    one, other = yard.bearer("assess"), yard.bearer("assess")
    answers = [post(yard.ask, idempotency_key="k", **bearer) for bearer in (one, other, one, other)]
    assert [answer.json()["id"] for answer in answers[:2]] == [answer.json()["id"] for answer in answers[2:]]
    assert answers[0].json()["id"] != answers[1].json()["id"]
    assert yard.store.head().number == 2


def test_a_key_has_no_meaning_where_nothing_is_kept(own: Ask, store: Store) -> None:
    answers = [post(own, "?keep=false", idempotency_key="k") for _ in range(2)]
    assert {answer.status_code for answer in answers} == {200}
    assert answers[0].json()["id"] != answers[1].json()["id"]
    assert kept(store) == 0


# Explanations


def test_an_explained_assessment_is_kept_without_its_explanation(own: Ask, store: Store) -> None:
    made = post(own, "?explain=true")
    assert made.status_code == 201
    answer = made.json()
    explanation = answer.pop("explanation")
    assert explanation["decision"]["decision"] == answer["decision"]
    found = own("GET", made.headers["location"])
    assert found.json() == answer
    assert list(found.json()) == list(answer)
    plain = post(own)
    same = {"id": "", "created": ""}
    assert plain.json() | same == answer | same
    assert kept(store) == 2


def test_an_explanation_is_the_same_when_the_request_is_sent_again(own: Ask) -> None:
    first = post(own, "?explain=true", idempotency_key="k")
    again = post(own, "?explain=true", idempotency_key="k")
    assert again.headers["idempotency-replayed"] == "true"
    assert again.content == first.content
    assert "explanation" in again.json()


def test_what_was_kept_under_another_rulebook_is_not_explained_by_this_one(
    own: Ask, records: str, ask_of: Callable[[FastAPI], Ask], problem: CheckProblem
) -> None:
    book = replace(shipped_rulebook(), digest="sha256:" + "1" * 64)
    with open_store(records) as other:
        first = post(ask_of(create_app(book, store=other)), "?explain=true", idempotency_key="k")
    refused = post(own, "?explain=true", idempotency_key="k")
    problem(refused, "cannot-explain")
    assert first.headers["location"] in refused.json()["detail"]


def test_what_was_kept_under_a_rulebook_that_comes_with_the_tool_is_explained_by_that_one(
    own: Ask, records: str, ask_of: Callable[[FastAPI], Ask]
) -> None:
    first = post(own, "?explain=true", idempotency_key="k")
    book = replace(shipped_rulebook(), digest="sha256:" + "1" * 64)
    with open_store(records) as other:
        again = post(ask_of(create_app(book, store=other)), "?explain=true", idempotency_key="k")
    assert again.json() == first.json()


# Corrections


def test_a_correction_and_what_it_corrects_lead_to_each_other(own: Ask, store: Store) -> None:
    old = post(own)
    before = own("GET", old.headers["location"])
    new = post(own, f"?corrects={old.json()['id']}", idempotency_key="k")
    assert new.status_code == 201
    newest = post(own, f"?corrects={new.json()['id']}")
    place = {name: made.headers["location"] for name, made in (("old", old), ("new", new), ("newest", newest))}
    found = {name: own("GET", where) for name, where in place.items()}
    # RFC 5829.
    assert found["old"].headers["link"] == f'<{place["new"]}>; rel="successor-version"'
    assert found["new"].headers["link"] == (
        f'<{place["old"]}>; rel="predecessor-version", <{place["newest"]}>; rel="successor-version"'
    )
    assert found["newest"].headers["link"] == f'<{place["new"]}>; rel="predecessor-version"'
    # What was kept is as it was.
    assert (found["old"].content, found["old"].headers["etag"]) == (before.content, before.headers["etag"])
    unchanged = own("GET", place["old"], headers={"if-none-match": before.headers["etag"]})
    assert (unchanged.status_code, unchanged.headers["link"]) == (304, found["old"].headers["link"])
    listed = own("GET", "/v1/assessments?order=oldest").json()["assessments"]
    ids = [made.json()["id"] for made in (old, new, newest)]
    assert [(each["id"], each["corrects"], each["superseded"]) for each in listed] == [
        (ids[0], None, True),
        (ids[1], ids[0], True),
        (ids[2], ids[1], False),
    ]
    again = post(own, f"?corrects={old.json()['id']}", idempotency_key="k")
    assert (again.content, kept(store)) == (new.content, 3)


def test_what_is_not_there_cannot_be_corrected(own: Ask, store: Store, problem: CheckProblem) -> None:
    response = post(own, "?corrects=6f1c2f0e")
    [error] = problem(response, "unknown-correction")
    assert (error["field"], error["value"]) == ("query.corrects", "6f1c2f0e")
    assert '"6f1c2f0e"' in response.json()["detail"]
    assert kept(store) == 0


def test_neither_what_was_erased_nor_the_erasure_can_be_corrected(
    own: Ask, store: Store, problem: CheckProblem
) -> None:
    old = post(own)
    erasure = store.erase("A-1", reason="asked for by the person", created="2026-03-05T10:00:00.000Z")
    assert erasure is not None
    for id_ in (old.json()["id"], erasure.record.id):
        problem(post(own, f"?corrects={id_}"), "unknown-correction")
    problem(own("GET", f"/v1/assessments/{erasure.record.id}"), "not-found")
    assert kept(store) == 2


@pytest.mark.parametrize("query", ["corrects=", "corrects=a&corrects=b", "keep=false&corrects=a", "corrects=%0A"])
def test_a_correction_that_makes_no_sense_is_refused(own: Ask, problem: CheckProblem, query: str) -> None:
    [error] = problem(post(own, f"?{query}"), "bad-query")
    assert error["field"] == "query.corrects"


def test_whoever_may_only_assess_may_not_read_and_the_other_way_round(yard: Any, problem: CheckProblem) -> None:
    assess, read = yard.bearer("assess"), yard.bearer("read")
    made = post(yard.ask, **assess)
    for path in (made.headers["location"], "/v1/assessments", "/v1/visits/2026-03-04-H-101"):
        problem(yard.ask("GET", path, headers=assess), "forbidden")
        assert yard.ask("GET", path, headers=read).status_code == 200
    problem(post(yard.ask, **read), "forbidden")


def test_the_settings_say_where_records_are_kept(
    tmp_path: Path, ask_of: Callable[[FastAPI], Ask], monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "yard" / "records.sqlite3"
    monkeypatch.setenv("FITCHECK_RECORDS", f"sqlite:///{file}")
    ask = ask_of(create_app(settings=ServiceSettings()))
    assert not file.parent.exists()
    made = post(ask)
    with open_store(f"sqlite:///{file}", create=False) as store:
        record = store.record(made.json()["id"])
    assert record is not None
    assert record.answer == made.content


def test_what_this_version_does_not_read_is_sent_as_it_was_and_in_no_language(own: Ask, store: Store) -> None:
    post(own)
    (record,) = store.following(0, 1)
    answer = json.dumps(json.loads(record.answer) | {"colour": "bay"}).encode()
    store.keep(like(record, id="newer", answer=answer))
    found = own("GET", "/v1/assessments/newer")
    assert (found.status_code, found.content) == (200, answer)
    assert "content-language" not in found.headers
    assert own("GET", f"/v1/assessments/{record.id}").headers["content-language"] == "en"
