"""Backups of a store while it is in use, and stores made from them again, number by number and digest by digest.

A store in SQLite is copied as it stands at one moment; one in PostgreSQL is written as a portable file. Either can be
restored into either. A backup is read again and proved before it takes the place of an older one.
"""

from __future__ import annotations

import collections
import itertools
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any, Final

import sqlalchemy as sa

from fitcheck.records.appending import held_head
from fitcheck.records.backup_entries import (
    OTHERS,
    Entry,
    NotABackup,
    Other,
    chained,
    entries_in,
    entries_of,
    head_in,
    write_entries,
)
from fitcheck.records.databases import writing
from fitcheck.records.errors import StoreDamaged, StoreError, StoreFull
from fitcheck.records.record import EMPTY, Head, Record
from fitcheck.records.store import Store, open_store
from fitcheck.records.tables import VERSION_TABLE, access_keys, contents, metadata, records
from fitcheck.records.tables import head as head_table
from fitcheck.records.translation import translated
from fitcheck.records.verification import verify
from fitcheck.records.whole_files import whole_path

__all__ = ["NotABackup", "StoreNotEmpty", "back_up", "restore"]

_SQLITE: Final = b"SQLite format 3\x00"
_AT_ONCE: Final = 200


class StoreNotEmpty(StoreError):
    """There are records in the store that a backup was to be restored into."""


def back_up(store: Store, file: Path) -> Head:
    """Write a backup of ``store`` to ``file``, whose older content stays until the new one is proved; its head.

    Others may use the store meanwhile; the backup has all that was kept before this began. Raises StoreError,
    StoreDamaged where what was written is not a whole chain, and OSError.
    """
    origin = store.engine.url.database if store.engine.dialect.name == "sqlite" else None
    if origin is not None and file.exists() and file.samefile(origin):
        raise StoreError("The backup would take the place of the store itself. Name another file.")
    with whole_path(file) as partial:
        if origin is not None:
            try:
                _copy(Path(origin), partial)
            except StoreFull as error:
                raise StoreFull("No room is left for the backup. Make room where it is to lie.") from error
            with open_store(f"sqlite:///{partial}", create=False) as copy:
                head = copy.head()
                _prove(copy, head)
        else:
            with partial.open("wb") as stream, store.snapshot() as connection:
                write_entries(connection, stream)
            with _opened(partial) as (head, entries):
                collections.deque(entries, maxlen=0)
    return head


def restore(file: Path, store: Store, *, replace: bool = False) -> Head:
    """Make ``store`` what it was when the backup ``file`` was written; its head.

    With ``replace``, what is in the store is lost. All of it happens in one transaction, or nothing. Raises
    StoreNotEmpty where there are records already and ``replace`` is False; NotABackup; StoreDamaged where the backup or
    the store is not whole; StoreError; OSError.
    """
    with _opened(file) as (head, entries):
        with translated(), writing(store.engine).begin() as connection:
            before = held_head(connection)
            if replace:
                _make_anew(connection)
            elif before != EMPTY:
                raise StoreNotEmpty(f"There are {before.number} records in the store already.")
            _put(connection, entries)
            connection.execute(head_table.update().values(number=head.number, digest=head.digest))
        _prove(store, head)
    return head


@contextmanager
def _opened(file: Path) -> Iterator[tuple[Head, Iterator[Entry]]]:
    """The head of a backup and everything of it; what is no whole chain raises as it comes."""
    with file.open("rb") as stream:
        if stream.read(len(_SQLITE)) != _SQLITE:
            stream.seek(0)
            head = head_in(stream)
            stream.seek(0)
            yield head, chained(entries_in(stream), head)
            return
    # A copy, so that an older schema can be brought up to date and the backup itself is not touched.
    with tempfile.TemporaryDirectory(prefix="fitcheck-") as folder:
        copy = Path(folder) / "records.sqlite3"
        _copy(file, copy)
        with open_store(f"sqlite:///{copy}", create=False) as store:
            head = store.head()
            _prove(store, head)
            with store.snapshot() as connection:
                yield head, chained(entries_of(connection), head)


def _copy(origin: Path, target: Path) -> None:
    """Copy a SQLite database as it stands at one moment, whoever writes to it meanwhile."""
    try:
        address = f"{origin.resolve().as_uri()}?mode=ro"
        with closing(sqlite3.connect(address, uri=True)) as source, closing(sqlite3.connect(target)) as copy:
            # In one go: in steps, a store in use could make it begin again and again.
            source.backup(copy, pages=-1)
            # One file alone, which may lie where nothing can be written.
            copy.execute("PRAGMA journal_mode = DELETE")
    except sqlite3.Error as error:
        with translated():
            raise sa.exc.DBAPIError("", None, error) from error


def _prove(store: Store, head: Head) -> None:
    faults = [str(fault) for fault in itertools.islice(verify(store, expected=head), 3)]
    if faults:
        raise StoreDamaged(f"The records are not those that were kept: {' '.join(faults)}")


def _make_anew(connection: sa.Connection) -> None:
    """Take away all of the store's tables with their guards, and make them new and empty."""
    # Only here: Alembic takes its time to load.
    from fitcheck.records.upgrading import upgrade  # noqa: PLC0415

    functions: list[str] = []
    if connection.dialect.name == "postgresql":
        guards = sa.text(
            "SELECT DISTINCT tgfoid::regprocedure::text FROM pg_trigger "
            "WHERE NOT tgisinternal AND tgrelid IN ('records'::regclass, 'contents'::regclass, 'head'::regclass)"
        )
        functions = list(connection.execute(guards).scalars())
    metadata.drop_all(connection)
    sa.Table(VERSION_TABLE, sa.MetaData()).drop(connection)
    for function in functions:
        connection.exec_driver_sql(f"DROP FUNCTION {function}")
    upgrade(connection)


def _put(connection: sa.Connection, entries: Iterator[Entry]) -> None:
    """Insert the entries in their order; an access key that is there already stays as it is."""
    there = set(connection.execute(sa.select(access_keys.c.id)).scalars())
    while page := list(itertools.islice(entries, _AT_ONCE)):
        kept = [entry for entry in page if isinstance(entry, Record)]
        if kept:
            connection.execute(records.insert(), [{name: getattr(one, name) for name in _COLUMNS} for one in kept])
        whole = [one for one in kept if not one.erased]
        if whole:
            connection.execute(contents.insert(), [{name: getattr(one, name) for name in _CONTENTS} for one in whole])
        for name, table in OTHERS.items():
            rows = [entry.row for entry in page if isinstance(entry, Other) and entry.table == name]
            if table is access_keys:
                rows = [row for row in rows if row["id"] not in there]
            if rows:
                connection.execute(table.insert(), [_without_counter(table, row) for row in rows])


def _without_counter(table: sa.Table, row: dict[str, Any]) -> dict[str, Any]:
    """The row without a number that the database itself counts on."""
    counter = table.autoincrement_column
    return {name: value for name, value in row.items() if counter is None or name != counter.name}


_COLUMNS: Final = tuple(records.c.keys())
_CONTENTS: Final = tuple(contents.c.keys())
