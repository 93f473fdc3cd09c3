"""The triggers that keep records from being changed: whether all of them are there, on, and as they were made."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

import sqlalchemy as sa

from rules.lazy import lazily

if TYPE_CHECKING:
    from fitcheck.records.migrations.versions.v0001_records import postgres_guards, sqlite_guards
    from fitcheck.records.migrations.versions.v0005_external import external_postgres_guards, external_sqlite_guards
else:  # Alembic takes its time to load, and only a check needs it
    postgres_guards = lazily("fitcheck.records.migrations.versions.v0001_records", "postgres_guards")
    sqlite_guards = lazily("fitcheck.records.migrations.versions.v0001_records", "sqlite_guards")
    external_postgres_guards = lazily("fitcheck.records.migrations.versions.v0005_external", "external_postgres_guards")
    external_sqlite_guards = lazily("fitcheck.records.migrations.versions.v0005_external", "external_sqlite_guards")

__all__ = ["faulty_guards"]

_NAME: Final = re.compile(r"CREATE TRIGGER (\w+) ")
_BODY: Final = re.compile(r"\$\$(.*)\$\$", re.DOTALL)
_OF_SQLITE: Final = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
_OF_POSTGRES: Final = sa.text(
    "SELECT tgname, pg_get_triggerdef(pg_trigger.oid, true), prosrc FROM pg_trigger "
    "JOIN pg_proc ON pg_proc.oid = tgfoid WHERE NOT tgisinternal AND tgenabled IN ('O', 'A') "
    "AND tgrelid IN (to_regclass('records'), to_regclass('contents'), to_regclass('head'))"
)
_SCHEMA: Final = re.compile(r"(?<= ON )(?:\w+|\"[^\"]+\")\.(?=\w)")


def faulty_guards(connection: sa.Connection) -> Iterator[str]:
    """The name of each trigger that is missing, switched off, or not the one that was made."""
    there: dict[str, tuple[str, ...]]
    if connection.dialect.name == "sqlite":
        there = {name: (sql,) for name, sql in connection.exec_driver_sql(_OF_SQLITE)}
    else:
        there = {
            name: (_SCHEMA.sub("", definition), body) for name, definition, body in connection.execute(_OF_POSTGRES)
        }
    for name, made in _made(connection.dialect.name).items():
        if there.get(name) != made:
            yield name


def _made(database: str) -> dict[str, tuple[str, ...]]:
    """Each trigger's definition, and on PostgreSQL the body of its function, by its name."""
    # The later ones took the place of those of the same name.
    if database == "sqlite":
        return {_name(statement): (statement,) for statement in (*sqlite_guards(), *external_sqlite_guards())}
    guards = (*postgres_guards(), *external_postgres_guards())
    functions, triggers = guards[::2], guards[1::2]
    return {
        _name(trigger): (trigger, _BODY.search(function)[1])  # type: ignore[index]
        for function, trigger in zip(functions, triggers, strict=True)
    }


def _name(statement: str) -> str:
    found = _NAME.match(statement)
    return "" if found is None else found[1]
