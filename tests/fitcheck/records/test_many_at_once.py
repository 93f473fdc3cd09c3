"""Many processes and threads write to one store: none is turned away, and numbers have no gap."""

from __future__ import annotations

import itertools
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from fitcheck.records import Draft, Idempotency, Store, open_store, verify
from tests.support.many_writers import written_together

Make = Callable[..., Draft]
_PROCESSES = 8
_EACH = 25
_SHARED_KEYS = 5


@pytest.mark.long("sqlite")
def test_processes_may_open_a_new_store_at_the_same_moment(url: str, root: Path) -> None:
    written_together(url, root, _PROCESSES, each=1, shared=0)
    with open_store(url, create=False) as store:
        assert store.head().number == _PROCESSES
        assert list(verify(store)) == []


@pytest.mark.long("postgres")
def test_processes_write_at_once_without_gaps_and_each_key_keeps_once(store: Store, root: Path) -> None:
    url = store._engine.url.render_as_string(hide_password=False)
    seen: list[int] = []
    done = threading.Event()

    def follow() -> None:
        while not done.is_set():
            seen.extend(record.number for record in store.following(seen[-1] if seen else 0, 7))

    with ThreadPoolExecutor(1) as reader:
        reading = reader.submit(follow)
        try:
            fresh = written_together(url, root, _PROCESSES, each=_EACH, shared=_SHARED_KEYS)
        finally:
            done.set()
        reading.result()
    total = _PROCESSES * _EACH + _SHARED_KEYS
    assert sum(fresh) == _SHARED_KEYS
    assert [record.number for record in store.following(0, total + 1)] == list(range(1, total + 1))
    assert seen == list(range(1, len(seen) + 1))
    assert list(verify(store)) == []


def test_threads_write_at_once_without_gaps(store: Store, draft: Make) -> None:
    drafts = [draft() for _ in range(80)]
    with ThreadPoolExecutor(16) as threads:
        kept = list(threads.map(store.keep, drafts))
    assert sorted(one.record.number for one in kept) == list(range(1, 81))
    assert list(verify(store)) == []


def test_one_request_sent_by_many_threads_at_once_is_kept_once(store: Store, draft: Make) -> None:
    key = Idempotency("send-1", "", "sha256:1")
    drafts = [draft() for _ in range(16)]
    with ThreadPoolExecutor(16) as threads:
        kept = list(threads.map(store.keep, drafts, itertools.repeat(key)))
    assert [one.fresh for one in kept].count(True) == 1
    assert len({one.record.id for one in kept}) == 1
    assert store.head().number == 1


def test_an_erasure_amid_writing_leaves_the_chain_whole(store: Store, draft: Make) -> None:
    drafts = [draft(person=f"A-{n % 4}") for n in range(60)]
    with ThreadPoolExecutor(4) as threads:
        writing = [threads.submit(store.keep, one) for one in drafts]
        for n in range(4):
            store.erase(f"A-{n}", reason="asked", created="2026-04-01T09:00:00.000Z")
        for one in writing:
            one.result()
    assert list(verify(store)) == []
