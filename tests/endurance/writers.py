"""Eight processes write to one store at once: none is turned away, and a follower meets every number in its turn."""

from __future__ import annotations

import threading
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Final

from fitcheck.records import Store, open_store, verify
from tests.endurance.databases import address_in
from tests.endurance.report import Report
from tests.endurance.service import ROOT
from tests.support.many_writers import written_together

__all__ = ["FULL", "run"]

FULL: Final = 1000
_PROCESSES: Final = 8
_SHARED_KEYS: Final = 50


def run(count: int, database: str, folder: Path, seed: int) -> Report:
    """Have each process keep ``count`` records; nothing is drawn by lot, so ``seed`` has no say."""
    report = Report(f"writers: {_PROCESSES} processes, {count} records each, {database}, seed {seed}")
    begin = time.monotonic()
    done = threading.Event()
    total = _PROCESSES * count + _SHARED_KEYS
    with address_in(database, folder) as url, open_store(url) as store:
        with ThreadPoolExecutor(1) as reader:
            following = reader.submit(_followed, store, done)
            try:
                # It raises where a process was turned away.
                fresh = written_together(url, ROOT, _PROCESSES, each=count, shared=_SHARED_KEYS)
            except AssertionError as error:
                report.fault(f"a process failed: {error}")
                fresh = []
            finally:
                done.set()
            seen = following.result()
        if sum(fresh) != _SHARED_KEYS:
            report.fault(f"{_SHARED_KEYS} keys of all were each used first {sum(fresh)} times")
        if seen != list(range(1, total + 1)):
            report.fault(f"the feed told {len(seen)} records of {total}, or not in their order")
        report.faults += [f"verify: {fault}" for fault in verify(store)]
        report.figures["records"] = store.head().number
    report.figures["seconds"] = time.monotonic() - begin
    return report


def _followed(store: Store, done: threading.Event) -> list[int]:
    """The numbers as the feed told them, until there are no more and none are to come."""
    seen: list[int] = []
    while True:
        over = done.is_set()
        records = store.following(seen[-1] if seen else 0, 100)
        seen += [record.number for record in records]
        if over and not records:
            return seen
