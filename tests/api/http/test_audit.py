"""The audit of keys: written beside the requests, in order, and what cannot be written is waited for and counted."""

from __future__ import annotations

import asyncio
import threading
import time
from collections.abc import Sequence
from typing import Any

import pytest

from api.http.audit import KeyUses
from api.http.metrics import exposition
from api.http.request_notes import RequestNote
from fitcheck.records import StoreUnavailable
from fitcheck.records.keys import KeyUse


def note(number: int, key: str = "0123456789ab") -> RequestNote:
    return RequestNote(f"r-{number}", "GET", "/v1/rulebook", key, 200, 1.5)


class Audit:
    """Keeps what it is handed, unless it is down."""

    def __init__(self) -> None:
        self.kept: list[KeyUse] = []
        self.batches: list[int] = []
        self.down: Exception | None = None
        self.tried = threading.Event()

    def __call__(self, uses: Sequence[KeyUse]) -> None:
        self.tried.set()
        if self.down:
            raise self.down
        self.batches.append(len(uses))
        self.kept += uses


def lost() -> float:
    [line] = [line for line in exposition().decode().splitlines() if line.startswith("fitcheck_lost_key_uses_total ")]
    return float(line.split()[1])


def test_uses_are_kept_in_order_and_all_of_them_at_the_end() -> None:
    audit = Audit()
    uses = KeyUses(audit, every_s=0.01)
    uses.start()
    for number in range(2500):
        uses.note(note(number))
    uses.note(note(9999, key=""))
    uses.stop()
    assert [use.request for use in audit.kept] == [f"r-{number}" for number in range(2500)]
    assert max(audit.batches) <= 1000
    use = audit.kept[0]
    assert (use.key, use.method, use.route, use.status) == ("0123456789ab", "GET", "/v1/rulebook", 200)
    assert use.at.endswith("Z")


def test_a_request_does_not_wait_for_the_audit() -> None:
    slow = threading.Event()

    def keep(_: Sequence[KeyUse]) -> None:
        slow.wait(20)

    uses = KeyUses(keep, every_s=0.0)
    uses.start()
    uses.note(note(0))
    start = time.perf_counter()
    for number in range(1000):
        uses.note(note(number))
    assert time.perf_counter() - start < 1
    slow.set()
    uses.stop()


def test_while_the_store_is_away_uses_wait_and_nothing_is_kept_twice(caplog: pytest.LogCaptureFixture) -> None:
    audit = Audit()
    audit.down = StoreUnavailable()
    uses = KeyUses(audit, every_s=0.01)
    uses.start()
    for number in range(5):
        uses.note(note(number))
    assert audit.tried.wait(20)
    time.sleep(0.05)
    audit.down = None
    uses.note(note(5))
    uses.stop()
    assert [use.request for use in audit.kept] == [f"r-{number}" for number in range(6)]
    # One warning, however often it was tried.
    assert len([record for record in caplog.records if "wait for the record store" in record.getMessage()]) == 1


def test_what_waits_is_bounded_and_what_is_lost_is_counted(caplog: pytest.LogCaptureFixture) -> None:
    audit, before = Audit(), lost()
    audit.down = StoreUnavailable()
    uses = KeyUses(audit, most=10, every_s=0.01)
    uses.start()
    for number in range(25):
        uses.note(note(number))
    uses.stop()
    assert audit.kept == []
    assert lost() - before == 25
    assert "10 uses of keys could not be kept" in caplog.text


def test_a_fault_that_nobody_foresaw_ends_neither_the_audit_nor_the_service(caplog: pytest.LogCaptureFixture) -> None:
    audit, before = Audit(), lost()
    audit.down = ZeroDivisionError()
    uses = KeyUses(audit, every_s=0.01)
    uses.start()
    uses.note(note(0))
    assert audit.tried.wait(20)
    time.sleep(0.05)
    audit.down = None
    uses.note(note(1))
    uses.stop()
    assert [use.request for use in audit.kept] == ["r-1"]
    assert lost() - before == 1
    assert "ZeroDivisionError" in caplog.text


def test_what_was_let_in_and_what_was_not_is_in_the_audit_once_the_service_has_ended(yard: Any) -> None:
    reader = yard.bearer("read")
    for number, (method, path) in enumerate(
        [("GET", "/v1/rulebook"), ("POST", "/v1/assessments"), ("GET", "/healthz"), ("GET", "/nowhere")]
    ):
        yard.ask(method, path, headers=reader | {"x-request-id": f"r-{number}"})
    yard.ask("GET", "/v1/rulebook", headers={"x-request-id": "r-without"})

    async def start_and_end() -> None:
        async with yard.app.router.lifespan_context(yard.app):
            pass

    asyncio.run(start_and_end())
    assert [(use.request, use.method, use.route, use.status) for use in reversed(yard.keys.uses(limit=10))] == [
        ("r-0", "GET", "/v1/rulebook", 200),
        ("r-1", "POST", "/v1/assessments", 403),
    ]
    assert yard.keys.every()[0].last_used is not None
