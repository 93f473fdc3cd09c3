"""Where records lie, and how each database is spoken to.

SQLite: write-ahead log, every commit forced to disk, foreign keys, half a minute of waiting for another writer, and
what is deleted is overwritten. PostgreSQL: by psycopg 3; a connection is tried before it is used, so that a server
that was away is found again by itself.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy import event, exc
from sqlalchemy.engine import URL, make_url

from fitcheck.records.disk_mode import DiskMode
from fitcheck.records.errors import NotAStore, StoreError, StoreFull, StoreUnavailable

__all__ = [
    "SETTING",
    "address_of",
    "default_url",
    "engine_for",
    "engine_over",
    "file_of",
    "outside",
    "reading_at_once",
    "shown",
    "try_writing",
    "writing",
]

SETTING: Final = "FITCHECK_RECORDS"
"""The environment setting that says where records lie where nothing else does."""

_ALLOWED: Final = (
    "Write sqlite:////folder/records.sqlite3 for a file, or postgresql://user@server/database for PostgreSQL."
)
_WAIT_SECONDS: Final = 30
_CONNECT_SECONDS: Final = 10
_TRIAL_MILLISECONDS: Final = 1000
_LEAST_ROOM: Final = 4 * 1024 * 1024
"""Bytes: the largest record there can be, in the file and in its log."""
_BEGIN: Final = "fitcheck_begin"
_SQLITE_SETTINGS: Final = (
    "PRAGMA synchronous = FULL",
    "PRAGMA foreign_keys = ON",
    "PRAGMA secure_delete = ON",
)
# A server that forces nothing to disk before it answers would lose records that were said to be kept.
_POSTGRES_SETTINGS: Final = (
    f"SET lock_timeout = '{_WAIT_SECONDS}s'",
    "SELECT set_config('synchronous_commit', 'on', false) WHERE current_setting('synchronous_commit') = 'off'",
)


def default_url() -> str:
    """Where records lie: what the setting says, else a file in the user's data folder."""
    if url := os.environ.get(SETTING):
        return url
    data = os.environ.get("XDG_DATA_HOME") or str(Path.home() / ".local" / "share")
    return f"sqlite:///{Path(data) / 'fitcheck' / 'records.sqlite3'}"


def address_of(url: str) -> URL:
    """The address as SQLAlchemy has it. Raises NotAStore for one that is none of SQLite's files or of PostgreSQL."""
    try:
        address = make_url(url)
    except (exc.ArgumentError, ValueError) as error:
        raise NotAStore(f"This is not the address of a record store. {_ALLOWED}") from error
    if address.drivername in {"sqlite", "sqlite+pysqlite"}:
        if address.database in {None, "", ":memory:"} or str(address.database).startswith("file:"):
            raise NotAStore(f"Records need a file. {_ALLOWED}")
        return address.set(drivername="sqlite+pysqlite")
    if address.drivername in {"postgresql", "postgres", "postgresql+psycopg"}:
        return address.set(drivername="postgresql+psycopg")
    raise NotAStore(f"Records cannot be kept in {address.drivername}. {_ALLOWED}")


def shown(address: URL) -> str:
    """The address for people: without its password."""
    return address.render_as_string(hide_password=True)


def file_of(address: URL) -> Path | None:
    """The file of a SQLite store; None for PostgreSQL."""
    if address.get_backend_name() != "sqlite":
        return None
    return Path(str(address.database)).resolve()


def engine_for(address: URL) -> sa.Engine:
    """The engine for that address; it connects when it is first used. Raises StoreError without PostgreSQL's driver."""
    if address.get_backend_name() == "sqlite":
        return _sqlite(address)
    try:
        return _postgres(address)
    except ModuleNotFoundError as error:
        raise StoreError("PostgreSQL needs its driver: install fitcheck with the extra postgres.") from error


def writing(engine: sa.Engine) -> sa.Engine:
    """The same engine for transactions that write: on SQLite they take their turn as they begin, not midway."""
    return engine.execution_options(**{_BEGIN: "BEGIN IMMEDIATE"})


def outside(engine: sa.Engine) -> sa.Engine:
    """The same engine for what must not stand in a transaction."""
    if engine.dialect.name == "sqlite":
        return engine.execution_options(**{_BEGIN: ""})
    return engine.execution_options(isolation_level="AUTOCOMMIT")


@contextmanager
def reading_at_once(engine: sa.Engine) -> Iterator[sa.Connection]:
    """A connection that reads everything as it stands at its first reading, whatever is written meanwhile.

    On SQLite, text that is not UTF-8 comes with lone surrogates instead of breaking the reading off.
    """
    if engine.dialect.name != "sqlite":
        with engine.connect().execution_options(isolation_level="REPEATABLE READ") as connection:
            yield connection
        return
    with engine.connect() as connection:
        driver: Any = connection.connection.driver_connection
        driver.text_factory = lambda text: text.decode("utf-8", "surrogateescape")
        try:
            yield connection
        finally:
            driver.text_factory = str


def engine_over(opened: sqlite3.Connection) -> sa.Engine:
    """The engine over one connection to a SQLite database, whose transactions begin when SQLAlchemy says so."""
    engine = sa.create_engine("sqlite+pysqlite://", creator=lambda: opened, poolclass=sa.pool.StaticPool)
    event.listen(engine, "begin", _begin)
    return engine


def _begin(connection: sa.Connection) -> None:
    if statement := connection.get_execution_options().get(_BEGIN, "BEGIN"):
        connection.exec_driver_sql(statement)


def try_writing(engine: sa.Engine) -> None:
    """Write to the database what stands there already, and wait only briefly for others who write.

    Raises what the database raises where it takes nothing just now; for a SQLite file also StoreFull where its disk has
    no room for another record, and StoreUnavailable where it is not there.
    """
    if engine.dialect.name != "sqlite":
        with engine.begin() as connection:
            connection.exec_driver_sql(f"SET LOCAL lock_timeout = {_TRIAL_MILLISECONDS}")
            connection.exec_driver_sql("UPDATE head SET number = number")
        return
    # Small writes may still find room in pages that the file has already.
    try:
        disk = os.statvfs(str(engine.url.database))
    except OSError as error:
        raise StoreUnavailable("The file of the record store cannot be opened.") from error
    if disk.f_bavail * disk.f_frsize < _LEAST_ROOM:
        raise StoreFull("No room is left where the records lie.")
    with outside(engine).connect() as connection, _brief_waits(connection, _TRIAL_MILLISECONDS):
        connection.exec_driver_sql("BEGIN IMMEDIATE")
        try:
            # A row that stays as it is would not be written; this number, which nobody uses, always is.
            number = connection.exec_driver_sql("PRAGMA user_version").scalar_one()
            connection.exec_driver_sql(f"PRAGMA user_version = {number}")
            connection.exec_driver_sql("COMMIT")
        except BaseException:
            with suppress(exc.DBAPIError):
                connection.exec_driver_sql("ROLLBACK")
            raise


@contextmanager
def _brief_waits(connection: sa.Connection, milliseconds: int) -> Iterator[None]:
    """While the block lasts, SQLite waits no longer than that for another connection."""
    connection.exec_driver_sql(f"PRAGMA busy_timeout = {milliseconds}").all()
    try:
        yield
    finally:
        connection.exec_driver_sql(f"PRAGMA busy_timeout = {_WAIT_SECONDS * 1000}").all()


def _sqlite(address: URL) -> sa.Engine:
    file = Path(str(address.database))
    # The driver's own way of beginning transactions begins them late; here they begin when SQLAlchemy says so.
    engine = sa.create_engine(
        address, hide_parameters=True, connect_args={"timeout": _WAIT_SECONDS, "isolation_level": None}
    )
    DiskMode(engine, file)

    def measured_value(connection: Any, _record: object) -> None:
        for setting in _SQLITE_SETTINGS:
            connection.execute(setting)

    event.listen(engine, "connect", measured_value)
    event.listen(engine, "begin", _begin)
    return engine


def _postgres(address: URL) -> sa.Engine:
    settings = {"connect_timeout": _CONNECT_SECONDS, "application_name": "fitcheck"}
    engine = sa.create_engine(
        address,
        hide_parameters=True,
        pool_pre_ping=True,
        connect_args={name: value for name, value in settings.items() if name not in address.query},
    )

    def measured_value(connection: Any, _record: object) -> None:
        was = connection.autocommit
        connection.autocommit = True
        for setting in _POSTGRES_SETTINGS:
            connection.execute(setting)
        connection.autocommit = was

    event.listen(engine, "connect", measured_value)
    return engine
