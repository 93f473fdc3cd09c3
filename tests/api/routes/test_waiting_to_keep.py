"""Whoever waits for a turn to keep something: never for too long, never too many, and no one else for them."""

from __future__ import annotations

import asyncio
import json
import sqlite3
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi import FastAPI

from api.openapi.examples import EXAMPLES
from fitcheck.records import (
    Store,
    StoreFull,
)
from tests.support.databases import looks_into_the_file

Ask = Callable[..., httpx.Response]
GOOD = EXAMPLES[0].fitting


@looks_into_the_file
def test_a_writer_that_holds_the_store_holds_up_no_other_request(
    own_app: FastAPI, store: Store, tmp_path: Path
) -> None:
    """Another program has the file locked; reading and assessing go on, and keeping goes on when it lets go."""
    other = sqlite3.connect(tmp_path / "records.sqlite3", isolation_level=None, check_same_thread=False)
    other.execute("BEGIN IMMEDIATE")

    async def run() -> tuple[list[int], int]:
        transport = httpx.ASGITransport(app=own_app)
        async with httpx.AsyncClient(transport=transport, base_url="http://low-meadow.test") as client:
            keeping = [asyncio.create_task(client.post("/v1/assessments", json=GOOD)) for _ in range(30)]
            await asyncio.sleep(0.3)
            begin = time.monotonic()
            done = [
                (await client.post("/v1/assessments?keep=false", json=GOOD)).status_code,
                (await client.get("/v1/assessments")).status_code,
                (await client.get("/healthz")).status_code,
            ]
            assert time.monotonic() - begin < 5
            assert not any(task.done() for task in keeping)
            other.execute("ROLLBACK")
            return done, sum(answer.status_code == 201 for answer in await asyncio.gather(*keeping))

    done, kept = asyncio.run(run())
    other.close()
    assert (done, kept) == ([200] * 3, 30)
    assert store.head().number == 30


def test_requests_that_wait_for_the_store_have_a_bound(
    own_app: FastAPI, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("api.store._MOST_WAITING", 5)
    let_go = threading.Event()
    keep_each = Store.keep_each

    def slowly(self: Store, requests: Any) -> Any:
        let_go.wait(10)
        return keep_each(self, requests)

    monkeypatch.setattr(Store, "keep_each", slowly)

    async def run() -> list[httpx.Response]:
        transport = httpx.ASGITransport(app=own_app)
        async with httpx.AsyncClient(transport=transport, base_url="http://low-meadow.test") as client:
            keeping = [asyncio.create_task(client.post("/v1/assessments", json=GOOD)) for _ in range(20)]
            await asyncio.wait(keeping, return_when=asyncio.FIRST_COMPLETED)
            let_go.set()
            return await asyncio.gather(*keeping)

    answers = asyncio.run(run())
    kept = [answer for answer in answers if answer.status_code == 201]
    refused = [answer for answer in answers if answer.status_code == 503]
    assert len(kept) + len(refused) == 20
    assert refused
    assert {answer.headers["retry-after"] for answer in refused} == {"5"}
    assert store.head().number == len(kept) >= 5


@pytest.mark.parametrize("keyed", [True, False])
@looks_into_the_file
def test_behind_a_lock_all_are_sent_away_at_one_deadline_and_nothing_is_kept_twice_later(
    own_app: FastAPI, store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, *, keyed: bool
) -> None:
    monkeypatch.setattr("api.store._TURN_S", 0.5)
    other = sqlite3.connect(tmp_path / "records.sqlite3", isolation_level=None, check_same_thread=False)
    other.execute("BEGIN IMMEDIATE")
    numbers = range(40)

    async def run() -> tuple[list[httpx.Response], list[httpx.Response]]:
        transport = httpx.ASGITransport(app=own_app)
        async with httpx.AsyncClient(transport=transport, base_url="http://low-meadow.test", timeout=60) as client:

            def send(number: int) -> asyncio.Task[httpx.Response]:
                headers = {"idempotency-key": f"k-{number}"} if keyed else {}
                return asyncio.create_task(client.post("/v1/assessments", json=GOOD, headers=headers))

            first = send(-1)
            await asyncio.sleep(0.1)
            keeping = [send(number) for number in numbers]
            done, _ = await asyncio.wait(keeping, timeout=5)
            assert len(done) == len(numbers)
            assert not first.done()
            other.execute("ROLLBACK")
            assert (await first).status_code == 201
            return [task.result() for task in keeping], [await send(number) for number in numbers]

    refused, again = asyncio.run(run())
    other.close()
    assert {(answer.status_code, answer.headers["retry-after"]) for answer in refused} == {(503, "5")}
    assert {answer.status_code for answer in again} == {201}
    assert store.head().number == len(numbers) + 1


@looks_into_the_file
def test_the_bytes_of_those_who_wait_to_be_kept_have_a_bound(
    own_app: FastAPI, store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("api.store._MOST_WAITING_BYTES", 480_000)
    other = sqlite3.connect(tmp_path / "records.sqlite3", isolation_level=None, check_same_thread=False)
    other.execute("BEGIN IMMEDIATE")
    body = json.dumps(GOOD).encode() + b" " * 90_000

    async def run() -> list[int]:
        transport = httpx.ASGITransport(app=own_app)
        async with httpx.AsyncClient(transport=transport, base_url="http://low-meadow.test", timeout=60) as client:
            keeping = [
                asyncio.create_task(
                    client.post(
                        "/v1/assessments",
                        content=body,
                        headers={"content-type": "application/json", "idempotency-key": f"k-{number}"},
                    )
                )
                for number in range(12)
            ]
            await asyncio.wait(keeping, timeout=3)
            other.execute("ROLLBACK")
            return [answer.status_code for answer in await asyncio.gather(*keeping)]

    statuses = asyncio.run(run())
    other.close()
    assert sorted(statuses) == [201] * 4 + [503] * 8
    assert store.head().number == 4


def test_a_failure_in_one_group_is_told_to_each_that_waited_and_to_nobody_later(
    own_app: FastAPI, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    failing = [True]
    keep_each = Store.keep_each

    def at_first_not(self: Store, requests: Any) -> Any:
        if failing:
            failing.pop()
            raise StoreFull("full")
        return keep_each(self, requests)

    monkeypatch.setattr(Store, "keep_each", at_first_not)

    async def run() -> list[int]:
        transport = httpx.ASGITransport(app=own_app)
        async with httpx.AsyncClient(transport=transport, base_url="http://low-meadow.test") as client:
            return [
                answer.status_code
                for answer in await asyncio.gather(*(client.post("/v1/assessments", json=GOOD) for _ in range(10)))
            ]

    statuses = asyncio.run(run())
    assert {507} <= set(statuses) <= {201, 507}
    assert store.head().number == statuses.count(201)
    assert set(asyncio.run(run())) == {201}
