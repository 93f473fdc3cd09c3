"""A small store kept with release 0.1, restored into each database: every record as it was, and the chain whole."""

from __future__ import annotations

import io
import json
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from fitcheck.records import Store, open_store, verify
from fitcheck.records.backup import back_up, restore
from fitcheck.records.backup_entries import write_entries
from fitcheck.records.exchange.exporting import chunks
from fitcheck.records.feed import START, batch_after
from fitcheck.records.record import RecordFilter
from tests.endurance.databases import DATABASES, address_in
from tests.frozen.requests import KEPT

__all__ = ["store_answers"]

_VISIT: Final = "2026-03-04-H-301"


def store_answers() -> Iterator[tuple[str, str]]:
    """What comes out of the store on each database; all of it must be the same on both."""
    for database in DATABASES:
        with (
            tempfile.TemporaryDirectory() as folder,
            address_in(database, Path(folder)) as url,
            open_store(url) as store,
        ):
            restore(KEPT, store, keys=True)
            for name, text in _parts(store, Path(folder)):
                yield f"{database} {name}", text


def _parts(store: Store, folder: Path) -> Iterator[tuple[str, str]]:
    yield "head", str(store.head())
    yield "faults", "\n".join(str(fault) for fault in verify(store))
    with store.snapshot() as connection:
        stream = io.BytesIO()
        write_entries(connection, stream)
    yield "entries", stream.getvalue().decode()
    back_up(store, folder / "backup")
    with open_store(f"sqlite:///{folder / 'again.sqlite3'}") as again:
        yield "restored again", str(restore(folder / "backup", again))
    for form in ("ndjson", "csv"):
        yield f"export {form}", b"".join(chunks(store.each_record(RecordFilter()), form)).decode()
    yield "feed", batch_after(store, START, limit=100).body.decode()
    yield "visit", json.dumps([record.id for record in store.each_record(RecordFilter(visit=_VISIT))])
