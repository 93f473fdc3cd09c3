"""Everything of a store in the order in which another can take it in, and the portable file of it.

The file has one JSON object in each line: a head, every record just as in an export, what belongs to the store besides
(idempotency keys, access keys as their digests, uses of keys), and an end with the digest of all bytes before it, so
that a file that was cut off or changed is known as such.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from typing import Any, BinaryIO, Final, NamedTuple

import sqlalchemy as sa

from fitcheck.errors import BadInput
from fitcheck.records import ndjson
from fitcheck.records.appending import plain_head
from fitcheck.records.errors import StoreError, StoreTooNew
from fitcheck.records.migrations import REVISIONS
from fitcheck.records.portable import record_of
from fitcheck.records.record import GENESIS, Head, Record
from fitcheck.records.selection import FOLLOWING, records_of
from fitcheck.records.tables import access_keys, idempotency, key_uses

__all__ = ["OTHERS", "Entry", "NotABackup", "Other", "chained", "entries_in", "entries_of", "head_in", "write_entries"]

OTHERS: Final[Mapping[str, sa.Table]] = {table.name: table for table in (idempotency, access_keys, key_uses)}
"""The tables besides those of the records, each after what it points to."""

_FORMAT: Final = 1
_AT_ONCE: Final = 200
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
    while page := records_of(connection.execute(FOLLOWING, {"after": number, "most": _AT_ONCE})):
        yield from page
        number = page[-1].number
    reading = connection.execution_options(stream_results=True, yield_per=_AT_ONCE)
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
        put(ndjson.line_of(entry) if isinstance(entry, Record) else _own(entry.table, row=entry.row))
    stream.write(_own(_END, digest="sha256:" + sealed.hexdigest()))


def head_in(stream: BinaryIO) -> Head:
    """The head that the portable file begins with. Raises NotABackup, and StoreTooNew for a newer fitcheck's."""
    try:
        begin = _object(stream.readline(ndjson.LONGEST_LINE), 1)
        form, schema, head = begin["format"], begin["schema"], Head(begin["number"], begin["digest"])
    except KeyError:
        form = None
    if form is None or begin.get(ndjson.BACKUP_KEY) != _HEAD:
        raise NotABackup("This is no backup of fitcheck's records.")
    if form != _FORMAT or schema not in REVISIONS:
        raise StoreTooNew("A newer fitcheck wrote this backup. Use a newer fitcheck.")
    return head


def entries_in(stream: BinaryIO) -> Iterator[Entry]:
    """The entries of the portable file, from its begin to its end.

    Raises NotABackup where a record does not fit its digest, and at the end where the file is not whole.
    """
    sealed = hashlib.sha256(stream.readline(ndjson.LONGEST_LINE))
    number = 1
    while line := stream.readline(ndjson.LONGEST_LINE):
        number += 1
        found = _object(line, number)
        kind = found.get(ndjson.BACKUP_KEY)
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
    if table is None or not isinstance(row, dict) or set(row) != set(table.c.keys()):
        raise NotABackup(f"Line {number} of this backup is none that fitcheck writes.")
    return Other(table.name, row)


def _own(kind: str, **values: Any) -> bytes:
    return json.dumps({ndjson.BACKUP_KEY: kind, **values}, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"


def _object(line: bytes, number: int) -> dict[str, Any]:
    try:
        found = json.loads(line)
    except ValueError:
        found = None
    if not isinstance(found, dict):
        raise NotABackup(f"Line {number} of this backup is no JSON object: it is not whole, or no backup.")
    return found
