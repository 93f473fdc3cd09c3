"""The same proof by several processes, each over ranges of the records: equal faults, in the same order."""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import sqlalchemy as sa

from fitcheck.records.errors import StoreError
from fitcheck.records.record import Head
from fitcheck.records.store import Store, open_store
from fitcheck.records.tables import records
from fitcheck.records.verification import Fault, Walk, at_the_end, faults_of_range, verify

__all__ = ["verify_ranges", "verify_with"]

RECORDS: Final = 20_000
"""Numbers of a range: some seconds of work."""
_LAST: Final = sa.select(sa.func.max(records.c.number))
_BEFORE_ALL: Final = -(2**63)


@dataclass(frozen=True, slots=True)
class Range:
    """The records of a store with numbers beyond ``after`` and up to ``last``."""

    store: str
    after: int
    last: int
    expected: Head | None


def faults_of(part: Range) -> tuple[list[Fault], Walk]:
    """The faults of a range, and where the walk through it came to. Raises StoreError."""
    with open_store(part.store, create=False) as store, store.snapshot() as connection:
        found: list[Fault] = []
        walked = faults_of_range(connection, after=part.after, last=part.last, expected=part.expected)
        while True:
            try:
                found.append(next(walked))
            except StopIteration as end:
                return found, end.value


def verify_with(
    run: Callable[[Callable[[Range], tuple[list[Fault], Walk]], Iterable[Range]], Iterator[tuple[list[Fault], Walk]]],
    store: Store,
    *,
    expected: Head | None = None,
    size: int,
    on_progress: Callable[[int, int], None] = lambda _done, _total: None,
) -> Iterator[Fault]:
    """The faults of ``store`` as ``verify`` tells them, where ``run`` does the work on each range, as ``map`` does.

    Ranges are read as they stand when their turn comes; of what is kept meanwhile nothing counts. Raises StoreError.
    """
    with store.snapshot() as connection:
        last = connection.execute(_LAST).scalar_one() or 0
        edges = [_BEFORE_ALL, *range(size, last, size), max(last, 0)]
        parts = [Range(store.address, after, to, expected) for after, to in pairwise(edges)]
        met, walk = False, Walk({}, expected)
        for part, (faults, came_to) in zip(parts, run(faults_of, parts), strict=True):
            yield from faults
            walk, met = came_to, met or came_to.expected_met
            on_progress(part.last, last)
        yield from at_the_end(connection, replace(walk, expected_met=met))


def verify_ranges(
    store: Store,
    processes: int,
    *,
    expected: Head | None = None,
    on_progress: Callable[[int, int], None] = lambda _done, _total: None,
) -> Iterator[Fault]:
    """The faults of ``store``, by so many processes; with 1 by this one alone. Raises StoreError.

    ``on_progress`` is told how many records were looked at, and of how many.
    """
    if processes <= 1:
        yield from verify(store, expected=expected, on_progress=on_progress)
        return
    # Not forked: a connection to a database is not to be shared.
    with ProcessPoolExecutor(processes, mp_context=multiprocessing.get_context("spawn")) as pool:
        try:
            yield from verify_with(pool.map, store, expected=expected, size=RECORDS, on_progress=on_progress)
        except BrokenProcessPool as error:
            raise StoreError("A process that verified was lost. Verify again, or by one process.") from error
