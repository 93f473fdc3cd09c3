"""The tables as the program sees them; `migrations` makes them, and a test holds the two together."""

from __future__ import annotations

from typing import Final

import sqlalchemy as sa

__all__ = [
    "PERSONAL",
    "VERSION_TABLE",
    "access_keys",
    "contents",
    "head",
    "idempotency",
    "key_uses",
    "metadata",
    "records",
]

VERSION_TABLE: Final = "records_schema"
"""Where Alembic notes the schema: not by its usual name, which another program in the same database may use."""

PERSONAL: Final = ("person", "assessor", "horse", "foot", "visit", "stage", "decision", "fitted")
"""The columns of a record that are sealed with its content and that an erasure clears."""

# Compared byte by byte on both databases, whatever language the PostgreSQL database was made for.
_TEXT: Final = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
_NUMBER: Final = sa.BigInteger().with_variant(sa.Integer(), "sqlite")

metadata: Final = sa.MetaData()

records: Final = sa.Table(
    "records",
    metadata,
    sa.Column("number", _NUMBER, primary_key=True, autoincrement=False),
    sa.Column("id", _TEXT, nullable=False),
    sa.Column("kind", _TEXT, nullable=False),
    sa.Column("created", _TEXT, nullable=False),
    *(sa.Column(name, _TEXT) for name in PERSONAL),
    sa.Column("rulebook_version", _TEXT, nullable=False),
    sa.Column("rulebook_digest", _TEXT, nullable=False),
    sa.Column("about", _TEXT),
    sa.Column("source", _TEXT),
    sa.Column("content_digest", _TEXT, nullable=False),
    sa.Column("previous", _TEXT, nullable=False),
    sa.Column("digest", _TEXT, nullable=False),
    sa.Index("records_id", "id", unique=True),
    sa.Index("records_person", "person", "number"),
    sa.Index("records_assessor", "assessor", "number"),
    sa.Index("records_horse", "horse", "number"),
    sa.Index("records_visit", "visit", "number"),
    sa.Index("records_decision", "decision", "number"),
    sa.Index("records_kind", "kind", "number"),
    sa.Index("records_created", "created"),
    sa.Index("records_about", "about"),
)

contents: Final = sa.Table(
    "contents",
    metadata,
    sa.Column("number", _NUMBER, sa.ForeignKey("records.number"), primary_key=True, autoincrement=False),
    sa.Column("salt", _TEXT, nullable=False),
    sa.Column("received", sa.LargeBinary, nullable=False),
    sa.Column("answer", sa.LargeBinary, nullable=False),
)

head: Final = sa.Table(
    "head",
    metadata,
    sa.Column("one", sa.Integer, sa.CheckConstraint("one = 1"), primary_key=True, autoincrement=False),
    sa.Column("number", _NUMBER, nullable=False),
    sa.Column("digest", _TEXT, nullable=False),
)

idempotency: Final = sa.Table(
    "idempotency",
    metadata,
    sa.Column("scope", _TEXT, primary_key=True),
    sa.Column("key", _TEXT, primary_key=True),
    sa.Column("body_digest", _TEXT, nullable=False),
    sa.Column("number", _NUMBER, sa.ForeignKey("records.number"), nullable=False),
    sa.Column("created", _TEXT, nullable=False),
    sa.Index("idempotency_number", "number"),
)

access_keys: Final = sa.Table(
    "access_keys",
    metadata,
    sa.Column("id", _TEXT, primary_key=True),
    sa.Column("name", _TEXT, nullable=False),
    sa.Column("digest", _TEXT, nullable=False),
    sa.Column("scopes", _TEXT, nullable=False),
    sa.Column("created", _TEXT, nullable=False),
    sa.Column("revoked", _TEXT),
    sa.Column("last_used", _TEXT),
)

key_uses: Final = sa.Table(
    "key_uses",
    metadata,
    sa.Column("number", _NUMBER, primary_key=True, autoincrement=True),
    sa.Column("key", _TEXT, sa.ForeignKey("access_keys.id"), nullable=False),
    sa.Column("at", _TEXT, nullable=False),
    sa.Column("request", _TEXT, nullable=False),
    sa.Column("method", _TEXT, nullable=False),
    sa.Column("route", _TEXT, nullable=False),
    sa.Column("status", sa.Integer, nullable=False),
    sa.Index("key_uses_at", "at"),
    sa.Index("key_uses_key", "key", "at"),
)
