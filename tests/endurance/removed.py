"""The file of a service under load is removed, moved, replaced or written over: nothing is acknowledged meanwhile."""

from __future__ import annotations

import os
import random
import shutil
import sqlite3
import time
from collections.abc import Callable
from contextlib import closing, suppress
from http import HTTPStatus
from pathlib import Path
from typing import Final

import httpx

from fitcheck.records import open_store
from tests.endurance.ledger import Ledger
from tests.endurance.load import load_on, send
from tests.endurance.report import Report
from tests.endurance.service import Service

__all__ = ["BLOWS", "FULL", "run"]

FULL: Final = 100
_LONGEST_LOAD_S: Final = 0.5
_TRIED_DURING: Final = 4
_BACK_WITHIN_S: Final = 30.0
_PATIENCE_S: Final = 120.0
_SEEN_WITHIN_S: Final = 1.5
_NEWER: Final = "newer"


def _all_removed(file: Path) -> None:
    for path in file.parent.glob(f"{file.name}*"):
        path.unlink()


def _replaced(file: Path) -> None:
    other = file.with_name("another")
    with open_store(f"sqlite:///{other}"):
        pass
    other.replace(file)


def _older_copy(file: Path) -> None:
    """Write an older copy of the file over it, as ``cp`` does, while nobody else writes."""
    older = file.with_name("older")
    shutil.copyfile(file, older)
    with closing(sqlite3.connect(file, isolation_level=None, timeout=_PATIENCE_S)) as connection:
        while older.read_bytes() == file.read_bytes():
            time.sleep(0.01)
            connection.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchall()
        # A service reads once a second, and so sees that the file has gone on.
        time.sleep(_SEEN_WITHIN_S)
        connection.execute("BEGIN IMMEDIATE")
        _wait_until_nobody_writes_from_the_log(file)
        shutil.copyfile(file, file.with_name(_NEWER))
        shutil.copyfile(older, file)
        connection.execute("ROLLBACK")


def _wait_until_nobody_writes_from_the_log(file: Path) -> None:
    """As who committed just before may still do; what it left is written here."""
    with closing(sqlite3.connect(file, isolation_level=None, timeout=_PATIENCE_S)) as connection:
        while True:
            with suppress(sqlite3.OperationalError):
                busy, in_log, written = connection.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchone()
                if not busy and in_log == written:
                    return
            time.sleep(0.01)


BLOWS: Final[dict[str, Callable[[Path], object]]] = {
    "file removed": lambda file: file.unlink(),
    "file and log removed": _all_removed,
    "folder moved": lambda file: file.parent.rename(file.parent.with_name("elsewhere")),
    "file replaced": _replaced,
    "log removed": lambda file: Path(f"{file}-wal").unlink(),
    "older copy written over it": _older_copy,
}


def run(count: int, database: str, folder: Path, seed: int) -> Report:
    """Strike ``count`` times, each way in turn, at a file in ``folder``; every time it is put back as it was."""
    report = Report(f"removed: {count} times, {database}, seed {seed}")
    chance = random.Random(seed)
    ledger = Ledger(report)
    begin = time.monotonic()
    file = folder / "yard" / "records.sqlite3"
    url = f"sqlite:///{file}"
    with Service(folder, url) as service:
        service.start()
        for cycle in range(count):
            name, strike = list(BLOWS.items())[cycle % len(BLOWS)]
            report.count(name)
            with load_on(service.address, ledger, chance.randrange(2**32), outages=True):
                time.sleep(chance.uniform(0.05, _LONGEST_LOAD_S))
                aside = _linked(file, folder / f"aside-{cycle}")
                strike(file)
                _look_during(service.address, ledger, name)
            _put_back(aside, file)
            if strike is _older_copy:
                # SQLite may keep pages of it.
                service.stop()
                service.start()
            _look_after(service.address, ledger)
            with open_store(url, create=False) as store:
                ledger.check(store)
        service.stop()
        with open_store(url, create=False) as store:
            ledger.check(store)
            ledger.prove(store)
    ledger.sums()
    report.figures["seconds"] = time.monotonic() - begin
    return report


def _linked(file: Path, aside: Path) -> Path:
    """A folder with second names of the file and what lies beside it, so that the same files can be put back."""
    aside.mkdir()
    for path in file.parent.glob(f"{file.name}*"):
        (aside / path.name).hardlink_to(path)
    return aside


def _put_back(aside: Path, file: Path) -> None:
    elsewhere = file.parent.with_name("elsewhere")
    if elsewhere.exists():
        elsewhere.rename(file.parent)
    for path in aside.iterdir():
        place = file.with_name(path.name)
        if not (place.exists() and place.samefile(path)):
            place.unlink(missing_ok=True)
            os.link(path, place)
        path.unlink()
    newer = file.with_name(_NEWER)
    if newer.exists():
        shutil.copyfile(newer, file)
        newer.unlink()


def _look_during(address: str, ledger: Ledger, blow: str) -> None:
    """What begins after the blow is not acknowledged, and the service is alive and not ready."""
    with httpx.Client(base_url=address, timeout=_PATIENCE_S) as client:
        for _ in range(_TRIED_DURING):
            response = send(client, ledger, ledger.new(keyed=True), outages=True)
            if response is None or response.status_code == HTTPStatus.CREATED:
                ledger.report.fault(f"{blow}: a request was acknowledged, or not answered")
        statuses = client.get("/readyz").status_code, client.get("/healthz").status_code
    if statuses != (HTTPStatus.SERVICE_UNAVAILABLE, HTTPStatus.OK):
        ledger.report.fault(f"{blow}: /readyz and /healthz answered {statuses}")


def _look_after(address: str, ledger: Ledger) -> None:
    """Come back when the service keeps again what was sent meanwhile."""
    patience = time.monotonic() + _BACK_WITHIN_S
    with httpx.Client(base_url=address, timeout=_PATIENCE_S) as client:
        while client.get("/readyz").status_code != HTTPStatus.OK and time.monotonic() < patience:
            time.sleep(0.05)
        for sent in ledger.take_unanswered():
            send(client, ledger, sent)
