"""The disk of a store may for a time only be read: what was acknowledged can be read, nothing more is acknowledged.

A real file system, mounted where no other process sees it. Linux refuses to mount one for reading alone while a file
in it is open for writing, so that there are two ways: the service is killed under load, whose log has then records that
the file has not, and started again on what may only be read; or a mount that may only be read is laid over the folder
of a service under load.
"""

from __future__ import annotations

import ctypes
import json
import multiprocessing
import os
import random
import re
import time
from concurrent.futures import ProcessPoolExecutor
from http import HTTPStatus
from pathlib import Path
from typing import Final

import httpx

from fitcheck.records import open_store
from tests.attacks.healthz import Healthz
from tests.endurance.ledger import Ledger
from tests.endurance.load import load_on, send
from tests.endurance.report import Report
from tests.endurance.service import Service
from tests.support.counts import tries
from tests.support.mounts import mount, unmount

__all__ = ["FULL", "WAYS", "NotAllowedHere", "run"]

FULL: Final = 40
WAYS: Final = ("killed, then only to be read", "only to be read under load")
_LONGEST_LOAD_S: Final = 1.0
_TRIED_DURING: Final = 4
_READ_DURING: Final = 5
_BACK_WITHIN_S: Final = 30.0
_TOLD_WITHIN_S: Final = 1.5
_PATIENCE_S: Final = 120.0
_HEALTHY_WITHIN_S: Final = 0.5
_NEW_NAMESPACE: Final = 0x0002_0000  # CLONE_NEWNS
_SENT: Final = re.compile(r"visit \d|H-\d|observations|left_|right_")
"""What stands in every fitting that is sent, and in no line of a log."""


class NotAllowedHere(Exception):
    """The kernel lets this user mount nothing, and so there is nothing to try."""


def run(count: int, database: str, folder: Path, seed: int) -> Report:
    """Have the disk of a store in ``folder`` so ``count`` times, each way in turn. Raises NotAllowedHere."""
    with ProcessPoolExecutor(1, multiprocessing.get_context("spawn")) as alone:
        return alone.submit(_run, count, database, folder, seed).result()


def _run(count: int, database: str, folder: Path, seed: int) -> Report:
    report = Report(f"readonly: {count} times, {database}, seed {seed}")
    chance = random.Random(seed)
    ledger = Ledger(report)
    begin = time.monotonic()
    file = folder / "yard" / "records.sqlite3"
    file.parent.mkdir()
    reading = folder / "reading"
    reading.mkdir()
    _mount_apart(file.parent)
    # So that it can be laid over in one step: a mount in which somebody has opened a file to write stays as it is.
    _must_mount("--bind", file.parent, reading)
    _must_mount("-o", "remount,bind,ro", reading)
    url = f"sqlite:///{file}"
    with Service(folder, url) as service:
        service.start()
        for cycle in range(count):
            way = WAYS[cycle % len(WAYS)]
            report.count(way)
            if way == WAYS[0]:
                _killed_before(service, ledger, chance, file.parent)
                service.begin(workers=chance.choice((1, 2)))
                service.wait()
                _look_during(service, ledger, way)
                _must_mount("-o", "remount,rw", file.parent)
            else:
                with load_on(service.address, ledger, chance.randrange(2**32), outages=True):
                    time.sleep(chance.uniform(0.05, _LONGEST_LOAD_S))
                    _must_mount("--bind", reading, file.parent)
                    _look_during(service, ledger, way)
                # The service has files open in it.
                unmount(file.parent)
            _look_after(service.address, ledger, way)
            _look_at_log(service, ledger)
            with open_store(url, create=False) as store:
                ledger.check(store)
        service.stop()
        with open_store(url, create=False) as store:
            ledger.check(store)
            ledger.prove(store)
    ledger.sums()
    report.figures["seconds"] = time.monotonic() - begin
    return report


def _mount_apart(folder: Path) -> None:
    """Mount an empty disk that this process sees alone, with those that it starts. Raises NotAllowedHere."""
    if ctypes.CDLL(None, use_errno=True).unshare(_NEW_NAMESPACE):
        raise NotAllowedHere(f"no mounts of one's own: {os.strerror(ctypes.get_errno())}")
    for arguments in (
        ("--make-rprivate", "/"),
        ("-t", "tmpfs", "tmpfs", folder),
        ("-o", "remount,ro", folder),
        ("-o", "remount,rw", folder),
    ):
        if not mount(*arguments):
            raise NotAllowedHere(f"no disk can be mounted: mount {' '.join(map(str, arguments))} fails")


def _must_mount(*arguments: str | Path) -> None:
    if not mount(*arguments):
        raise AssertionError(f"mount {' '.join(map(str, arguments))} fails")


def _killed_before(service: Service, ledger: Ledger, chance: random.Random, folder: Path) -> None:
    """Kill the service under load, and let the disk only be read from then on."""
    with load_on(service.address, ledger, chance.randrange(2**32)):
        before = ledger.last_acknowledged(1)
        patience = time.monotonic() + _PATIENCE_S
        time.sleep(chance.uniform(0.05, _LONGEST_LOAD_S))
        while ledger.last_acknowledged(1) == before and time.monotonic() < patience:
            time.sleep(0.02)
        service.kill()
    log = max(folder.glob("*-wal"), key=lambda path: path.stat().st_size)
    ledger.report.most("log left by a kill, bytes", log.stat().st_size)
    _must_mount("-o", "remount,ro", folder)


def _look_during(service: Service, ledger: Ledger, way: str) -> None:
    """What was acknowledged can be read, nothing more is acknowledged, and the service is alive and not ready."""
    healthz = Healthz()
    with healthz.asked(service.address), httpx.Client(base_url=service.address, timeout=_PATIENCE_S) as client:
        for _ in range(_TRIED_DURING):
            response = send(client, ledger, ledger.new(keyed=True), outages=True)
            if response is None or response.status_code != HTTPStatus.SERVICE_UNAVAILABLE:
                ledger.report.fault(f"{way}: a request was acknowledged, or not answered: {response}")
        # What /readyz learnt holds for a second.
        patience = time.monotonic() + _TOLD_WITHIN_S
        while client.get("/readyz").status_code != HTTPStatus.SERVICE_UNAVAILABLE:
            if time.monotonic() > patience:
                ledger.report.fault(f"{way}: /readyz says that records can be kept")
                break
            time.sleep(0.05)
        _read_during(client, ledger, way)
    ledger.report.most("slowest /healthz, s", max(healthz.times, default=0))
    if healthz.failures or (tries(0, full=1) and max(healthz.times) > _HEALTHY_WITHIN_S):
        ledger.report.fault(f"{way}: {healthz}")


def _read_during(client: httpx.Client, ledger: Ledger, way: str) -> None:
    """The last of what was acknowledged is there, with the bytes that were answered."""
    for id_ in ledger.last_acknowledged(_READ_DURING):
        response = client.get(f"/v1/assessments/{id_}")
        if response.status_code != HTTPStatus.OK or not ledger.is_answer(id_, response.content):
            ledger.report.fault(f"{way}: {id_} was acknowledged and is answered {response.text[:200]}")
        ledger.report.count("read meanwhile")


def _look_after(address: str, ledger: Ledger, way: str) -> None:
    """Come back when the service keeps again what was sent meanwhile."""
    patience = time.monotonic() + _BACK_WITHIN_S
    with httpx.Client(base_url=address, timeout=_PATIENCE_S) as client:
        while client.get("/readyz").status_code != HTTPStatus.OK:
            if time.monotonic() > patience:
                ledger.report.fault(f"{way}: the disk can be written again, and /readyz does not say so")
                break
            time.sleep(0.05)
        for sent in ledger.take_unanswered():
            send(client, ledger, sent)


def _look_at_log(service: Service, ledger: Ledger) -> None:
    """Nothing of what was sent is in any line."""
    for line in service.log.read_text(encoding="utf-8").splitlines():
        told = json.loads(line)
        if found := _SENT.search(f"{told}"):
            ledger.report.fault(f"{found[0]!r} in the log: {line[:500]}")
        if told["level"] == "critical":
            ledger.report.fault(f"in the log: {line[:500]}")
        ledger.report.count("lines of logs")
