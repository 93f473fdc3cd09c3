"""While records cannot be kept: each reason has its own problem, nothing is said to be kept, and assessing goes on."""

from __future__ import annotations

import asyncio
import json
import os
import sqlite3
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi import FastAPI

from api.application import create_app
from api.openapi.examples import EXAMPLES
from api.store import AsyncStore
from fitcheck.records import (
    NotAStore,
    Store,
    StoreDamaged,
    StoreError,
    StoreFull,
    StoreReadOnly,
    StoreReplaced,
    StoreTooNew,
    StoreUnavailable,
    open_store,
)
from fitcheck.records.keys import AccessKeys
from fitcheck.settings import ServiceSettings
from tests.support.databases import looks_into_the_file

Ask = Callable[..., httpx.Response]
CheckProblem = Callable[..., list[dict[str, Any]]]
GOOD = EXAMPLES[0].fitting
NDJSON = {"content-type": "application/x-ndjson"}
INSIDES = "secret-server.low-meadow.test"


@pytest.mark.parametrize(
    ("error", "kind", "status"),
    [
        (StoreUnavailable(INSIDES, retry_after=7), "store-unavailable", 503),
        (StoreFull(INSIDES), "store-full", 507),
        (StoreReadOnly(INSIDES), "store-read-only", 503),
        (StoreTooNew(INSIDES), "store-too-new", 503),
        (StoreDamaged(INSIDES), "store-damaged", 503),
        (StoreReplaced(INSIDES), "store-damaged", 503),
        (NotAStore(INSIDES), "store-damaged", 503),
        (StoreError(INSIDES), "store-unavailable", 503),
    ],
)
@pytest.mark.parametrize("headers", [{}, {"idempotency-key": "k"}])
def test_each_reason_why_nothing_can_be_kept_is_a_problem_of_its_own(
    own: Ask,
    store: Store,
    problem: CheckProblem,
    monkeypatch: pytest.MonkeyPatch,
    error: StoreError,
    kind: str,
    status: int,
    headers: dict[str, str],
) -> None:
    def fail(*_: Any) -> Any:
        raise error

    with monkeypatch.context() as patch:
        for method in ("keep", "keep_each"):
            patch.setattr(Store, method, fail)
        response = own("POST", "/v1/assessments", json=GOOD, headers=headers)
        lines = own("POST", "/v1/assessments/batch?keep=true", content=f"{json.dumps(GOOD)}\n{{}}\n", headers=NDJSON)
        assessed = own("POST", "/v1/assessments?keep=false", json=GOOD, headers=headers)
    problem(response, kind)
    assert response.status_code == status
    assert response.headers.get("retry-after") == ("7" if isinstance(error, StoreUnavailable) else None)
    told = [json.loads(line)["problem"] for line in lines.text.splitlines()]
    assert [each["type"] for each in told] == [f"/problems/{kind}", "/problems/bad-input"]
    for text in (response.text, lines.text):
        assert INSIDES not in text
        assert "decision" not in text
    assert assessed.json()["decision"] == "go_on"
    assert store.head().number == 0
    assert own("POST", "/v1/assessments", json=GOOD, headers=headers).status_code == 201


def test_a_service_whose_store_is_not_there_is_alive_not_ready_and_shows_nothing(
    tmp_path: Path, ask_of: Callable[[FastAPI], Ask], problem: CheckProblem, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").write_text("no folder")
    monkeypatch.setenv("FITCHECK_RECORDS", f"sqlite:///{tmp_path / 'file' / 'records.sqlite3'}")
    ask = ask_of(create_app())
    assert ask("GET", "/healthz").status_code == 200
    response = ask("GET", "/readyz")
    problem(response, "not-ready")
    for path in ("/v1/assessments", "/v1/assessments/x", "/v1/visits/x"):
        assert ask("GET", path).status_code == 503
    assert str(tmp_path) not in response.text


def test_what_is_no_store_is_left_alone(
    tmp_path: Path, ask_of: Callable[[FastAPI], Ask], problem: CheckProblem, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "records.sqlite3"
    file.write_bytes(b"a letter, not a database" * 100)
    monkeypatch.setenv("FITCHECK_RECORDS", f"sqlite:///{file}")
    ask = ask_of(create_app())
    response = ask("GET", "/readyz")
    problem(response, "not-ready")
    assert "damaged" in response.json()["detail"]
    problem(ask("POST", "/v1/assessments", json=GOOD), "store-damaged")
    assert file.read_bytes() == b"a letter, not a database" * 100


def test_a_store_that_comes_back_is_used_again_without_a_new_start(
    tmp_path: Path, ask_of: Callable[[FastAPI], Ask], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("api.store._TRY_AGAIN_S", 0.0)
    blocked = tmp_path / "yard"
    blocked.write_text("no folder yet")
    monkeypatch.setenv("FITCHECK_RECORDS", f"sqlite:///{blocked / 'records.sqlite3'}")
    ask = ask_of(create_app())
    assert ask("POST", "/v1/assessments", json=GOOD).status_code == 503
    blocked.unlink()
    assert ask("POST", "/v1/assessments", json=GOOD).status_code == 201
    assert ask("GET", "/readyz").status_code == 200


def test_a_store_that_cannot_be_opened_is_left_alone_for_a_moment(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tries = []

    def fail(url: str, *, create: bool) -> Store:
        tries.append((url, create))
        raise StoreUnavailable(retry_after=9)

    monkeypatch.setattr("api.store.open_store", fail)
    kept = AsyncStore(f"sqlite:///{tmp_path / 'records.sqlite3'}")
    for _ in range(5):
        with pytest.raises(StoreUnavailable) as caught:
            kept.open()
        assert caught.value.retry_after == 9
    assert len(tries) == 1


def test_a_service_without_keys_still_assesses_when_its_store_goes_away(
    own: Ask, problem: CheckProblem, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("api.http.key_cache.REMEMBERED_S", 0.0)
    assert own("POST", "/v1/assessments?keep=false", json=GOOD).status_code == 200

    def fail(*_: Any) -> Any:
        raise StoreUnavailable(retry_after=7)

    for method in ("reading", "writing"):
        monkeypatch.setattr(Store, method, fail)
    monkeypatch.setattr(AccessKeys, "any_made", fail)
    assert own("POST", "/v1/assessments?keep=false", json=GOOD).json()["decision"] == "go_on"
    problem(own("POST", "/v1/assessments", json=GOOD), "store-unavailable")
    problem(own("GET", "/v1/assessments"), "store-unavailable")
    monkeypatch.setattr(Store, "try_writing", fail)
    problem(own("GET", "/readyz"), "not-ready")


def test_who_was_let_in_while_keys_could_not_be_asked_for_gets_nothing_that_is_kept_once_there_are_keys(
    store: Store, own: Ask, problem: CheckProblem, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A key may have been made elsewhere while the store did not answer this process."""
    monkeypatch.setattr("api.http.key_cache.REMEMBERED_S", 0.0)
    assert own("GET", "/v1/assessments").status_code == 200

    def fail(*_: Any) -> Any:
        raise StoreUnavailable

    with monkeypatch.context() as patch:
        patch.setattr(AccessKeys, "any_made", fail)
        # What the gate finds out now it goes by for a while.
        patch.setattr("api.http.key_cache.REMEMBERED_S", 3600.0)
        assert own("GET", "/v1/rulebook").status_code == 200
    AccessKeys(store).make("Low Meadow", ["admin"])
    for method, path in (("GET", "/v1/assessments"), ("GET", "/v1/visits/x"), ("POST", "/v1/assessments")):
        response = own(method, path, **({"json": GOOD} if method == "POST" else {}))
        problem(response, "store-unavailable")
        assert int(response.headers["retry-after"]) > 5
    assert store.head().number == 0


@pytest.mark.parametrize("reason", ["locked", "read-only", "full"])
@looks_into_the_file
def test_a_service_that_can_keep_nothing_is_not_ready_and_says_why_until_it_can(
    own: Ask, store: Store, tmp_path: Path, problem: CheckProblem, monkeypatch: pytest.MonkeyPatch, reason: str
) -> None:
    monkeypatch.setattr("api.store._TRIED_S", 0.0)
    assert own("GET", "/readyz").json() == {"status": "ready"}
    other = sqlite3.connect(tmp_path / "records.sqlite3", isolation_level=None)
    with monkeypatch.context() as patch:
        if reason == "locked":
            other.execute("BEGIN IMMEDIATE")
        elif reason == "read-only":
            with store.reading() as connection:
                connection.exec_driver_sql("PRAGMA query_only = ON")
        else:
            disk = list(os.statvfs(tmp_path))
            disk[4] = 1
            patch.setattr(os, "statvfs", lambda _: os.statvfs_result(disk))
        begin = time.monotonic()
        response = own("GET", "/readyz")
        assert time.monotonic() - begin < 10
        problem(response, "not-ready")
        assert {"locked": "locked", "read-only": "not written", "full": "no room"}[reason] in response.json()["detail"]
        assert response.headers.get("retry-after") == ("5" if reason == "locked" else None)
        assert own("GET", "/healthz").status_code == 200
    other.close()
    with store.reading() as connection:
        connection.exec_driver_sql("PRAGMA query_only = OFF")
    assert own("GET", "/readyz").json() == {"status": "ready"}
    assert store.head().number == 0


def test_many_who_ask_whether_it_is_ready_cause_one_trial(
    own_app: FastAPI, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    tried = []
    monkeypatch.setattr("api.store._TRIED_S", 60.0)

    def trial(self: Store) -> None:
        tried.append(self)

    monkeypatch.setattr(Store, "try_writing", trial)

    async def run() -> list[int]:
        transport = httpx.ASGITransport(app=own_app)
        async with httpx.AsyncClient(transport=transport, base_url="http://low-meadow.test") as client:
            answers = await asyncio.gather(*(client.get("/readyz") for _ in range(20)))
            return [answer.status_code for answer in answers]

    assert asyncio.run(run()) == [200] * 20
    assert tried == [store]


def test_where_keys_are_required_the_store_is_needed_to_check_them(
    tmp_path: Path, ask_of: Callable[[FastAPI], Ask], problem: CheckProblem, monkeypatch: pytest.MonkeyPatch
) -> None:
    with open_store(f"sqlite:///{tmp_path / 'records.sqlite3'}") as store:
        _, token = AccessKeys(store).make("Low Meadow", ["assess"])
        ask = ask_of(create_app(settings=ServiceSettings(keys_required=True), store=store))

        def fail(*_: Any) -> Any:
            raise StoreUnavailable(retry_after=7)

        monkeypatch.setattr(AccessKeys, "check", fail)
        headers = {"authorization": f"Bearer {token.text}"}
        problem(ask("POST", "/v1/assessments?keep=false", json=GOOD, headers=headers), "store-unavailable")


@pytest.mark.parametrize("headers", [{}, {"idempotency-key": "k"}])
@looks_into_the_file
def test_a_service_whose_file_was_removed_acknowledges_nothing_and_is_not_ready(
    own: Ask, store: Store, problem: CheckProblem, headers: dict[str, str]
) -> None:
    assert own("POST", "/v1/assessments", json=GOOD).status_code == 201
    assert own("GET", "/readyz").status_code == 200
    assert store.file is not None
    aside = store.file.with_name("aside")
    store.file.rename(aside)
    response = own("POST", "/v1/assessments", json=GOOD, headers=headers)
    problem(response, "store-damaged")
    assert response.status_code == 503
    assert own("GET", "/v1/assessments").status_code == 503
    assert own("GET", "/readyz").status_code == 503
    assert own("GET", "/healthz").status_code == 200
    assert own("POST", "/v1/assessments?keep=false", json=GOOD).status_code == 200
    aside.rename(store.file)
    assert own("POST", "/v1/assessments", json=GOOD, headers=headers).status_code == 201
    assert [record.number for record in store.following(0, 9)] == [1, 2]
