"""Fittings with very many points are assessed aside, one after another, and no other request waits for them."""

from __future__ import annotations

import asyncio
import copy
import json
import threading
from collections.abc import Callable
from typing import Any

import httpx
import pytest
from fastapi import FastAPI

from api import assessing
from api.openapi.examples import EXAMPLES
from fitcheck.explanation import explain as explanation

GOOD = EXAMPLES[0].fitting
JSON = {"content-type": "application/json"}
LARGE = json.dumps(GOOD).encode() + b" " * 5000


@pytest.fixture
def held(monkeypatch: pytest.MonkeyPatch) -> tuple[threading.Event, list[str]]:
    """Large fittings are assessed once this is set; and the names of the threads in which any are assessed."""
    let_go, threads = threading.Event(), []
    assess_bytes = assessing.assess_bytes

    def slowly(raw: bytes, *arguments: Any, **more: Any) -> Any:
        threads.append(threading.current_thread().name)
        if len(raw) > 5000:
            assert let_go.wait(30)
        return assess_bytes(raw, *arguments, **more)

    monkeypatch.setattr(assessing, "assess_bytes", slowly)
    return let_go, threads


def with_client(app: FastAPI, play: Callable[[httpx.AsyncClient], Any]) -> Any:
    async def run() -> Any:
        transport = httpx.ASGITransport(app=app)
        async with httpx.AsyncClient(transport=transport, base_url="http://low-meadow.test", timeout=60) as client:
            return await play(client)

    return asyncio.run(run())


def test_others_are_answered_while_large_fittings_are_assessed_and_too_many_of_these_are_sent_away(
    own_app: FastAPI, held: tuple[threading.Event, list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("api.http.worker._MOST_WAITING", 6)
    let_go, threads = held
    batch = {"content-type": "application/x-ndjson"}

    async def play(client: httpx.AsyncClient) -> tuple[list[int], list[httpx.Response], list[int], list[Any]]:
        lines = asyncio.create_task(
            client.post("/v1/assessments/batch", content=LARGE + b"\n" + LARGE + b"\n", headers=batch)
        )
        await asyncio.sleep(0.05)
        large = [
            asyncio.create_task(client.post(f"/v1/assessments?keep={keep}", content=LARGE, headers=JSON))
            for keep in ("true", "false") * 4
        ]
        refused, _ = await asyncio.wait(large, timeout=1)
        others = [
            (await client.get("/healthz")).status_code,
            (await client.post("/v1/assessments?keep=false", json=GOOD)).status_code,
        ]
        let_go.set()
        answers = await asyncio.gather(*large)
        told = [json.loads(line) for line in (await lines).text.splitlines()]
        return others, [task.result() for task in refused], [answer.status_code for answer in answers], told

    others, refused, statuses, told = with_client(own_app, play)
    assert others == [200, 200]
    assert [answer.json()["type"] for answer in refused] == ["/problems/busy"] * 3
    assert {answer.headers["retry-after"] for answer in refused} == {"5"}
    assert sorted(statuses) == [200, 200, 201, 201, 201, 503, 503, 503]
    assert [line["assessment"]["decision"] for line in told] == ["go_on", "go_on"]
    assert sorted(set(threads)) == ["MainThread", "worker_0"]


def test_whoever_waits_too_long_for_a_turn_is_sent_away(
    own_app: FastAPI, held: tuple[threading.Event, list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("api.http.worker._TURN_S", 0.3)
    let_go, threads = held

    async def play(client: httpx.AsyncClient) -> list[int]:
        large = [
            asyncio.create_task(client.post("/v1/assessments?keep=false", content=LARGE, headers=JSON))
            for _ in range(4)
        ]
        done, waiting = await asyncio.wait(large, timeout=2)
        assert len(waiting) == 1
        let_go.set()
        return [task.result().status_code for task in done] + [(await waiting.pop()).status_code]

    assert with_client(own_app, play) == [503, 503, 503, 200]
    assert threads == ["worker_0"]


def test_an_explanation_told_again_is_made_aside(own_app: FastAPI, monkeypatch: pytest.MonkeyPatch) -> None:
    threads: list[str] = []
    explain = explanation.explain

    def noted(*arguments: Any) -> Any:
        threads.append(threading.current_thread().name)
        return explain(*arguments)

    monkeypatch.setattr(assessing, "explain", noted)

    async def play(client: httpx.AsyncClient) -> list[dict[str, Any]]:
        headers = {"idempotency-key": "k"}
        return [
            (await client.post("/v1/assessments?explain=true", json=copy.deepcopy(GOOD), headers=headers)).json()
            for _ in range(2)
        ]

    first, again = with_client(own_app, play)
    assert first == again
    assert threads == ["MainThread", "worker_0"]
