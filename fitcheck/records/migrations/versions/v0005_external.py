"""The key that another system has for a record, to be found by, and guards that know of it."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

_TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
_ADDED = ("external_system", "external_id")
_PERSONAL = ("person", "assessor", "horse", "foot", "visit", "stage", "decision", "fitted", *_ADDED)
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
    """Add the columns and their indexes, and put the guards that name columns in the place of the older ones."""
    for name in _ADDED:
        op.add_column("records", sa.Column(name, _TEXT))
    op.create_index("records_external", "records", ["external_id", "external_system"])
    op.create_index("records_external_system", "records", ["external_system", "number"])
    if op.get_bind().dialect.name == "sqlite":
        for name in ("records_never_changed", "contents_only_erased"):
            op.execute(f"DROP TRIGGER {name}")
        for statement in external_sqlite_guards():
            op.execute(statement)
    else:
        for function in external_postgres_guards()[::2]:
            op.execute(function)


def _erases(distinct: str) -> str:
    """An update that leaves what is sealed as it is and clears what is personal."""
    same = " AND ".join(f"NEW.{name} IS {distinct} OLD.{name}" for name in _SEALED)
    return same + " AND " + " AND ".join(f"NEW.{name} IS NULL" for name in _PERSONAL)


def _cleared() -> str:
    """The record of a content has been cleared."""
    empty = " AND ".join(f"{name} IS NULL" for name in _PERSONAL)
    return f"EXISTS (SELECT 1 FROM records WHERE number = OLD.number AND {empty})"  # noqa: S608  (names from above)


def external_sqlite_guards() -> list[str]:
    """The statements that make the triggers that name columns."""

    def guard(name: str, when: str, table: str, allowed: str, say: str) -> str:
        return (
            f"CREATE TRIGGER {name} BEFORE {when} ON {table} WHEN NOT ({allowed}) "
            f"BEGIN SELECT RAISE(ABORT, '{say}'); END"
        )

    return [
        guard("records_never_changed", "UPDATE", "records", _erases(""), "a record is never changed"),
        guard("contents_only_erased", "DELETE", "contents", _cleared(), "a content goes only with an erasure"),
    ]


def external_postgres_guards() -> list[str]:
    """The statements that make the functions of the same triggers, each trigger as it stands after its function."""

    def guard(name: str, when: str, table: str, allowed: str, say: str) -> list[str]:
        row = "OLD" if when == "DELETE" else "NEW"
        body = f"BEGIN IF {allowed} THEN RETURN {row}; END IF; RAISE EXCEPTION '{say}'; END"
        return [
            f"CREATE OR REPLACE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $${body}$$",
            f"CREATE TRIGGER {name} BEFORE {when} ON {table} FOR EACH ROW EXECUTE FUNCTION {name}()",
        ]

    return [
        *guard("records_never_changed", "UPDATE", "records", _erases("NOT DISTINCT FROM"), "a record is never changed"),
        *guard("contents_only_erased", "DELETE", "contents", _cleared(), "a content goes only with an erasure"),
    ]
