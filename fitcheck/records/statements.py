"""Reading records: the statements, and rows to records."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, Final

import sqlalchemy as sa

from fitcheck.records.record import Idempotency, Record, RecordFilter
from fitcheck.records.tables import contents, records
from fitcheck.records.tables import head as head_table
from fitcheck.records.tables import idempotency as keys

__all__ = [
    "BY_ID",
    "BY_IDS",
    "BY_KEY",
    "CORRECTIONS",
    "FOLLOWING",
    "HEAD",
    "KNOWN_IDS",
    "LOCKED_HEAD",
    "OVERRIDES",
    "key_of",
    "parts_of",
    "records_of",
    "statement_for",
]

_WITH_CONTENT: Final = sa.select(records, contents.c.salt, contents.c.received, contents.c.answer).outerjoin_from(
    records, contents
)
"""Every record with its content, to be narrowed down."""

HEAD: Final = sa.select(head_table.c.number, head_table.c.digest)
LOCKED_HEAD: Final = HEAD.with_for_update()
"""The head, for a transaction that is to write the next; SQLite's has the whole file already."""
BY_ID: Final = _WITH_CONTENT.where(records.c.id == sa.bindparam("wanted_id"))
FOLLOWING: Final = (
    _WITH_CONTENT.where(records.c.number > sa.bindparam("after"))
    .order_by(records.c.number)
    .limit(sa.bindparam("most", type_=sa.Integer))
)
BY_KEY: Final = (
    _WITH_CONTENT.add_columns(keys.c.body_digest)
    .join(keys, keys.c.number == records.c.number)
    .where(keys.c.scope == sa.bindparam("wanted_scope"), keys.c.key == sa.bindparam("wanted_key"))
)

_IDS: Final[sa.BindParameter[Any]] = sa.bindparam("ids", expanding=True)
_IDS_AT_ONCE: Final = 500
BY_IDS: Final = _WITH_CONTENT.where(records.c.id.in_(_IDS)).order_by(records.c.number)
KNOWN_IDS: Final = sa.select(records.c.id).where(records.c.id.in_(_IDS))
CORRECTIONS: Final = (
    sa.select(records.c.about, records.c.id)
    .where(records.c.about.in_(_IDS), records.c.kind == "assessment")
    .order_by(records.c.number)
)
"""The id of each assessment that corrects one of the ids, after the id that it corrects."""
OVERRIDES: Final = _WITH_CONTENT.where(records.c.about.in_(_IDS), records.c.kind == "override").order_by(
    records.c.number
)

_EQUAL: Final = ("person", "assessor", "horse", "foot", "visit", "decision", "kind")


def parts_of(ids: Iterable[str], size: int = _IDS_AT_ONCE) -> Iterator[list[str]]:
    """The ids, each once, in parts of at most ``size`` for the parameter ``ids`` of a statement."""
    distinct_ids = list(dict.fromkeys(ids))
    for start in range(0, len(distinct_ids), size):
        yield distinct_ids[start : start + size]


def key_of(idempotency: Idempotency) -> dict[str, str]:
    """The parameters of ``BY_KEY``."""
    return {"wanted_scope": idempotency.scope, "wanted_key": idempotency.key}


def statement_for(these: RecordFilter, *, after: int | None, newest_first: bool, limit: int) -> sa.Select[Any]:
    """The statement for at most ``limit`` of the records wanted, beyond the one of number ``after``."""
    statement = _WITH_CONTENT
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
