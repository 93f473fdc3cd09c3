"""Clients that write to a service as fast as it takes it, and note all that they are told."""

from __future__ import annotations

import json
import random
import threading
import time
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from http import HTTPStatus
from typing import Any, Final

import httpx

from tests.endurance.ledger import Ledger, Sent

__all__ = ["JSON", "NDJSON", "load_on", "send"]

JSON: Final = {"content-type": "application/json"}
NDJSON: Final = {"content-type": "application/x-ndjson"}
_SINGLES: Final = 4
_LINES: Final = 60
_PIECE: Final = 6
_PATIENCE_S: Final = 120.0
_PAUSE_S: Final = 0.05
_PAUSE_OUTAGE_S: Final = 0.25


@contextmanager
def load_on(address: str, ledger: Ledger, seed: int, *, outages: bool = False) -> Iterator[None]:
    """Have clients write for as long as the block runs, or until the service is gone.

    ``outages``: whether the service may say that its records cannot be reached; else that is a fault.
    """
    stop = threading.Event()
    with ThreadPoolExecutor(_SINGLES + 1) as clients:
        working: list[Future[None]] = [
            clients.submit(_singles, address, ledger, stop, random.Random(f"{seed}-{number}"), outages)
            for number in range(_SINGLES)
        ]
        working.append(clients.submit(_batches, address, ledger, stop, outages))
        try:
            yield
        finally:
            stop.set()
    for each in working:
        each.result()


def send(client: httpx.Client, ledger: Ledger, sent: Sent, *, outages: bool = False) -> httpx.Response | None:
    """Send one request, and note what came of it; None where the connection broke off."""
    begin = time.monotonic()
    try:
        response = client.post(
            f"/v1/assessments{sent.query}", content=sent.body, headers=JSON | {"idempotency-key": sent.key}
        )
    except httpx.TransportError:
        ledger.doubt(sent)
        return None
    ledger.report.most("slowest answer, s", time.monotonic() - begin)
    if response.status_code == HTTPStatus.CREATED:
        id_ = ledger.acknowledge(sent, response.content)
        if response.headers["location"] != f"/v1/assessments/{id_}":
            ledger.report.fault(f"assessment {id_} is said to lie at {response.headers['location']}")
    elif outages and _is_outage(response):
        ledger.report.count("answered 503")
        ledger.doubt(sent)
    else:
        ledger.report.fault(f"{response.status_code}: {response.text[:500]}")
    return response


def _is_outage(response: httpx.Response) -> bool:
    """Whether this says, as it must be said, that records cannot be reached just now."""
    return (
        response.status_code == HTTPStatus.SERVICE_UNAVAILABLE
        and response.headers["content-type"] == "application/problem+json"
        and response.json()["type"] == "/problems/store-unavailable"
        and int(response.headers.get("retry-after", "0")) > 0
    )


def _singles(address: str, ledger: Ledger, stop: threading.Event, chance: random.Random, outages: bool) -> None:  # noqa: FBT001  (for a thread)
    query, corrected = "", None
    with httpx.Client(base_url=address, timeout=_PATIENCE_S) as client:
        while not stop.is_set():
            sent = ledger.new(keyed=True, query=query, corrected=corrected)
            response = send(client, ledger, sent, outages=outages)
            if response is None:
                return
            query, corrected = "", None
            if response.status_code != HTTPStatus.CREATED:
                time.sleep(_PAUSE_OUTAGE_S)
            elif chance.random() < 0.2:
                query, corrected = f"?corrects={response.json()['id']}", sent


def _batches(address: str, ledger: Ledger, stop: threading.Event, outages: bool) -> None:  # noqa: FBT001  (for a thread)
    with httpx.Client(base_url=address, timeout=_PATIENCE_S) as client:
        while not stop.is_set() and _batch(client, ledger, outages=outages):
            time.sleep(_PAUSE_S)


def _batch(client: httpx.Client, ledger: Ledger, *, outages: bool) -> bool:
    """Send one batch to be kept, and note each whole line of the answer; whether the service is still there."""
    sent = [ledger.new(keyed=False) for _ in range(_LINES)]

    def pieces() -> Iterator[bytes]:
        for start in range(0, _LINES, _PIECE):
            yield b"".join(each.body + b"\n" for each in sent[start : start + _PIECE])
            time.sleep(0.01)

    rest = b""
    answered = 0
    try:
        with client.stream("POST", "/v1/assessments/batch?keep=true", content=pieces(), headers=NDJSON) as response:
            if response.status_code != HTTPStatus.OK:
                response.read()
                if not (outages and _is_outage(response)):
                    ledger.report.fault(f"batch: {response.status_code}: {response.text[:500]}")
                return True
            for chunk in response.iter_raw():
                *lines, rest = (rest + chunk).split(b"\n")
                for line in lines:
                    _note_line(ledger, sent, line, outages=outages)
                    answered += 1
    except httpx.TransportError:
        return False
    if answered != _LINES:
        ledger.report.fault(f"a batch of {_LINES} lines ended well after {answered} answers")
    return True


def _note_line(ledger: Ledger, sent: list[Sent], line: bytes, *, outages: bool) -> None:
    answer: dict[str, Any] = json.loads(line)
    if "assessment" in answer:
        told = line.partition(b'"assessment":')[2][:-1]
        id_ = ledger.acknowledge(sent[answer["line"] - 1], told)
        if answer["location"] != f"/v1/assessments/{id_}":
            ledger.report.fault(f"assessment {id_} is said to lie at {answer['location']}")
        ledger.report.count("lines of batches acknowledged")
    elif not (outages and answer["problem"]["type"] == "/problems/store-unavailable"):
        ledger.report.fault(f"batch: {line[:500]!r}")
