"""Records, their contents, the head of the chain, idempotency keys, and the triggers that guard them."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

_TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
_NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
_PERSONAL = ("person", "assessor", "horse", "foot", "visit", "stage", "decision", "fitted")
_SEALED = (
    "number",
    "id",
    "kind",
    "created",
    "rulebook_version",
    "rulebook_digest",
    "about",
    "source",
    "content_digest",
    "previous",
    "digest",
)


def upgrade() -> None:
    """Make the tables and their guards."""
    op.create_table(
        "records",
        sa.Column("number", _NUMBER, primary_key=True, autoincrement=False),
        sa.Column("id", _TEXT, nullable=False),
        sa.Column("kind", _TEXT, nullable=False),
        sa.Column("created", _TEXT, nullable=False),
        *(sa.Column(name, _TEXT) for name in _PERSONAL),
        sa.Column("rulebook_version", _TEXT, nullable=False),
        sa.Column("rulebook_digest", _TEXT, nullable=False),
        sa.Column("about", _TEXT),
        sa.Column("source", _TEXT),
        sa.Column("content_digest", _TEXT, nullable=False),
        sa.Column("previous", _TEXT, nullable=False),
        sa.Column("digest", _TEXT, nullable=False),
    )
    op.create_index("records_id", "records", ["id"], unique=True)
    for name in ("person", "assessor", "horse", "visit", "decision", "kind"):
        op.create_index(f"records_{name}", "records", [name, "number"])
    for name in ("created", "about"):
        op.create_index(f"records_{name}", "records", [name])
    op.create_table(
        "contents",
        sa.Column("number", _NUMBER, sa.ForeignKey("records.number"), primary_key=True, autoincrement=False),
        sa.Column("salt", _TEXT, nullable=False),
        sa.Column("received", sa.LargeBinary, nullable=False),
        sa.Column("answer", sa.LargeBinary, nullable=False),
    )
    head = op.create_table(
        "head",
        sa.Column("one", sa.Integer, sa.CheckConstraint("one = 1"), primary_key=True, autoincrement=False),
        sa.Column("number", _NUMBER, nullable=False),
        sa.Column("digest", _TEXT, nullable=False),
    )
    op.bulk_insert(head, [{"one": 1, "number": 0, "digest": "sha256:" + "0" * 64}])
    op.create_table(
        "idempotency",
        sa.Column("scope", _TEXT, primary_key=True),
        sa.Column("key", _TEXT, primary_key=True),
        sa.Column("body_digest", _TEXT, nullable=False),
        sa.Column("number", _NUMBER, sa.ForeignKey("records.number"), nullable=False),
        sa.Column("created", _TEXT, nullable=False),
    )
    op.create_index("idempotency_number", "idempotency", ["number"])
    for statement in sqlite_guards() if op.get_bind().dialect.name == "sqlite" else postgres_guards():
        op.execute(statement)


def _erases(distinct: str) -> str:
    """An update that leaves what is sealed as it is and clears what is personal."""
    same = " AND ".join(f"NEW.{name} IS {distinct} OLD.{name}" for name in _SEALED)
    return same + " AND " + " AND ".join(f"NEW.{name} IS NULL" for name in _PERSONAL)


def _cleared() -> str:
    """The record of a content has been cleared."""
    empty = " AND ".join(f"{name} IS NULL" for name in _PERSONAL)
    return f"EXISTS (SELECT 1 FROM records WHERE number = OLD.number AND {empty})"  # noqa: S608  (names from above)


def sqlite_guards() -> list[str]:
    """The statements that make the triggers."""

    def guard(name: str, when: str, table: str, allowed: str | None, say: str) -> str:
        unless = "" if allowed is None else f" WHEN NOT ({allowed})"
        return f"CREATE TRIGGER {name} BEFORE {when} ON {table}{unless} BEGIN SELECT RAISE(ABORT, '{say}'); END"

    return [
        guard("records_never_changed", "UPDATE", "records", _erases(""), "a record is never changed"),
        guard("records_never_removed", "DELETE", "records", None, "a record is never removed"),
        guard("contents_never_changed", "UPDATE", "contents", None, "a content is never changed"),
        guard("contents_only_erased", "DELETE", "contents", _cleared(), "a content goes only with an erasure"),
        guard("head_never_back", "UPDATE", "head", "NEW.number >= OLD.number", "the head never goes back"),
        guard("head_never_removed", "DELETE", "head", None, "the head is never removed"),
    ]


def postgres_guards() -> list[str]:
    """The statements that make the functions and their triggers, each trigger after its function."""

    def guard(name: str, when: str, table: str, allowed: str | None, say: str) -> list[str]:
        row = "OLD" if when == "DELETE" else "NEW"
        check = "" if allowed is None else f"IF {allowed} THEN RETURN {row}; END IF; "
        body = f"BEGIN {check}RAISE EXCEPTION '{say}'; END"
        each = "STATEMENT" if when == "TRUNCATE" else "ROW"
        return [
            f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $${body}$$",
            f"CREATE TRIGGER {name} BEFORE {when} ON {table} FOR EACH {each} EXECUTE FUNCTION {name}()",
        ]

    return [
        *guard("records_never_changed", "UPDATE", "records", _erases("NOT DISTINCT FROM"), "a record is never changed"),
        *guard("records_never_removed", "DELETE", "records", None, "a record is never removed"),
        *guard("records_never_emptied", "TRUNCATE", "records", None, "a record is never removed"),
        *guard("contents_never_changed", "UPDATE", "contents", None, "a content is never changed"),
        *guard("contents_only_erased", "DELETE", "contents", _cleared(), "a content goes only with an erasure"),
        *guard("contents_never_emptied", "TRUNCATE", "contents", None, "a content goes only with an erasure"),
        *guard("head_never_back", "UPDATE", "head", "NEW.number >= OLD.number", "the head never goes back"),
        *guard("head_never_removed", "DELETE", "head", None, "the head is never removed"),
        *guard("head_never_emptied", "TRUNCATE", "head", None, "the head is never removed"),
    ]
