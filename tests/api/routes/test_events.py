"""GET /v1/events in process: what it answers, what it refuses, and that this is what the reference says."""

from __future__ import annotations

import asyncio
import importlib
import json
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi import FastAPI

from api.application import create_app
from api.event_feed import EventFeed
from api.http.route_scopes import needed_by
from api.openapi.examples import EXAMPLES
from api.routes.events import MEDIA_TYPE
from fitcheck.records import Draft, Store, StoreDamaged, StoreUnavailable
from fitcheck.records.feed import START, batch_after

Ask = Callable[..., httpx.Response]
CheckProblem = Callable[..., list[dict[str, Any]]]
# It has no types of its own.
jsonschema = importlib.import_module("jsonschema")


def draft(number: int = 1) -> Draft:
    return Draft(
        kind="assessment",
        received=b"{}",
        answer=json.dumps({"number": number}).encode(),
        id=f"00000000-0000-4000-8000-{number:012}",
        created="2026-03-04T10:00:00.000Z",
        person="A-1",
        rulebook_version="1.2.0",
        rulebook_digest="sha256:" + "b" * 64,
    )


def following(answer: httpx.Response) -> str:
    assert answer.headers["content-type"] == MEDIA_TYPE == "application/cloudevents-batch+json"
    return str(answer.links["next"]["url"])


def test_without_records_the_list_is_empty_and_leads_back_to_the_beginning(own: Ask) -> None:
    answer = own("GET", "/v1/events")
    assert (answer.status_code, answer.content) == (200, b"[]")
    assert following(answer) == f"/v1/events?after={START}&limit=100&wait=0"
    assert answer.headers["cache-control"] == "no-store"


def test_following_the_links_tells_all_once_in_order_and_then_only_what_comes(own: Ask, store: Store) -> None:
    kept = store.keep_many([draft(number) for number in range(1, 8)])
    told, path = [], "/v1/events?limit=3"
    while events := (answer := own("GET", path)).json():
        told += events
        path = following(answer)
        assert "limit=3" in path
    assert [event["id"] for event in told] == [record.id for record in kept]
    assert [event["data"]["assessment"]["number"] for event in told] == list(range(1, 8))
    later = store.keep(draft(8)).record
    assert [event["id"] for event in own("GET", following(answer)).json()] == [later.id]


def test_what_is_posted_is_told_with_the_assessment_as_it_was_answered(own: Ask) -> None:
    answered = own("POST", "/v1/assessments", json=EXAMPLES[0].fitting)
    assert answered.status_code == 201
    [event] = own("GET", "/v1/events").json()
    assert event["data"]["assessment"] == answered.json()
    assert event["id"] == event["subject"] == answered.json()["id"]
    assert event["data"]["record"]["horse"] == EXAMPLES[0].fitting["horse"]["id"]


def test_the_answers_follow_the_schema_in_the_reference(own: Ask, store: Store, own_app: FastAPI) -> None:
    own("POST", "/v1/assessments", json=EXAMPLES[0].fitting)
    store.keep(draft())
    store.erase("A-1", reason="Asked for it.", created="2026-04-01T08:00:00.000Z")
    document = own_app.openapi()
    operation = document["paths"]["/v1/events"]["get"]
    schema = operation["responses"]["200"]["content"][MEDIA_TYPE]["schema"] | {"components": document["components"]}
    told = own("GET", "/v1/events").json()
    assert len(told) == 3
    assert [error.message for error in jsonschema.Draft202012Validator(schema).iter_errors(told)] == []
    assert {parameter["name"] for parameter in operation["parameters"]} == {"after", "limit", "wait"}


def test_latest_tells_only_what_is_kept_from_now_on(own: Ask, store: Store) -> None:
    store.keep(draft())
    answer = own("GET", "/v1/events?after=latest")
    assert answer.json() == []
    later = store.keep(draft(2)).record
    assert [event["id"] for event in own("GET", following(answer)).json()] == [later.id]


@pytest.mark.parametrize(
    ("query", "field", "words"),
    [
        ("after=", "after", "is not a cursor"),
        ("after=7", "after", "is not a cursor"),
        ("after=1-zz", "after", "leave it out to begin"),
        ("after=%0d%0aset-cookie:x", "after", "is not a cursor"),
        ("after=1-0123456789abcdef", "after", "never gave that cursor"),
        ("after=0-0123456789abcdef", "after", "never gave that cursor"),
        ("after=99-0000000000000000", "after", "never gave that cursor"),
        ("limit=0", "limit", "from 1 to 1000"),
        ("limit=1001", "limit", "from 1 to 1000"),
        ("limit=ten", "limit", "from 1 to 1000"),
        ("wait=-1", "wait", "from 0 to 60"),
        ("wait=61", "wait", "from 0 to 60"),
        ("wait=0.5", "wait", "from 0 to 60"),
        ("from=1", "from", "no query parameter"),
        ("limit=1&limit=1", "limit", "given twice"),
    ],
)
def test_a_query_that_means_nothing_is_refused_by_name(
    own: Ask, problem: CheckProblem, store: Store, query: str, field: str, words: str
) -> None:
    store.keep(draft())
    [error] = problem(own("GET", f"/v1/events?{query}"), "bad-query")
    assert error["field"] == f"query.{field}"
    assert words in error["detail"]


def test_it_needs_the_scope_read(own_app: FastAPI) -> None:
    assert {needed_by(route) for route in own_app.routes if getattr(route, "path", "") == "/v1/events"} == {"read"}


def test_a_request_that_waits_is_woken_by_a_post_to_the_same_service(own_app: FastAPI) -> None:
    async def work() -> tuple[float, httpx.Response]:
        transport = httpx.ASGITransport(app=own_app)
        async with httpx.AsyncClient(transport=transport, base_url="http://low-meadow.test") as client:
            waiting = asyncio.create_task(client.get("/v1/events?wait=30"))
            await asyncio.sleep(0.3)
            assert not waiting.done()
            posted = await client.post("/v1/assessments", json=EXAMPLES[0].fitting)
            begin = time.monotonic()
            answer = await waiting
            assert [event["id"] for event in answer.json()] == [posted.json()["id"]]
            return time.monotonic() - begin, answer

    took, answer = asyncio.run(work())
    assert took < 5.0
    assert following(answer).endswith("&wait=30")


def test_a_key_that_was_revoked_while_it_waited_is_told_nothing(
    yard_with: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, problem: CheckProblem
) -> None:
    monkeypatch.setattr("api.routes.events.REMEMBERED_S", 0.2)
    monkeypatch.setattr("api.http.key_cache.REMEMBERED_S", 0.2)
    yard = yard_with(tmp_path / "yard")

    async def work(*, revoke: bool) -> httpx.Response:
        headers = yard.bearer("read")
        transport = httpx.ASGITransport(app=yard.app)
        async with httpx.AsyncClient(transport=transport, base_url="http://low-meadow.test") as client:
            waiting = asyncio.create_task(client.get("/v1/events?after=latest&wait=30", headers=headers))
            await asyncio.sleep(0.5)
            assert not waiting.done()
            if revoke:
                await asyncio.to_thread(yard.keys.revoke, yard.made[-1].id)
            await asyncio.to_thread(yard.store.keep, draft(2 if revoke else 1))
            return await waiting

    assert len(asyncio.run(work(revoke=False)).json()) == 1
    problem(asyncio.run(work(revoke=True)), "unauthorized")
    yard.store.close()


def test_where_nothing_comes_the_answer_is_empty_once_the_time_is_up(own: Ask, store: Store) -> None:
    store.keep(draft())
    begin = time.monotonic()
    answer = own("GET", "/v1/events?after=latest&wait=1")
    assert 1.0 <= time.monotonic() - begin < 10.0
    assert (answer.status_code, answer.content) == (200, b"[]")
    assert following(answer) == following(own("GET", "/v1/events?after=latest&wait=1"))


def test_a_client_that_has_gone_is_not_waited_for(own_app: FastAPI) -> None:
    sent: list[Any] = []

    async def work() -> float:
        going = asyncio.Event()
        came: list[dict[str, Any]] = [{"type": "http.request", "body": b""}, {"type": "http.disconnect"}]
        messages = iter(came)

        async def receive() -> dict[str, Any]:
            message = next(messages)
            if message["type"] == "http.disconnect":
                await going.wait()
            return message

        async def send(message: Any) -> None:
            sent.append(message)

        scope = {
            "type": "http",
            "method": "GET",
            "path": "/v1/events",
            "raw_path": b"/v1/events",
            "query_string": b"wait=60",
            "headers": [(b"host", b"localhost")],
            "http_version": "1.1",
            "scheme": "http",
            "root_path": "",
        }
        request = asyncio.ensure_future(own_app(scope, receive, send))
        await asyncio.sleep(0.3)
        assert not request.done()
        begin = time.monotonic()
        going.set()
        await request
        return time.monotonic() - begin

    assert asyncio.run(work()) < 10.0
    assert sent == []


def test_a_store_that_does_not_answer_is_told_as_such(
    own: Ask, problem: CheckProblem, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    def away(*_: object) -> None:
        raise StoreUnavailable(retry_after=7)

    monkeypatch.setattr(store, "following", away)
    monkeypatch.setattr(store, "head", away)
    store.keep(draft())
    for path in ("/v1/events?after=1-0123456789abcdef", "/v1/events?after=latest", "/v1/events"):
        answer = own("GET", path)
        problem(answer, "store-unavailable")
        assert answer.headers["retry-after"] == "7"


def test_what_is_damaged_is_not_passed_over(own: Ask, problem: CheckProblem, store: Store) -> None:
    store.keep(replace(draft(), answer=b"]"))
    store.keep(draft(2))
    problem(own("GET", "/v1/events"), "store-damaged")
    with pytest.raises(StoreDamaged):
        batch_after(store, START, 10)


def test_a_request_too_many_to_wait_is_told_when_to_come_again(
    store: Store, ask_of: Callable[[FastAPI], Ask], problem: CheckProblem, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(EventFeed.__init__.__kwdefaults__ or {}, "most_waiting", 0)
    service = create_app(store=store)
    answer = ask_of(service)("GET", "/v1/events?wait=5")
    problem(answer, "too-many-requests")
    assert int(answer.headers["retry-after"]) > 0
    assert ask_of(service)("GET", "/v1/events").json() == []
