"""The whole service is killed under load, again and again: nothing acknowledged is lost, nothing is kept twice."""

from __future__ import annotations

import random
import time
from concurrent.futures import ThreadPoolExecutor
from http import HTTPStatus
from pathlib import Path
from typing import Final

import httpx

from fitcheck.records import RecordFilter, open_store
from tests.endurance.databases import address_in
from tests.endurance.ledger import Ledger, Sent
from tests.endurance.load import load_on, send
from tests.endurance.report import Report
from tests.endurance.service import Service

__all__ = ["FULL", "run"]

FULL: Final = 200
_LONGEST_LOAD_S: Final = 1.0
_LONGEST_START_S: Final = 2.0
_KILLED_STARTING: Final = 0.15
"""In this share of lives the service is killed before it takes requests."""
_PROVED_EVERY: Final = 10
_READ_AGAIN: Final = 10
_PATIENCE_S: Final = 120.0


def run(count: int, database: str, folder: Path, seed: int) -> Report:
    """Kill the service ``count`` times, its records in ``database``, which lies in ``folder``."""
    report = Report(f"killed: {count} times, {database}, seed {seed}")
    chance = random.Random(seed)
    ledger = Ledger(report)
    begin = time.monotonic()
    with address_in(database, folder) as url, Service(folder, url) as service:
        for cycle in range(count):
            service.begin(workers=chance.choice((1, 2, 3)))
            # The first life of all is among those that end so: amid the making of the tables.
            if cycle == 0 or chance.random() < _KILLED_STARTING:
                time.sleep(chance.uniform(0.1, _LONGEST_START_S))
                service.kill()
                report.count("killed while it started")
                continue
            service.wait()
            _look(service, ledger, url, chance, prove=cycle % _PROVED_EVERY == 0)
            with load_on(service.address, ledger, chance.randrange(2**32)):
                time.sleep(chance.uniform(0.02, _LONGEST_LOAD_S))
                service.kill()
                report.count("killed under load")
            report.faults += service.errors()
        service.start()
        _look(service, ledger, url, chance, prove=True)
        service.stop()
        report.faults += service.errors()
        with open_store(url, create=False) as store:
            ledger.check(store)
            ledger.prove(store)
    ledger.sums()
    report.figures["seconds"] = time.monotonic() - begin
    return report


def _look(service: Service, ledger: Ledger, url: str, chance: random.Random, *, prove: bool) -> None:
    """Hold what there is against the ledger, send again what was not answered, and look once more."""
    # Only the service itself has brought the store back into order: nobody else has opened it before.
    with open_store(url, create=False) as store:
        ledger.check(store)
        again = ledger.take_unanswered()
        ledger.report.count("requests without an answer", len(again))
        ledger.report.count("of these, kept all the same", sum(map(ledger.is_kept, again)))
        _send_again(service.address, ledger, [*again, *ledger.answered])
        ledger.check(store)
        if ledger.unanswered:
            ledger.report.fault(f"{len(ledger.unanswered)} requests were not answered by a service that was at rest")
        if prove:
            ledger.prove(store)
        records = store.records(RecordFilter(), limit=1000)
    with httpx.Client(base_url=service.address, timeout=_PATIENCE_S) as client:
        for record in chance.sample(records, min(_READ_AGAIN, len(records))):
            response = client.get(f"/v1/assessments/{record.id}")
            if (response.status_code, response.content) != (HTTPStatus.OK, record.answer):
                ledger.report.fault(f"assessment {record.id} is not shown as kept: {response.text[:500]}")


def _send_again(address: str, ledger: Ledger, again: list[Sent]) -> None:
    """Send each request twice at the same time; both must be answered alike, and what was kept as a repeat."""

    def once(sent: Sent) -> None:
        # A connection of its own, so that the two may come to different server processes.
        with httpx.Client(base_url=address, timeout=_PATIENCE_S) as client:
            was_kept = ledger.is_kept(sent)
            response = send(client, ledger, sent)
            if was_kept and response is not None and response.headers.get("idempotency-replayed") != "true":
                ledger.report.fault(f"what was kept is not told to be a repeat: {response.headers}")

    with ThreadPoolExecutor(4) as clients:
        list(clients.map(once, [sent for sent in again for _ in range(2)]))
