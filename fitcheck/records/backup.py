"""Backups of a store while it is in use, and stores made from them again, number by number and digest by digest.

A store in SQLite is copied as it stands at one moment; one in PostgreSQL is written as a portable file. Either can be
restored into either. A backup is read again and proved before it takes the place of an older one; what is restored
is proved before it takes the place of what was there.

The chain proves records, not access keys: who wrote the file could have added one. So those of a backup open
nothing unless that is asked for, and those that the store has stay as they are, revoked ones too.
"""

from __future__ import annotations

import collections
import itertools
import sqlite3
from collections.abc import Callable, Collection, Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import sqlalchemy as sa
from sqlalchemy import exc

from fitcheck.records.appending import held_head, plain_head
from fitcheck.records.atomic_files import whole_path
from fitcheck.records.backup_entries import (
    OTHERS,
    Entry,
    NotABackup,
    Other,
    chained,
    entries_in,
    entries_of,
    head_in,
    required_values,
    write_entries,
)
from fitcheck.records.databases import engine_over, reading_at_once
from fitcheck.records.disk_mode import for_reading
from fitcheck.records.errors import (
    NotAStore,
    StoreDamaged,
    StoreError,
    StoreFull,
    translated,
)
from fitcheck.records.opened_file import set_mark
from fitcheck.records.record import EMPTY, Head, Record
from fitcheck.records.schema import bring_up_to_date
from fitcheck.records.store import Store, open_store
from fitcheck.records.tables import VERSION_TABLE, access_keys, contents, key_uses, metadata, records
from fitcheck.records.tables import head as head_table
from fitcheck.records.verification import faults_in
from fitcheck.vocabulary import now
from rules.lazy import lazily

if TYPE_CHECKING:
    from fitcheck.records.migrations.upgrade import upgrade
else:
    upgrade = lazily("fitcheck.records.migrations.upgrade", "upgrade")

__all__ = ["NotABackup", "StoreNotEmpty", "back_up", "restore"]

_SQLITE: Final = b"SQLite format 3\x00"
_AT_ONCE: Final = 200
_OnProgress = Callable[[int, int], None]
"""Is told how much of a work is done, and of how much: records written, and records proved."""


def _ignored(done: int, total: int) -> None:
    """Nobody wants to know."""


class StoreNotEmpty(StoreError):
    """There are records in the store that a backup was to be restored into."""


def back_up(store: Store, file: Path, *, on_progress: _OnProgress = _ignored) -> Head:
    """Write a backup of ``store`` to ``file``, whose older content stays until the new one is proved; its head.

    Others may use the store meanwhile; the backup has all that was kept before this began. ``on_progress`` is told
    how far it has come. Raises StoreError, StoreDamaged where what was written is not a whole chain, and OSError.
    """
    if store.file is not None and file.exists() and file.samefile(store.file):
        raise StoreError("The backup would take the place of the store itself. Name another file.")
    with whole_path(file) as partial:
        if store.file is not None:
            try:
                with closing(sqlite3.connect(partial)) as copy:
                    _copy_into(store.file, copy)
            except StoreFull as error:
                raise StoreFull("No room is left for the backup. Make room where it is to lie.") from error
            with open_store(f"sqlite:///{partial}", create=False) as copy:
                head = copy.head()
                with copy.snapshot() as connection:
                    _prove(connection, head, on_progress)
        else:
            with partial.open("wb") as stream, store.snapshot() as connection:
                write_entries(connection, stream, on_progress=lambda done, total: on_progress(done, 2 * total))
            with _opened(partial) as (head, entries):
                collections.deque(
                    _counted(entries, head, lambda done, total: on_progress(total + done, 2 * total)), maxlen=0
                )
    return head


def restore(
    file: Path, store: Store, *, replace: bool = False, keys: bool = False, on_progress: _OnProgress = _ignored
) -> Head:
    """Make ``store`` what it was when the backup ``file`` was written; its head.

    With ``replace``, what is in the store is lost, but for its access keys and what these were used for. With ``keys``,
    access keys of the backup that the store does not know open it as they did; else they are there, revoked. All of it
    happens in one transaction and is proved in it, or nothing. ``on_progress`` is told how far it has come.

    Raises StoreNotEmpty where there are records already and ``replace`` is False; NotABackup where the file is none, or
    is not whole; StoreError; OSError.
    """
    with _opened(file) as (head, entries), store.writing() as connection:
        before = held_head(connection)
        if replace:
            _make_anew(connection)
        elif before != EMPTY:
            raise StoreNotEmpty(f"There are {before.number} records in the store already.")
        try:
            counted = _counted(entries, head, lambda done, total: on_progress(done, 2 * total))
            _put(connection, counted, keys=keys)
            connection.execute(head_table.update().values(number=head.number, digest=head.digest))
        except (exc.IntegrityError, exc.DataError, exc.InterfaceError, OverflowError, UnicodeError) as error:
            raise NotABackup("What this backup has contradicts itself, or cannot be kept.") from error
        _prove(connection, head, lambda done, total: on_progress(total + done, 2 * total))
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
    with _nameless_copy(file) as engine, reading_at_once(engine) as connection:
        with _of_the_file():
            head = plain_head(connection)
            _prove(connection, head)
        yield head, chained(_read(entries_of(connection)), head)


def _read(entries: Iterator[Entry]) -> Iterator[Entry]:
    """The same entries; what cannot be read is told of the backup, not of the store that they go into."""
    with _of_the_file():
        yield from entries


@contextmanager
def _of_the_file() -> Iterator[None]:
    try:
        yield
    except (exc.SQLAlchemyError, NotAStore, StoreDamaged, TypeError, ValueError, OverflowError) as error:
        raise NotABackup("This backup is damaged, or is none of fitcheck's records.") from error


@contextmanager
def _nameless_copy(file: Path) -> Iterator[sa.Engine]:
    """A copy, so that an older schema can be brought up to date and the backup itself is not touched.

    SQLite takes away its name as soon as it is made, so that nothing of it is left even where this program is killed.
    """
    with closing(sqlite3.connect("", isolation_level=None, check_same_thread=False)) as copy:
        # What the file defines may not run anything.
        copy.execute("PRAGMA trusted_schema = OFF")
        engine = engine_over(copy)
        with _of_the_file():
            _copy_into(file, copy)
            bring_up_to_date(engine)
        yield engine


def _copy_into(origin: Path, copy: sqlite3.Connection) -> None:
    """Copy a SQLite database as it stands at one moment, even while others write to it."""
    try:
        address = f"{origin.resolve().as_uri()}?{for_reading(origin.resolve())}"
        with closing(sqlite3.connect(address, uri=True)) as source:
            # In one go: in steps, a store in use could make it begin again and again.
            source.backup(copy, pages=-1)
        # One file alone, which may lie where nothing can be written.
        copy.execute("PRAGMA journal_mode = DELETE")
        set_mark(copy)
    except sqlite3.Error as error:
        with translated():
            raise exc.DBAPIError("", None, error) from error


def _counted(entries: Iterator[Entry], head: Head, on_progress: _OnProgress) -> Iterator[Entry]:
    """The same entries; ``on_progress`` is told of each record."""
    for entry in entries:
        yield entry
        if isinstance(entry, Record):
            on_progress(entry.number, head.number)


def _prove(connection: sa.Connection, head: Head, on_progress: _OnProgress = _ignored) -> None:
    faults = [
        str(fault) for fault in itertools.islice(faults_in(connection, expected=head, on_progress=on_progress), 3)
    ]
    if faults:
        raise NotABackup(f"The records are not those that were kept: {' '.join(faults)}")


def _make_anew(connection: sa.Connection) -> None:
    """Take away the store's tables with their guards, and make them new; access keys and their uses stay."""
    functions: list[str] = []
    if connection.dialect.name == "postgresql":
        guards = sa.text(
            "SELECT DISTINCT tgfoid::regprocedure::text FROM pg_trigger "
            "WHERE NOT tgisinternal AND tgrelid IN ('records'::regclass, 'contents'::regclass, 'head'::regclass)"
        )
        functions = list(connection.execute(guards).scalars())
    for table in _STAYING:
        connection.exec_driver_sql(f"CREATE TEMPORARY TABLE kept_{table.name} AS SELECT * FROM {table.name}")  # noqa: S608  (names of tables)
    metadata.drop_all(connection)
    sa.Table(VERSION_TABLE, sa.MetaData()).drop(connection)
    for function in functions:
        connection.exec_driver_sql(f"DROP FUNCTION {function}")
    upgrade(connection)
    for table in _STAYING:
        names = ", ".join(f'"{column.name}"' for column in table.c if column is not table.autoincrement_column)
        connection.exec_driver_sql(f"INSERT INTO {table.name} ({names}) SELECT {names} FROM kept_{table.name}")  # noqa: S608
        connection.exec_driver_sql(f"DROP TABLE kept_{table.name}")


_STAYING: Final = (access_keys, key_uses)


def _put(connection: sa.Connection, entries: Iterator[Entry], *, keys: bool) -> None:
    """Insert the entries in their order; an access key that is there already stays as it is, with its uses."""
    there = set(connection.execute(sa.select(access_keys.c.id)).scalars())
    while page := list(itertools.islice(entries, _AT_ONCE)):
        kept = [entry for entry in page if isinstance(entry, Record)]
        _insert(connection, records, [{name: getattr(one, name) for name in _COLUMNS} for one in kept])
        whole = [one for one in kept if not one.erased]
        _insert(connection, contents, [{name: getattr(one, name) for name in _CONTENTS} for one in whole])
        for name, table in OTHERS.items():
            rows = [entry.row for entry in page if isinstance(entry, Other) and entry.table == name]
            _insert(connection, table, _restorable(table, rows, there, keys=keys))


def _restorable(
    table: sa.Table, rows: Sequence[dict[str, Any]], there: Collection[str], *, keys: bool
) -> list[dict[str, Any]]:
    if table is access_keys:
        new = [row for row in rows if row["id"] not in there]
        return new if keys else [row | {"revoked": row["revoked"] or now()} for row in new]
    if table is key_uses:
        return [row for row in rows if row["key"] not in there]
    return list(rows)


def _insert(connection: sa.Connection, table: sa.Table, rows: Sequence[dict[str, Any]]) -> None:
    for row in rows:
        required_values(table, row)
    if rows:
        connection.execute(table.insert(), [_without_counter(table, row) for row in rows])


def _without_counter(table: sa.Table, row: dict[str, Any]) -> dict[str, Any]:
    """The row without a number that the database itself counts on."""
    counter = table.autoincrement_column
    return {name: value for name, value in row.items() if counter is None or name != counter.name}


_COLUMNS: Final = tuple(records.c.keys())
_CONTENTS: Final = tuple(contents.c.keys())
