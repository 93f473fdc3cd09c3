"""The feed over the wire: real servers, other processes that write, and the follower in examples/."""

from __future__ import annotations

import asyncio
import json
import multiprocessing
import os
import random
import signal
import socket
import sqlite3
import statistics
import subprocess
import sys
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from multiprocessing.synchronize import Event
from pathlib import Path
from typing import Any

import httpx
import pytest

from api.openapi.examples import EXAMPLES
from fitcheck.records import Draft, Store, open_store
from fitcheck.records.keys import AccessKeys
from tests.support.counts import tries
from tests.support.served import Served

STORE_WRITERS = 6
HTTP_WRITERS = 2
KILLS = tries(3, full=22)
SERVER_KILLS = tries(1, full=3)
WAITING = 300
WAKES_WITHIN_S = 1.0
STOPS_WITHIN_S = 10.0
PATIENCE_S = 120.0


def draft(number: int = 0, **changes: Any) -> Draft:
    names: dict[str, Any] = {"person": f"A-{number}", "assessor": "S-1", "horse": f"H-{number}", "decision": "release"}
    given: dict[str, Any] = {
        "kind": "assessment",
        "received": b"{}",
        "answer": json.dumps({"decision": "release", "number": number}).encode(),
        "id": str(uuid.uuid4()),
        "created": "2026-03-04T10:00:00.000Z",
        "rulebook_version": "1.2.0",
        "rulebook_digest": "sha256:" + "b" * 64,
    }
    return Draft(**given | names | changes)


@pytest.fixture
def served(root: Path, tmp_path: Path, records: str) -> Iterator[Served]:
    """A running server of that store."""
    with Served(root, tmp_path, records) as running:
        yield running


@pytest.fixture
def follower(root: Path, tmp_path: Path, served: Served) -> Iterator[Callable[[], subprocess.Popen[bytes]]]:
    """Starts the sample follower of that server; all write to the same file, one after the other."""
    started: list[subprocess.Popen[bytes]] = []

    def start() -> subprocess.Popen[bytes]:
        command = [sys.executable, str(root / "examples" / "follow_events.py"), served.url, str(taken_file(tmp_path))]
        with (tmp_path / "follower.log").open("ab") as log:
            process = subprocess.Popen(command, stdout=log, stderr=log)
        started.append(process)
        return process

    yield start
    for process in started:
        process.kill()
        process.wait()


def taken_file(folder: Path) -> Path:
    return folder / "taken.sqlite3"


def taken(folder: Path) -> list[tuple[int, str, str | None]]:
    """Number, id and event of what the follower has taken, in the order of taking."""
    with suppress(sqlite3.OperationalError), closing(sqlite3.connect(taken_file(folder), timeout=30)) as file:
        return list(file.execute("SELECT number, id, event FROM taken ORDER BY rowid"))
    return []


def until(there: Callable[[], bool], within_s: float, what: str) -> None:
    patience = time.monotonic() + within_s
    while not there():
        assert time.monotonic() < patience, what
        time.sleep(0.05)


def until_more_than(had: int, folder: Path) -> None:
    until(lambda: len(taken(folder)) > had, PATIENCE_S, "the follower takes nothing")


def keep_in_store(records: str, writer: int, enough: Event) -> None:
    seed = random.Random(writer)
    with open_store(records) as store:
        while not enough.wait(seed.uniform(0, 0.2)):
            store.keep(draft(writer))


def keep_over_http(url: str, writer: int, enough: Event) -> None:
    """Keep by POST; what is not answered is sent again with the same Idempotency-Key."""
    seed = random.Random(writer)
    with httpx.Client(base_url=url, timeout=20) as client:
        while not enough.wait(seed.uniform(0, 0.2)):
            headers = {"idempotency-key": str(uuid.uuid4())}
            while True:
                with suppress(httpx.TransportError):
                    if client.post("/v1/assessments", json=EXAMPLES[0].fitting, headers=headers).status_code == 201:
                        break
                time.sleep(0.1)


def test_a_follower_killed_again_and_again_ends_with_all_that_eight_processes_keep_just_once(
    served: Served, follower: Callable[[], subprocess.Popen[bytes]], records: str, store: Store, tmp_path: Path
) -> None:
    others = multiprocessing.get_context("spawn")
    enough = others.Event()
    writers = [others.Process(target=keep_in_store, args=(records, each, enough)) for each in range(STORE_WRITERS)]
    writers += [others.Process(target=keep_over_http, args=(served.url, each, enough)) for each in range(HTTP_WRITERS)]
    for writer in writers:
        writer.start()
    seed = random.Random(22)
    killed_at = []
    for kill in range(KILLS):
        had = len(taken(tmp_path))
        process = follower()
        if kill % 4:
            # Somewhere while it takes what comes; else while it begins.
            until_more_than(had, tmp_path)
        time.sleep(seed.uniform(0, 0.3))
        if kill % (KILLS // SERVER_KILLS) == 3:
            served.kill()
            time.sleep(0.2)
            served.start()
        assert process.poll() is None
        process.send_signal(signal.SIGKILL)
        process.wait()
        killed_at.append(len(taken(tmp_path)))
    last = follower()
    enough.set()
    for writer in writers:
        writer.join(PATIENCE_S)
        assert writer.exitcode == 0
    kept = [(record.number, record.id) for record in store.following(0, 1_000_000)]
    until(lambda: len(taken(tmp_path)) >= len(kept), PATIENCE_S, "the follower has not come to the end")
    assert [(number, id_) for number, id_, _ in taken(tmp_path)] == kept
    assert [number for number, _ in kept] == list(range(1, store.head().number + 1))
    assert len(set(killed_at)) > KILLS // 2
    assert last.poll() is None


def test_a_follower_outlives_a_server_that_goes_and_comes_again(
    served: Served, follower: Callable[[], subprocess.Popen[bytes]], store: Store, tmp_path: Path
) -> None:
    process = follower()
    store.keep(draft())
    until(lambda: len(taken(tmp_path)) == 1, PATIENCE_S, "the first record was not taken")
    served.kill()
    store.keep(draft())
    time.sleep(1.0)
    served.start()
    until(lambda: len(taken(tmp_path)) == 2, PATIENCE_S, "what was kept meanwhile was not taken")
    assert process.poll() is None
    assert "does not answer" in (tmp_path / "follower.log").read_text()


def test_a_follower_erases_what_the_yard_erases(
    served: Served, follower: Callable[[], subprocess.Popen[bytes]], store: Store, tmp_path: Path
) -> None:
    store.keep_many([draft(1), draft(9), draft(2)])
    follower()
    until(lambda: len(taken(tmp_path)) == 3, PATIENCE_S, "the records were not taken")
    store.erase("A-9", reason="Asked for it.", created="2026-04-01T08:00:00.000Z")
    until(lambda: len(taken(tmp_path)) == 4, PATIENCE_S, "the erasure was not taken")
    assert [number for number, _, event in taken(tmp_path) if event is None] == [2]
    assert served.process is not None
    for file in tmp_path.glob("taken.sqlite3*"):
        assert b"A-9" not in file.read_bytes()


def test_a_follower_stops_where_its_cursor_is_of_another_store(
    served: Served, follower: Callable[[], subprocess.Popen[bytes]], store: Store, tmp_path: Path
) -> None:
    store.keep(draft())
    first = follower()
    until(lambda: len(taken(tmp_path)) == 1, PATIENCE_S, "the first record was not taken")
    first.kill()
    with closing(sqlite3.connect(taken_file(tmp_path))) as file, file:
        file.execute("UPDATE place SET cursor = '1-0123456789abcdef'")
    assert follower().wait(PATIENCE_S) == 1
    log = (tmp_path / "follower.log").read_text()
    assert "The service refuses: 400" in log
    assert "never gave that cursor" in log
    assert served.faults() == []


def test_a_follower_needs_a_key_where_the_service_does_and_takes_it_from_the_environment(
    root: Path, tmp_path: Path, records: str, store: Store
) -> None:
    keys = AccessKeys(store)
    _, reading = keys.make("follower", ["read"])
    _, assessing = keys.make("sender", ["assess"])
    store.keep(draft())
    with Served(root, tmp_path, records) as served:
        command = [sys.executable, str(root / "examples" / "follow_events.py"), served.url, str(taken_file(tmp_path))]
        for key, status in (("", "401"), (assessing.text, "403")):
            refused = subprocess.run(
                command,
                env=os.environ | {"FITCHECK_KEY": key},
                capture_output=True,
                text=True,
                timeout=PATIENCE_S,
                check=False,
            )
            assert refused.returncode == 1
            assert status in refused.stderr
            assert not key or key not in refused.stderr
        with subprocess.Popen(
            command,
            env=os.environ | {"FITCHECK_KEY": reading.text},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        ) as process:
            until(lambda: len(taken(tmp_path)) == 1, PATIENCE_S, "the record was not taken")
            process.kill()
        until(lambda: {use.status for use in keys.uses(limit=50)} >= {200, 403}, PATIENCE_S, "the audit has it not")


def test_a_request_that_waits_is_answered_within_a_second_of_a_write_by_another_process(
    served: Served, store: Store
) -> None:
    took: list[float] = []

    async def run() -> None:
        async with httpx.AsyncClient(base_url=served.url, timeout=40) as client:
            cursor = "latest"
            for number in range(10):
                asked = asyncio.create_task(client.get("/v1/events", params={"after": cursor, "wait": 30}))
                await asyncio.sleep(0.3 + number / 50)
                assert not asked.done()
                kept = (await asyncio.to_thread(store.keep, draft(number))).record
                begin = time.monotonic()
                answer = await asked
                took.append(time.monotonic() - begin)
                assert [event["id"] for event in answer.json()] == [kept.id]
                cursor = httpx.URL(answer.links["next"]["url"]).params["after"]

    asyncio.run(run())
    assert statistics.median(took) < WAKES_WITHIN_S
    # On a machine that is busy with something else.
    assert max(took) < 10 * WAKES_WITHIN_S


def threads_of(served: Served) -> int:
    assert served.process is not None
    return len(list(Path(f"/proc/{served.process.pid}/task").iterdir()))


@pytest.mark.long
def test_hundreds_of_requests_that_wait_take_no_threads_are_all_woken_and_end_with_the_server(
    served: Served, store: Store
) -> None:
    async def run() -> tuple[list[httpx.Response], list[httpx.Response], float]:
        limits = httpx.Limits(max_connections=WAITING + 10)
        async with httpx.AsyncClient(base_url=served.url, timeout=PATIENCE_S, limits=limits) as client:

            async def others_are_answered() -> None:
                begin = time.monotonic()
                assert (await client.get("/healthz")).status_code == 200
                assert time.monotonic() - begin < 5.0

            async def wait_all(**after: str) -> list[asyncio.Task[httpx.Response]]:
                asked = [
                    asyncio.create_task(client.get("/v1/events", params={"wait": "60"} | after)) for _ in range(WAITING)
                ]
                await asyncio.sleep(3.0)
                for _ in range(3):
                    await others_are_answered()
                assert not any(each.done() for each in asked)
                return asked

            await client.get("/v1/events")
            asked = await wait_all()
            assert threads_of(served) < 20
            await asyncio.to_thread(store.keep, draft())
            woken = await asyncio.gather(*asked)
            asked = await wait_all(after=httpx.URL(woken[0].links["next"]["url"]).params["after"])
            took = await asyncio.to_thread(served.stop, 50.0)
            return woken, await asyncio.gather(*asked), took

    woken, ended, took = asyncio.run(run())
    [record] = store.following(0, 10)
    assert {(each.status_code, each.json()[0]["id"]) for each in woken} == {(200, record.id)}
    assert {(each.status_code, each.content) for each in ended} == {(200, b"[]")}
    assert took < STOPS_WITHIN_S
    assert "Application shutdown complete" in served.written()
    assert served.faults() == []


def test_clients_that_go_away_while_they_wait_leave_nothing_behind(served: Served, store: Store) -> None:
    address = httpx.URL(served.url)
    request = f"GET /v1/events?after=latest&wait=60 HTTP/1.1\r\nHost: {address.host}:{address.port}\r\n\r\n".encode()
    for _ in range(3):
        clients = [socket.create_connection((address.host, address.port or 0)) for _ in range(100)]
        for client in clients:
            client.sendall(request)
        time.sleep(0.5)
        for client in clients:
            client.close()
    store.keep(draft())
    assert len(httpx.get(f"{served.url}/v1/events?wait=10").json()) == 1
    assert served.stop(50.0) < STOPS_WITHIN_S
    assert served.faults() == []
