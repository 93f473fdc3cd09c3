"""A trial of writing: it finds what keeps records out, and changes nothing."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import pytest
import sqlalchemy as sa

from fitcheck.records import (
    Draft,
    Store,
    StoreFull,
    StoreUnavailable,
    open_store,
    verify,
)
from fitcheck.records.databases import address_of

Make = Callable[..., Draft]


def sqlite_file(url: str) -> Path:
    return Path(str(address_of(url).database))


def test_a_trial_of_writing_changes_nothing_and_finds_what_keeps_records_out(
    url: str, draft: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    with open_store(url) as store:
        kept = store.keep(draft()).record
        before = store.following(0, 9)
        store.try_writing()
        assert (store.following(0, 9), store.head().digest) == (before, kept.digest)
        with open_store(url) as other, other.snapshot() as reading:
            reading.execute(sa.text("SELECT number FROM head"))
            store.try_writing()
        with open_store(url) as other, other.writing() as connection:
            connection.execute(sa.text("UPDATE head SET number = number"))
            begin = time.monotonic()
            with pytest.raises(StoreUnavailable):
                store.try_writing()
            assert time.monotonic() - begin < 10
        store.try_writing()
        monkeypatch.setattr("fitcheck.records.databases._LEAST_ROOM", 2**62)
        if url.startswith("sqlite"):
            with pytest.raises(StoreFull):
                store.try_writing()
        assert store.keep(draft()).record.number == 2
        assert list(verify(store)) == []


def test_a_trial_of_writing_writes_indeed(sqlite_store: Store, sqlite_url: str, draft: Make) -> None:
    sqlite_store.keep(draft())
    log = Path(f"{sqlite_file(sqlite_url)}-wal")
    before = log.stat().st_size
    sqlite_store.try_writing()
    assert log.stat().st_size > before
