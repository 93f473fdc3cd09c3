"""Backups of a store while it is in use, and stores made from them again, number by number and digest by digest.

A store in SQLite is copied as it stands at one moment; one in PostgreSQL is written as a portable file. Either can be
restored into either. A backup is read again and proved before it takes the place of an older one.
"""

from __future__ import annotations

import collections
import hashlib
import itertools
import json
import sqlite3
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO, Final, NamedTuple

import sqlalchemy as sa

from fitcheck.errors import BadInput
from fitcheck.records.appending import held_head, plain_head
from fitcheck.records.atomic_files import whole_path
from fitcheck.records.errors import StoreDamaged, StoreError, StoreFull, StoreTooNew, translated
from fitcheck.records.exchange import portable
from fitcheck.records.exchange.portable import record_of
from fitcheck.records.migrations import REVISIONS
from fitcheck.records.record import EMPTY, GENESIS, Head, Record
from fitcheck.records.store import Store, open_store
from fitcheck.records.tables import (
    FOLLOWING,
    VERSION_TABLE,
    access_keys,
    contents,
    idempotency,
    key_uses,
    metadata,
    records,
    records_of,
)
from fitcheck.records.tables import head as head_table
from fitcheck.records.verification import verify
from rules.lazy import lazily

if TYPE_CHECKING:
    from fitcheck.records.migrations.upgrade import upgrade
else:
    upgrade = lazily("fitcheck.records.migrations.upgrade", "upgrade")

__all__ = [
    "OTHERS",
    "Entry",
    "NotABackup",
    "Other",
    "StoreNotEmpty",
    "back_up",
    "chained",
    "entries_in",
    "entries_of",
    "head_in",
    "restore",
    "write_entries",
]

_SQLITE: Final = b"SQLite format 3\x00"
_AT_ONCE: Final = 200


class StoreNotEmpty(StoreError):
    """There are records in the store that a backup was to be restored into."""


def back_up(store: Store, file: Path) -> Head:
    """Write a backup of ``store`` to ``file``, whose older content stays until the new one is proved; its head.

    Others may use the store meanwhile; the backup has all that was kept before this began. Raises StoreError,
    StoreDamaged where what was written is not a whole chain, and OSError.
    """
    if store.file is not None and file.exists() and file.samefile(store.file):
        raise StoreError("The backup would take the place of the store itself. Name another file.")
    with whole_path(file) as partial:
        if store.file is not None:
            try:
                _copy(store.file, partial)
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
        with store.writing() as connection:
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
    """Copy a SQLite database as it stands at one moment, even while others write to it."""
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


OTHERS: Final[Mapping[str, sa.Table]] = {table.name: table for table in (idempotency, access_keys, key_uses)}
"""The tables besides those of the records, each after what it points to."""

_LATER_COLUMNS: Final[Mapping[str, dict[str, Any]]] = {access_keys.name: {"holder": "device", "until": None}}
"""Columns that backups of an older schema lack, with what they have then."""

_FORMAT: Final = 1
_ENTRIES_AT_ONCE: Final = 200
_HEAD: Final = "head"
_END: Final = "end"


class NotABackup(StoreError):
    """The file is no backup, or not a whole one."""


class Other(NamedTuple):
    """A row of another table than the records'."""

    table: str
    row: dict[str, Any]


Entry = Record | Other


def entries_of(connection: sa.Connection) -> Iterator[Entry]:
    """Everything of the store of that snapshot, a few hundred at a time."""
    number = 0
    while page := records_of(connection.execute(FOLLOWING, {"after": number, "most": _ENTRIES_AT_ONCE})):
        yield from page
        number = page[-1].number
    reading = connection.execution_options(stream_results=True, yield_per=_ENTRIES_AT_ONCE)
    for name, table in OTHERS.items():
        for row in reading.execute(sa.select(table).order_by(*table.primary_key.columns)):
            yield Other(name, row._asdict())


def chained(entries: Iterator[Entry], head: Head) -> Iterator[Entry]:
    """The same entries; raises NotABackup where the records do not follow one another up to ``head``."""
    number, digest = 0, GENESIS
    for entry in entries:
        if isinstance(entry, Record):
            if (entry.number, entry.previous) != (number + 1, digest):
                raise NotABackup(f"Record {entry.number} does not follow record {number}.")
            number, digest = entry.number, entry.digest
        yield entry
    if Head(number, digest) != head:
        raise NotABackup(f"The records end with number {number}, the chain with {head.number}.")


def write_entries(connection: sa.Connection, stream: BinaryIO) -> None:
    """Write the portable file of the store of that snapshot."""
    head = plain_head(connection)
    sealed = hashlib.sha256()

    def put(line: bytes) -> None:
        sealed.update(line)
        stream.write(line)

    put(_own(_HEAD, format=_FORMAT, schema=REVISIONS[-1], number=head.number, digest=head.digest))
    for entry in entries_of(connection):
        put(portable.line_of(entry) if isinstance(entry, Record) else _own(entry.table, row=entry.row))
    stream.write(_own(_END, digest="sha256:" + sealed.hexdigest()))


def head_in(stream: BinaryIO) -> Head:
    """The head that the portable file begins with. Raises NotABackup, and StoreTooNew for a newer fitcheck's."""
    try:
        begin = _object(stream.readline(portable.LONGEST_LINE), 1)
        form, schema, head = begin["format"], begin["schema"], Head(begin["number"], begin["digest"])
    except KeyError:
        form = None
    if form is None or begin.get(portable.BACKUP_KEY) != _HEAD:
        raise NotABackup("This is no backup of fitcheck's records.")
    if form != _FORMAT or schema not in REVISIONS:
        raise StoreTooNew("A newer fitcheck wrote this backup. Use a newer fitcheck.")
    return head


def entries_in(stream: BinaryIO) -> Iterator[Entry]:
    """The entries of the portable file, from its begin to its end.

    Raises NotABackup where a record does not fit its digest, and at the end where the file is not whole.
    """
    sealed = hashlib.sha256(stream.readline(portable.LONGEST_LINE))
    number = 1
    while line := stream.readline(portable.LONGEST_LINE):
        number += 1
        found = _object(line, number)
        kind = found.get(portable.BACKUP_KEY)
        if kind == _END:
            if found.get("digest") != "sha256:" + sealed.hexdigest() or stream.read(1):
                raise NotABackup("This backup was changed after it was written.")
            return
        sealed.update(line)
        yield _record(found, number) if kind is None else _other(kind, found, number)
    raise NotABackup(f"This backup is not whole: it breaks off after line {number}.")


def _record(found: dict[str, Any], number: int) -> Record:
    try:
        return record_of(found)
    except BadInput as error:
        raise NotABackup(f"Line {number} of this backup is wrong: {error.problems[0]}") from error


def _other(kind: object, found: dict[str, Any], number: int) -> Other:
    row = found.get("row")
    table = OTHERS.get(str(kind))
    if table is None or not isinstance(row, dict):
        raise NotABackup(f"Line {number} of this backup is none that fitcheck writes.")
    # An older fitcheck wrote no columns that came later; each of these has a default.
    row = _LATER_COLUMNS.get(table.name, {}) | row
    if set(row) != set(table.c.keys()):
        raise NotABackup(f"Line {number} of this backup is none that fitcheck writes.")
    return Other(table.name, row)


def _own(kind: str, **values: Any) -> bytes:
    return json.dumps({portable.BACKUP_KEY: kind, **values}, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"


def _object(line: bytes, number: int) -> dict[str, Any]:
    try:
        found = json.loads(line)
    except ValueError:
        found = None
    if not isinstance(found, dict):
        raise NotABackup(f"Line {number} of this backup is no JSON object: it is not whole, or no backup.")
    return found
