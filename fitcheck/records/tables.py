"""The tables as the program sees them, the statements that read records, and rows to records.

`migrations` makes the tables, and a test holds the two together.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Iterator
from typing import Any, Final, TypeVar

import sqlalchemy as sa
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.compiler import SQLCompiler
from sqlalchemy.sql.functions import FunctionElement

from fitcheck.records.record import Idempotency, Record

__all__ = [
    "BY_ID",
    "BY_IDS",
    "BY_KEY",
    "BY_UUID",
    "CORRECTIONS",
    "DAY",
    "ERASED_REQUEST",
    "FOLLOWING",
    "HAND_MARKS",
    "HEAD",
    "KNOWN_IDS",
    "LATER",
    "LOCKED_HEAD",
    "ORIGINS",
    "OVERRIDES",
    "PERSONAL",
    "TEXT",
    "VERSION_TABLE",
    "WITH_CONTENT",
    "access_keys",
    "beside_content",
    "contents",
    "desk_sessions",
    "erased_requests",
    "head",
    "idempotency",
    "is_uuid",
    "key_of",
    "key_uses",
    "metadata",
    "origins",
    "parts_of",
    "records",
    "records_of",
    "request_digest",
    "request_seal",
    "subscriptions",
    "with_content",
    "without_index",
]

_Value = TypeVar("_Value")

VERSION_TABLE: Final = "records_schema"
"""Where Alembic notes the schema: not by its usual name, which another program in the same database may use."""

_EXTERNAL: Final = ("external_system", "external_id")
PERSONAL: Final = ("person", "assessor", "horse", "foot", "visit", "stage", "decision", "fitted", *_EXTERNAL)
"""The columns of a record that are sealed with its content and that an erasure clears."""
LATER: Final = frozenset(_EXTERNAL)
"""Those that there were not from the beginning: where nothing stands in one, it is as if there were none."""

# Compared byte by byte on both databases, whatever language the PostgreSQL database was made for.
TEXT: Final = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
_NUMBER: Final = sa.BigInteger().with_variant(sa.Integer(), "sqlite")

metadata: Final = sa.MetaData()

records: Final = sa.Table(
    "records",
    metadata,
    sa.Column("number", _NUMBER, primary_key=True, autoincrement=False),
    sa.Column("id", TEXT, nullable=False),
    sa.Column("kind", TEXT, nullable=False),
    sa.Column("created", TEXT, nullable=False),
    *(sa.Column(name, TEXT) for name in PERSONAL if name not in LATER),
    sa.Column("rulebook_version", TEXT, nullable=False),
    sa.Column("rulebook_digest", TEXT, nullable=False),
    sa.Column("about", TEXT),
    sa.Column("source", TEXT),
    sa.Column("content_digest", TEXT, nullable=False),
    sa.Column("previous", TEXT, nullable=False),
    sa.Column("digest", TEXT, nullable=False),
    *(sa.Column(name, TEXT) for name in _EXTERNAL),
    sa.Index("records_external", "external_id", "external_system"),
    sa.Index("records_external_system", "external_system", "number"),
    sa.Index("records_id", "id", unique=True),
    sa.Index("records_person", "person", "number"),
    sa.Index("records_assessor", "assessor", "number"),
    sa.Index("records_horse", "horse", "number"),
    sa.Index("records_visit", "visit", "number"),
    sa.Index("records_visit_horse", "visit", "horse"),
    sa.Index("records_decision", "decision", "number"),
    sa.Index("records_kind", "kind", "number"),
    sa.Index("records_created", "created"),
    sa.Index("records_about", "about"),
)

contents: Final = sa.Table(
    "contents",
    metadata,
    sa.Column("number", _NUMBER, sa.ForeignKey("records.number"), primary_key=True, autoincrement=False),
    sa.Column("salt", TEXT, nullable=False),
    sa.Column("received", sa.LargeBinary, nullable=False),
    sa.Column("answer", sa.LargeBinary, nullable=False),
)

head: Final = sa.Table(
    "head",
    metadata,
    sa.Column("one", sa.Integer, sa.CheckConstraint("one = 1"), primary_key=True, autoincrement=False),
    sa.Column("number", _NUMBER, nullable=False),
    sa.Column("digest", TEXT, nullable=False),
)

idempotency: Final = sa.Table(
    "idempotency",
    metadata,
    sa.Column("scope", TEXT, primary_key=True),
    sa.Column("key", TEXT, primary_key=True),
    sa.Column("body_digest", TEXT, nullable=False),
    sa.Column("number", _NUMBER, sa.ForeignKey("records.number"), nullable=False),
    sa.Column("created", TEXT, nullable=False),
    sa.Column("seal", TEXT),
    sa.Index("idempotency_number", "number"),
    sa.Index("idempotency_key", "key"),
)

origins: Final = sa.Table(
    "origins",
    metadata,
    sa.Column("number", _NUMBER, sa.ForeignKey("records.number"), primary_key=True, autoincrement=False),
    sa.Column("origin", TEXT, nullable=False),
)
"""Which imported records come from one store: they have one origin."""

erased_requests: Final = sa.Table(
    "erased_requests",
    metadata,
    sa.Column("digest", TEXT, primary_key=True),
)
"""Digests of requests whose records were erased, so that sending them again keeps nothing anew."""

access_keys: Final = sa.Table(
    "access_keys",
    metadata,
    sa.Column("id", TEXT, primary_key=True),
    sa.Column("name", TEXT, nullable=False),
    sa.Column("digest", TEXT, nullable=False),
    sa.Column("scopes", TEXT, nullable=False),
    sa.Column("created", TEXT, nullable=False),
    sa.Column("revoked", TEXT),
    sa.Column("last_used", TEXT),
    sa.Column("holder", TEXT, nullable=False, server_default="device"),
    sa.Column("until", TEXT),
)

desk_sessions: Final = sa.Table(
    "desk_sessions",
    metadata,
    sa.Column("digest", TEXT, primary_key=True),
    sa.Column("key", TEXT, sa.ForeignKey("access_keys.id"), nullable=False),
    sa.Column("created", TEXT, nullable=False),
    sa.Column("last_seen", TEXT, nullable=False),
)

key_uses: Final = sa.Table(
    "key_uses",
    metadata,
    sa.Column("number", _NUMBER, primary_key=True, autoincrement=True),
    sa.Column("key", TEXT, sa.ForeignKey("access_keys.id"), nullable=False),
    sa.Column("at", TEXT, nullable=False),
    sa.Column("request", TEXT, nullable=False),
    sa.Column("method", TEXT, nullable=False),
    sa.Column("route", TEXT, nullable=False),
    sa.Column("status", sa.Integer, nullable=False),
    sa.Index("key_uses_at", "at"),
    sa.Index("key_uses_key", "key", "at"),
)

subscriptions: Final = sa.Table(
    "subscriptions",
    metadata,
    sa.Column("id", TEXT, primary_key=True),
    sa.Column("key", TEXT, sa.ForeignKey("access_keys.id")),
    sa.Column("created", TEXT, nullable=False),
    sa.Column("url", TEXT, nullable=False),
    sa.Column("secret", TEXT, nullable=False),
    sa.Column("types", TEXT, nullable=False),
    sa.Column("number", _NUMBER, nullable=False),
    sa.Column("mark", TEXT, nullable=False),
    sa.Column("delivered", TEXT),
    sa.Column("attempts", sa.Integer, nullable=False),
    sa.Column("failing_since", TEXT),
    sa.Column("next_attempt", TEXT),
    sa.Column("last_error", TEXT),
    sa.Column("disabled", TEXT),
    sa.Column("claimed_by", TEXT),
    sa.Column("claimed_until", TEXT),
)
"""Where events are sent, and how far each has come; no event waits here."""

DAY: Final = sa.func.coalesce(records.c.fitted, records.c.created)
"""The day of the fitting; the time of keeping of what does not say so. Both begin with the day."""
sa.Index("records_day", DAY)


class _WithoutIndex(FunctionElement[Any]):
    """A column in a condition that is to be no way to the records."""

    inherit_cache = True


@compiles(_WithoutIndex)
def _as_it_is(element: _WithoutIndex, compiler: SQLCompiler, **options: Any) -> str:
    return compiler.process(element.clauses, **options)


@compiles(_WithoutIndex, "sqlite")
def _of_no_index(element: _WithoutIndex, compiler: SQLCompiler, **options: Any) -> str:
    # https://www.sqlite.org/optoverview.html, "Disqualifying WHERE Clause Terms Using Unary +"
    return f"+{compiler.process(element.clauses, **options)}"


def without_index(column: sa.ColumnElement[_Value]) -> sa.ColumnElement[_Value]:
    """``column``, where SQLite is not to take its index: PostgreSQL knows by itself how much that would lead to."""
    element = _WithoutIndex(column)
    element.type = column.type
    return element


_KIND: Final = without_index(records.c.kind)


def beside_content(*bounds: sa.ColumnElement[bool]) -> sa.ColumnElement[bool]:
    """How a record and its content belong together; ``bounds`` of the content's number are those of the record's.

    PostgreSQL goes through both in the order of numbers, and through all contents before the first record wanted where
    their numbers have no bounds of their own: 500 amid 32,000 took 6.8 ms, and 0.7 so.
    """
    return sa.and_(contents.c.number == records.c.number, *bounds)


def with_content(*bounds: sa.ColumnElement[bool]) -> sa.Select[Any]:
    """Every record with its content, to be narrowed down; ``bounds`` as :func:`beside_content` has them."""
    content = (contents.c.salt, contents.c.received, contents.c.answer)
    return sa.select(records, *content).outerjoin_from(records, contents, beside_content(*bounds))


WITH_CONTENT: Final = with_content()
"""Every record with its content, to be narrowed down."""

HEAD: Final = sa.select(head.c.number, head.c.digest)
LOCKED_HEAD: Final = HEAD.with_for_update()
"""The head, for a transaction that is to write the next; SQLite's has the whole file already."""
BY_ID: Final = WITH_CONTENT.where(records.c.id == sa.bindparam("wanted_id"))
FOLLOWING: Final = (
    with_content(contents.c.number > sa.bindparam("after"))
    .where(records.c.number > sa.bindparam("after"))
    .order_by(records.c.number)
    .limit(sa.bindparam("most", type_=sa.Integer))
)
_WITH_REQUEST: Final = WITH_CONTENT.add_columns(idempotency.c.body_digest).join(
    idempotency, idempotency.c.number == records.c.number
)
BY_KEY: Final = _WITH_REQUEST.where(
    idempotency.c.scope == sa.bindparam("wanted_scope"), idempotency.c.key == sa.bindparam("wanted_key")
)
BY_UUID: Final = (
    _WITH_REQUEST.where(
        idempotency.c.key == sa.bindparam("wanted_key"), idempotency.c.body_digest == sa.bindparam("wanted_body")
    )
    .order_by(idempotency.c.number)
    .limit(1)
)
"""The first record that a request of this key and body kept, from any access key."""

_IDS: Final[sa.BindParameter[Any]] = sa.bindparam("ids", expanding=True)
_IDS_AT_ONCE: Final = 500
BY_IDS: Final = WITH_CONTENT.where(records.c.id.in_(_IDS)).order_by(records.c.number)
KNOWN_IDS: Final = sa.select(records.c.id).where(records.c.id.in_(_IDS))
CORRECTIONS: Final = (
    sa.select(records.c.about, records.c.id)
    .where(records.c.about.in_(_IDS), _KIND == "assessment")
    .order_by(records.c.number)
)
"""The id of each assessment that corrects one of the ids, after the id that it corrects."""
ORIGINS: Final = (
    sa.select(records.c.id, origins.c.origin)
    .join_from(records, origins, origins.c.number == records.c.number)
    .where(records.c.id.in_(_IDS))
)
"""The origin of each imported record of the ids."""
OVERRIDES: Final = WITH_CONTENT.where(records.c.about.in_(_IDS), _KIND == "override").order_by(records.c.number)
HAND_MARKS: Final = WITH_CONTENT.where(records.c.about.in_(_IDS), _KIND == "hand_marks").order_by(records.c.number)

ERASED_REQUEST: Final = sa.select(erased_requests.c.digest).where(
    erased_requests.c.digest == sa.bindparam("wanted_digest")
)

_UUID: Final = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}", re.ASCII | re.IGNORECASE)


def parts_of(ids: Iterable[str], size: int = _IDS_AT_ONCE) -> Iterator[list[str]]:
    """The ids, each once, in parts of at most ``size`` for the parameter ``ids`` of a statement."""
    distinct_ids = list(dict.fromkeys(ids))
    for start in range(0, len(distinct_ids), size):
        yield distinct_ids[start : start + size]


def key_of(key: Idempotency) -> dict[str, str]:
    """The parameters of ``BY_KEY``."""
    return {"wanted_scope": key.scope, "wanted_key": key.key}


def is_uuid(key: str) -> bool:
    """Whether an idempotency key is a UUID, and so names its request from any access key: no two of them are alike."""
    return _UUID.fullmatch(key) is not None


def request_digest(scope: str, key: str, body_digest: str) -> str:
    """The digest of a request by which it is known again when its key is no longer there."""
    scope = "" if is_uuid(key) else scope
    return "sha256:" + hashlib.sha256(json.dumps([scope, key, body_digest]).encode()).hexdigest()


def request_seal(scope: str, key: str, body_digest: str, record_digest: str) -> str:
    """The digest that ties a request to the record that it kept."""
    return "sha256:" + hashlib.sha256(json.dumps([scope, key, body_digest, record_digest]).encode()).hexdigest()


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
