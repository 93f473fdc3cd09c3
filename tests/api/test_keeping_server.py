"""Keeping as it is run: two server processes on one store, killed and started again; the demo, which keeps nothing."""

from __future__ import annotations

import json
import os
import random
import subprocess
import sys
import threading
import uuid
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path
from typing import Any

import httpx
import pytest

from api.openapi.examples import EXAMPLES
from fitcheck.records import open_store, verify
from tests.support.served import Served

GOOD: dict[str, Any] = EXAMPLES[0].fitting


@pytest.fixture
def records(tmp_path: Path) -> str:
    """The address of a store that is not yet there."""
    return f"sqlite:///{tmp_path / 'yard' / 'records.sqlite3'}"


@pytest.mark.long
def test_the_same_request_to_two_processes_at_once_is_kept_once(root: Path, tmp_path: Path, records: str) -> None:
    folders = [tmp_path / name for name in ("one", "two")]
    for folder in folders:
        folder.mkdir()
    with (
        Served(root, folders[0], records) as one,
        Served(root, folders[1], records) as two,
        ThreadPoolExecutor(8) as pool,
    ):
        for number in range(15):
            headers = {"idempotency-key": f"request-{number}"}
            fitting = GOOD | {"visit": f"visit-{number}"}
            together = threading.Barrier(8)

            def send(
                server: Served, headers: Any = headers, fitting: Any = fitting, at: Any = together
            ) -> httpx.Response:
                at.wait()
                return httpx.post(f"{server.url}/v1/assessments", json=fitting, headers=headers, timeout=30)

            answers = list(pool.map(send, [one, two] * 4))
            assert {(answer.status_code, answer.content) for answer in answers} == {(201, answers[0].content)}
            assert len({answer.headers["location"] for answer in answers}) == 1
            assert sum("idempotency-replayed" not in answer.headers for answer in answers) == 1
        found = httpx.get(f"{two.url}/v1/assessments?limit=200").json()["assessments"]
        assert len(found) == 15
        assert (one.faults(), two.faults()) == ([], [])


def test_what_was_answered_is_kept_though_the_service_is_killed_and_what_is_sent_again_is_kept_once(
    root: Path, tmp_path: Path, records: str
) -> None:
    """Clients send on and on while the service is killed, and repeat with the same key what was not answered."""
    count, clients = 120, 6
    answered: dict[str, bytes] = {}
    seed = random.Random(6)
    stop = threading.Event()
    with Served(root, tmp_path, records) as server:

        def send(numbers: range) -> None:
            with httpx.Client(base_url=server.url, timeout=30) as client:
                for number in numbers:
                    body = json.dumps(GOOD | {"visit": f"visit-{number}"}).encode()
                    headers = {"content-type": "application/json", "idempotency-key": str(uuid.UUID(int=number))}
                    while True:
                        try:
                            answer = client.post("/v1/assessments", content=body, headers=headers)
                        except httpx.TransportError:
                            stop.wait(0.05)
                            continue
                        assert answer.status_code == 201, answer.text
                        answered[f"visit-{number}"] = answer.content
                        break

        with ThreadPoolExecutor(clients) as pool:
            sending = [pool.submit(send, range(first, count, clients)) for first in range(clients)]
            for _ in range(3):
                stop.wait(seed.uniform(0.2, 0.5))
                server.kill()
                server.start()
            for each in sending:
                each.result()
    with open_store(records) as store:
        assert list(verify(store)) == []
        kept = store.following(0, 1000)
    assert len(kept) == count
    assert {str(record.visit): record.answer for record in kept} == answered


def test_a_batch_that_is_cut_short_has_kept_all_that_it_answered(root: Path, tmp_path: Path, records: str) -> None:
    answered: list[dict[str, Any]] = []
    body = b"".join(json.dumps(GOOD | {"visit": f"visit-{number}"}).encode() + b"\n" for number in range(2000))
    headers = {"content-type": "application/x-ndjson"}
    with (
        Served(root, tmp_path, records) as server,
        httpx.stream(
            "POST", f"{server.url}/v1/assessments/batch?keep=true", content=body, headers=headers, timeout=30
        ) as response,
        suppress(httpx.TransportError),
    ):
        for line in response.iter_lines():
            answered.append(json.loads(line))
            if len(answered) == 120:
                server.kill()
    with open_store(records) as store:
        kept = store.following(0, 5000)
    assert 120 <= len(answered) < 2000
    assert [record.id for record in kept][: len(answered)] == [each["assessment"]["id"] for each in answered]
    assert [record.visit for record in kept] == [f"visit-{number}" for number in range(len(kept))]


def test_the_demo_writes_nothing_to_the_users_records(root: Path, tmp_path: Path) -> None:
    home = tmp_path / "home"
    home.mkdir()
    temporary = tmp_path / "tmp"
    temporary.mkdir()
    environment = {name: value for name, value in os.environ.items() if not name.startswith("FITCHECK_")} | {
        "HOME": str(home),
        "XDG_DATA_HOME": str(home / "data"),
        "TMPDIR": str(temporary),
        "PYTHONPATH": os.pathsep.join([str(root), *sys.path]),
    }
    demo = subprocess.run(
        [sys.executable, "-m", "fitcheck", "demo"],
        cwd=root,
        env=environment,
        check=True,
        capture_output=True,
        text=True,
    )
    assert "put right" in demo.stdout.lower()
    assert list(home.iterdir()) == []
    assert list(temporary.iterdir()) == []
