"""The database is killed under load, again and again: the service says so, comes back by itself, and loses nothing."""

from __future__ import annotations

import random
import time
from http import HTTPStatus
from pathlib import Path
from typing import Final

import httpx

from fitcheck.records import open_store
from tests.endurance.databases import PostgresDatabase, postgres
from tests.endurance.ledger import Ledger
from tests.endurance.load import load_on, send
from tests.endurance.report import Report
from tests.endurance.service import Service

__all__ = ["FULL", "run"]

FULL: Final = 50
_LONGEST_LOAD_S: Final = 1.0
_LONGEST_OUTAGE_S: Final = 1.0
_BACK_WITHIN_S: Final = 120.0
_PATIENCE_S: Final = 120.0


def run(count: int, database: str, folder: Path, seed: int) -> Report:
    """Kill the database server ``count`` times under one service that runs on; ``database`` must be postgresql."""
    report = Report(f"database-killed: {count} times, {database}, seed {seed}")
    chance = random.Random(seed)
    ledger = Ledger(report)
    begin = time.monotonic()
    with postgres() as server, Service(folder, server.url) as service:
        service.start(workers=2)
        for _ in range(count):
            with load_on(service.address, ledger, chance.randrange(2**32), outages=True):
                time.sleep(chance.uniform(0.1, _LONGEST_LOAD_S))
                way = server.kill(chance)
                report.count(f"killed: {way}")
                _outage(service, server, report, down=way != "connection", lasts=chance.uniform(0, _LONGEST_OUTAGE_S))
                _back(service, report)
            _look(service, ledger, server.url)
        service.stop()
        lines = service.log.read_text(encoding="utf-8").splitlines()
        report.faults += [line for line in lines if '"status": 500' in line]
        with open_store(server.url, create=False) as store:
            ledger.check(store)
            ledger.prove(store)
    ledger.sums()
    report.figures["seconds"] = time.monotonic() - begin
    return report


def _outage(service: Service, server: PostgresDatabase, report: Report, *, down: bool, lasts: float) -> None:
    """While there is no database: the service lives and says that it cannot keep; then there is one again."""
    if not down:
        return
    with httpx.Client(base_url=service.address, timeout=_PATIENCE_S) as client:
        for path, expected in (("/healthz", HTTPStatus.OK), ("/readyz", HTTPStatus.SERVICE_UNAVAILABLE)):
            if (response := client.get(path)).status_code != expected:
                report.fault(f"without its database {path} answers {response.status_code}: {response.text[:300]}")
    time.sleep(lasts)
    server.start()


def _back(service: Service, report: Report) -> None:
    """Wait until every server process can keep again; nobody does anything for it."""
    begin = time.monotonic()
    ready = 0
    while ready < 4:
        # A connection of its own each time, so that both processes get some.
        response = httpx.get(f"{service.address}/readyz", timeout=_PATIENCE_S)
        ready = ready + 1 if response.status_code == HTTPStatus.OK else 0
        if time.monotonic() - begin > _BACK_WITHIN_S:
            report.fault(f"the service did not come back: {response.status_code} {response.text[:300]}")
            return
        time.sleep(0 if ready else 0.05)
    report.most("slowest to come back, s", time.monotonic() - begin)


def _look(service: Service, ledger: Ledger, url: str) -> None:
    """Hold what there is against the ledger, and send again what was not answered or not kept."""
    with open_store(url, create=False) as store:
        ledger.check(store)
        again = ledger.take_unanswered()
        ledger.report.count("requests that were not kept or in doubt", len(again))
        ledger.report.count("of these, kept all the same", sum(map(ledger.is_kept, again)))
        with httpx.Client(base_url=service.address, timeout=_PATIENCE_S) as client:
            for sent in [*again, *ledger.answered]:
                send(client, ledger, sent)
        ledger.check(store)
        if ledger.unanswered:
            ledger.report.fault(f"{len(ledger.unanswered)} requests were not answered by a service that was at rest")
        ledger.prove(store)
