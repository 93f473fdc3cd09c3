"""Reading records: the statements, and rows to records."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

import sqlalchemy as sa

from fitcheck.records.record import Idempotency, Record, RecordFilter
from fitcheck.records.tables import contents, records
from fitcheck.records.tables import head as head_table
from fitcheck.records.tables import idempotency as keys

__all__ = [
    "BY_ID",
    "BY_KEY",
    "BY_VISIT",
    "FOLLOWING",
    "HEAD",
    "LOCKED_HEAD",
    "WITH_CONTENT",
    "key_of",
    "records_of",
    "statement_for",
]

WITH_CONTENT: Final = sa.select(records, contents.c.salt, contents.c.received, contents.c.answer).outerjoin_from(
    records, contents
)
"""Every record with its content, to be narrowed down."""

HEAD: Final = sa.select(head_table.c.number, head_table.c.digest)
LOCKED_HEAD: Final = HEAD.with_for_update()
"""The head, for a transaction that is to write the next; SQLite's has the whole file already."""
BY_ID: Final = WITH_CONTENT.where(records.c.id == sa.bindparam("wanted_id"))
BY_VISIT: Final = WITH_CONTENT.where(records.c.visit == sa.bindparam("wanted_visit")).order_by(records.c.number)
FOLLOWING: Final = (
    WITH_CONTENT.where(records.c.number > sa.bindparam("after"))
    .order_by(records.c.number)
    .limit(sa.bindparam("most", type_=sa.Integer))
)
BY_KEY: Final = (
    WITH_CONTENT.add_columns(keys.c.body_digest)
    .join(keys, keys.c.number == records.c.number)
    .where(keys.c.scope == sa.bindparam("wanted_scope"), keys.c.key == sa.bindparam("wanted_key"))
)

_EQUAL: Final = ("person", "assessor", "horse", "foot", "visit", "decision", "kind")


def key_of(idempotency: Idempotency) -> dict[str, str]:
    """The parameters of ``BY_KEY``."""
    return {"wanted_scope": idempotency.scope, "wanted_key": idempotency.key}


def statement_for(these: RecordFilter, *, after: int | None, newest_first: bool, limit: int) -> sa.Select[Any]:
    """The statement for at most ``limit`` of the records wanted, beyond the one of number ``after``."""
    statement = WITH_CONTENT
    for name in _EQUAL:
        value = getattr(these, name)
        if value is not None:
            statement = statement.where(records.c[name] == value)
    if these.since is not None:
        statement = statement.where(records.c.created >= these.since)
    if these.until is not None:
        statement = statement.where(records.c.created < these.until)
    if not these.superseded:
        later = records.alias()
        statement = statement.where(~sa.exists().where(later.c.about == records.c.id, later.c.kind == "assessment"))
    number = records.c.number
    if after is not None:
        statement = statement.where(number < after if newest_first else number > after)
    return statement.order_by(number.desc() if newest_first else number).limit(limit)


def records_of(rows: Iterable[sa.Row[Any]]) -> list[Record]:
    """The records of rows that the statements here give."""
    return [_record(row._mapping) for row in rows]  # noqa: SLF001  (SQLAlchemy's public name)


def _record(row: sa.RowMapping) -> Record:
    erased = row["salt"] is None
    return Record(
        **{name: row[name] for name in _COLUMNS},
        salt=row["salt"],
        received=b"" if erased else row["received"],
        answer=b"" if erased else row["answer"],
        erased=erased,
    )


_COLUMNS: Final = tuple(records.c.keys())
