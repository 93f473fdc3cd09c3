"""What a backup consists of: records in their order, then the rows of the other tables; and the portable file of these.

Whatever reads a backup trusts nothing in it: what does not fit raises NotABackup.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable, Iterator, Mapping
from typing import Any, BinaryIO, Final, NamedTuple

import sqlalchemy as sa

from fitcheck.errors import BadInput
from fitcheck.records.appending import plain_head
from fitcheck.records.errors import StoreError, StoreTooNew
from fitcheck.records.exchange import portable
from fitcheck.records.exchange.portable import record_of
from fitcheck.records.migrations import REVISIONS
from fitcheck.records.practice_table import practice_sessions
from fitcheck.records.record import GENESIS, Head, Record
from fitcheck.records.tables import (
    FOLLOWING,
    access_keys,
    erased_requests,
    idempotency,
    key_uses,
    origins,
    records_of,
)

__all__ = [
    "OTHERS",
    "Entry",
    "NotABackup",
    "Other",
    "chained",
    "entries_in",
    "entries_of",
    "head_in",
    "required_values",
    "write_entries",
]

OTHERS: Final[Mapping[str, sa.Table]] = {
    table.name: table for table in (idempotency, access_keys, key_uses, origins, erased_requests, practice_sessions)
}
"""The tables besides those of the records, each after what it points to."""

_LATER: Final[Mapping[str, dict[str, Any]]] = {
    idempotency.name: {"seal": None},
    access_keys.name: {"holder": "device", "until": None},
}
"""Columns that backups of an older schema lack, with what they have then."""
_FORMAT: Final = 1
_MOST: Final = 2**53 - 1
_DIGEST: Final = re.compile(r"sha256:[0-9a-f]{64}")
_NOT_IN_TEXT: Final = re.compile("[\\0\ud800-\udfff]")
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


def write_entries(
    connection: sa.Connection, stream: BinaryIO, *, on_progress: Callable[[int, int], None] = lambda _done, _total: None
) -> None:
    """Write the portable file of that snapshot's store; ``on_progress`` is told how many records, and of how many."""
    head = plain_head(connection)
    sealed = hashlib.sha256()

    def put(line: bytes) -> None:
        sealed.update(line)
        stream.write(line)

    put(_own(_HEAD, format=_FORMAT, schema=REVISIONS[-1], number=head.number, digest=head.digest))
    for entry in entries_of(connection):
        put(portable.line_of(entry) if isinstance(entry, Record) else _own(entry.table, row=entry.row))
        if isinstance(entry, Record):
            on_progress(entry.number, head.number)
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
    if not (_is_number(head.number) and isinstance(head.digest, str) and _DIGEST.fullmatch(head.digest)):
        raise NotABackup("The first line of this backup names no head of a chain.")
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
    if table is not None and isinstance(row, dict):
        row = _LATER.get(table.name, {}) | row
    if table is None or not isinstance(row, dict) or set(row) != set(table.c.keys()):
        raise NotABackup(f"Line {number} of this backup is none that fitcheck writes.")
    required_values(table, row)
    return Other(table.name, row)


def required_values(table: sa.Table, row: Mapping[str, Any]) -> None:
    """Raise NotABackup where a value of ``row`` is none that its column can have."""
    for column in table.c:
        value = row[column.name]
        if value is None and column.nullable:
            continue
        if isinstance(column.type, sa.Text):
            right = isinstance(value, str) and not _NOT_IN_TEXT.search(value)
        elif isinstance(column.type, sa.LargeBinary):
            right = isinstance(value, bytes)
        else:
            right = _is_number(value)
        if not right:
            raise NotABackup(f"This backup has something in {table.name}.{column.name} that cannot stand there.")


def _is_number(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= _MOST


def _own(kind: str, **values: Any) -> bytes:
    return json.dumps({portable.BACKUP_KEY: kind, **values}, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"


def _object(line: bytes, number: int) -> dict[str, Any]:
    try:
        found = json.loads(line)
    except (ValueError, RecursionError):
        found = None
    if not isinstance(found, dict):
        raise NotABackup(f"Line {number} of this backup is no JSON object: it is not whole, or no backup.")
    return found
