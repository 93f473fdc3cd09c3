"""Makes a store's tables, or brings older ones up to date, before it is used.

Several processes may open the same store at the same moment. They take turns: on SQLite by a lock on the file's folder,
on PostgreSQL by an advisory lock.
"""

from __future__ import annotations

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Final

import sqlalchemy as sa

from fitcheck.records.databases import outside, writing
from fitcheck.records.errors import NotAStore, StoreDamaged, StoreTooNew, StoreUnavailable
from fitcheck.records.migrations import REVISIONS
from fitcheck.records.opened_file import count_transaction, has_mark, set_mark
from fitcheck.records.tables import VERSION_TABLE, metadata
from rules.lazy import lazily

if TYPE_CHECKING:
    from fitcheck.records.migrations.upgrade import upgrade
else:  # Alembic takes its time to load, and most starts do not need it
    upgrade = lazily("fitcheck.records.migrations.upgrade", "upgrade")

__all__ = ["bring_up_to_date", "prepare"]

_OWNERS_FOLDER: Final = 0o700
_OWNERS_FILE: Final = 0o600
_ADVISORY_LOCK: Final = 0x6669_7463_6865_636B  # "fitcheck"


def prepare(engine: sa.Engine, file: Path | None, *, create: bool) -> None:
    """Bring the tables to the newest schema; ``file`` is SQLite's.

    Raises NotAStore where something else lies there, or nothing and ``create`` is False; StoreTooNew where a newer
    program made the tables; StoreUnavailable where the file's folder cannot be used.
    """
    if file is None:
        _prepare_postgres(engine, create=create)
        return
    try:
        _prepare_sqlite(engine, file, create=create)
    except OSError as error:
        raise StoreUnavailable("The folder of the record store cannot be made or used.") from error


def bring_up_to_date(engine: sa.Engine) -> None:
    """Bring the tables of a SQLite store that nobody else uses to the newest schema. Raises what ``prepare`` raises."""
    with engine.connect() as connection:
        found = _found(connection, alone=True)
    _may_go_on(found, create=False)
    if found != REVISIONS[-1]:
        with writing(engine).begin() as connection:
            upgrade(connection)


def _prepare_sqlite(engine: sa.Engine, file: Path, *, create: bool) -> None:
    if not file.exists():
        if not create:
            raise NotAStore(f"There is no record store at that address: there is no file {file}.")
        # Only for the user who runs fitcheck: records name people. SQLite gives its other files the rights of this one.
        file.parent.mkdir(mode=_OWNERS_FOLDER, parents=True, exist_ok=True)
        file.touch(mode=_OWNERS_FILE)
    with _folder_lock(file.parent):
        with engine.connect() as connection:
            found = _found(connection, alone=True)
            _may_go_on(found, create=create)
        if found == REVISIONS[-1]:
            return
        with outside(engine).connect() as connection:
            # Before there is a log, so that it stands in the file.
            if not has_mark(connection):
                set_mark(connection)
            connection.exec_driver_sql("PRAGMA journal_mode = WAL").all()
        # Connections from now on find the log.
        engine.dispose()
        with writing(engine).begin() as connection:
            upgrade(connection)
            count_transaction(connection)


def _prepare_postgres(engine: sa.Engine, *, create: bool) -> None:
    with engine.connect() as connection:
        if _found(connection, alone=False) == REVISIONS[-1]:
            return
    with engine.begin() as connection:
        connection.execute(sa.select(sa.func.pg_advisory_xact_lock(_ADVISORY_LOCK)))
        found = _found(connection, alone=False)
        _may_go_on(found, create=create)
        if found != REVISIONS[-1]:
            upgrade(connection)


def _found(connection: sa.Connection, *, alone: bool) -> str | None:
    """The schema that is there; None for none. ``alone``: the database is for the records only."""
    names = set(sa.inspect(connection).get_table_names())
    if VERSION_TABLE not in names:
        if names if alone else names & set(metadata.tables):
            raise NotAStore("Other tables lie there, which fitcheck did not make.")
        return None
    version = sa.table(VERSION_TABLE, sa.column("version_num"))
    schema = connection.execute(sa.select(version.c.version_num)).scalar_one_or_none()
    if schema is None:
        raise StoreDamaged("The record store does not say which schema its tables have.")
    if schema not in REVISIONS:
        raise StoreTooNew(
            f"The record store has schema {schema}; this fitcheck knows {REVISIONS[-1]} at most. Use a newer fitcheck."
        )
    return str(schema)


def _may_go_on(found: str | None, *, create: bool) -> None:
    if found is None and not create:
        raise NotAStore("There is no record store at that address.")


@contextmanager
def _folder_lock(folder: Path) -> Iterator[None]:
    """Hold the folder's lock; a lock on the file itself would get in the way of SQLite's own."""
    opened = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        # Some network file systems have no such lock; SQLite's own must then do.
        with suppress(OSError):
            fcntl.flock(opened, fcntl.LOCK_EX)
        yield
    finally:
        os.close(opened)
