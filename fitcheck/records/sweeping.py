"""Takes off the disk what was erased, looks whether it is gone, and says plainly what is left and how it goes.

SQLite overwrites what is deleted, but its log keeps old pages until it is emptied, which waits for every reader.
PostgreSQL keeps deleted rows until they are vacuumed, their bytes in the pages until these are written anew, and both
in the segments of its log (pg_wal) until they are overwritten.
"""

from __future__ import annotations

import os
import re
import time
from collections.abc import Iterator
from collections.abc import Set as AbstractSet
from contextlib import suppress
from pathlib import Path
from typing import Final

import sqlalchemy as sa
from sqlalchemy import exc

from fitcheck.records.databases import outside
from fitcheck.records.opened_file import count_transaction
from fitcheck.records.tables import records
from fitcheck.vocabulary import utc

__all__ = ["sweep"]

_PATIENCE_S: Final = 10.0
_PAUSE_S: Final = 0.2
_BUSY_MILLISECONDS: Final = 500
_AT_ONCE: Final = 8 * 1024 * 1024
_SALT_DIGITS: Final = 32
_SALT: Final = re.compile(rb"(?=([0-9a-f]{32}))")
_TABLES: Final = ("records", "contents", "idempotency", "practice_sessions")
_OLDER_TRANSACTIONS: Final = sa.text(
    "SELECT (SELECT count(*) FROM pg_stat_activity WHERE backend_xmin IS NOT NULL AND pid <> pg_backend_pid()) "
    "+ (SELECT count(*) FROM pg_prepared_xacts) + (SELECT count(*) FROM pg_replication_slots WHERE xmin IS NOT NULL)"
)
"""How many transactions are open that may still see rows that were deleted."""
_OPENED: Final[dict[tuple[int, int], int]] = {}
"""By device and inode: one for each store that this process erased in, and for each log."""
_ANY_ERASURE: Final = sa.select(records.c.number).where(records.c.kind == "erasure").limit(1)


def sweep(engine: sa.Engine, file: Path | None, salts: AbstractSet[str], *, thorough: bool = False) -> list[str]:
    """Empty logs and clear pages as far as the database does that while others use it; what is left, in sentences.

    ``file`` is SQLite's, in which none of the ``salts`` of erased contents must stand any more. ``thorough``: also
    write the whole database anew, which keeps others waiting. Waits for readers for some seconds.
    """
    with suppress(exc.DBAPIError):
        if file is not None:
            return list(_sweep_sqlite(engine, file, salts, thorough=thorough))
        return list(_sweep_postgres(engine, thorough=thorough))
    return ["The database could not be cleared: it is busy, or does not allow it. Run `fitcheck records sweep` later."]


def _sweep_sqlite(engine: sa.Engine, file: Path, salts: AbstractSet[str], *, thorough: bool) -> Iterator[str]:
    log = Path(f"{file}-wal")
    patience = time.monotonic() + _PATIENCE_S
    with outside(engine).connect() as connection:
        before = connection.exec_driver_sql("PRAGMA busy_timeout").scalar_one()
        connection.exec_driver_sql(f"PRAGMA busy_timeout = {_BUSY_MILLISECONDS}").all()
        try:
            while True:
                emptied = _emptied(connection)
                if emptied and (thorough or _stands_in(file, salts)):
                    # Pages of before this program overwrote what it deletes.
                    thorough = False
                    # Its file is another one: a copy of before must be older, and one of meanwhile too.
                    _count(connection)
                    connection.exec_driver_sql("VACUUM")
                    _count(connection)
                    emptied = _emptied(connection)
                if emptied or time.monotonic() > patience:
                    break
                time.sleep(_PAUSE_S)
        finally:
            connection.exec_driver_sql(f"PRAGMA busy_timeout = {before}").all()
    left = [path.name for path in (file, log) if _stands_in(path, salts)]
    if not emptied:
        yield (
            f"Another program reads the records, so that what was erased still lies on the disk in {log.name}, and "
            f"may in {file.name}. It goes with `fitcheck records sweep` once that program has read to its end."
        )
    elif left:
        where = " and ".join(left)
        yield f"Something of what was erased still lies on the disk, in {where}. Run `fitcheck records sweep`."


def _count(connection: sa.Connection) -> None:
    connection.exec_driver_sql("BEGIN IMMEDIATE")
    count_transaction(connection)
    connection.exec_driver_sql("COMMIT")


def _emptied(connection: sa.Connection) -> bool:
    """Empty the log into the file; whether that was done, which waits for every reader."""
    busy, *_ = connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)").one()
    return not busy


def _stands_in(file: Path, salts: AbstractSet[str]) -> bool:
    """Whether any of ``salts`` stands in the file, also across pieces of it, or amid other digits."""
    if not salts:
        return False
    overlap, at = b"", 0
    try:
        descriptor = _opened(file)
    except FileNotFoundError:
        return False
    while piece := os.pread(descriptor, _AT_ONCE, at):
        if any(found[1].decode() in salts for found in _SALT.finditer(overlap + piece)):
            return True
        overlap, at = piece[-_SALT_DIGITS:], at + len(piece)
    return False


def _opened(file: Path) -> int:
    """A descriptor of the file, which stays open: closed, it would let go of the locks that SQLite has on it here.

    https://www.sqlite.org/howtocorrupt.html section 2.2
    """
    found = file.stat()
    identity = found.st_dev, found.st_ino
    if identity not in _OPENED:
        _OPENED[identity] = os.open(file, os.O_RDONLY)
    return _OPENED[identity]


def _sweep_postgres(engine: sa.Engine, *, thorough: bool) -> Iterator[str]:
    with outside(engine).connect() as connection:
        older = connection.execute(_OLDER_TRANSACTIONS).scalar_one()
        connection.exec_driver_sql(f"VACUUM {'(FULL) ' if thorough else ''}{', '.join(_TABLES)}")
        with suppress(exc.DBAPIError):
            # For superusers and pg_checkpoint only: it takes away the files that were written anew.
            connection.exec_driver_sql("CHECKPOINT")
        if older or not thorough:
            why = "an older transaction is open" if older else "they are written anew"
            yield (
                f"The files of {', '.join(_TABLES)} may hold bytes of what was erased {'while' if older else 'until'} "
                f"{why}: run `fitcheck records sweep` (VACUUM FULL), which keeps others waiting, when none is open."
            )
        if connection.execute(_ANY_ERASURE).first() is not None:
            yield _log_left(connection)


def _log_left(connection: sa.Connection) -> str:
    said = (
        "The server's log (pg_wal) has what was erased until its segments are overwritten or removed, which nobody can "
        "see from here; archives of it and replicas have it longer"
    )
    try:
        count, oldest = connection.exec_driver_sql("SELECT count(*), min(modification) FROM pg_ls_waldir()").one()
    except exc.DBAPIError:
        return f"{said}. Those who run the server can see how old they are (pg_ls_waldir)."
    return f"{said}. There are {count}, the oldest of {utc(oldest)}."
