"""Whether the file of a SQLite store that was opened is still the one that lies at its path.

A file that is removed, moved or replaced while it is open takes records on without an error, and is gone when its last
reader lets go of it. The same holds for the log and the index of the log that SQLite has beside it. So the files that
were found (device and inode) are held against those that lie there now, before anything is read or committed.

A file that is written over (``cp``) stays the same file, and SQLite, which keeps pages of it, sees nothing. So each
store, and each backup, has a mark: a number by chance in the header's ``user_version``, which nothing else uses. Before
and after a commit the one in the file itself is held against that of the store.

A copy of its own file has the same mark. So each transaction counts up the header's ``application_id``, which nothing
else uses either: whatever the log brings into the file comes with a later number, and an older copy has an earlier one.
A copy with the same number is equal to the file, and nothing is lost by it.

SQLite may by then keep pages of what was written over it, and would go on with them though the file were put back. So
whoever found that once finds it until the store is opened anew; and before anything is read the header is looked at
where the file is not as old and as large as it was. Who opens a store holds the file against the log beside it: both
have the same mark, and the file all that came before the log began.
"""

from __future__ import annotations

import secrets
import sqlite3
import threading
import time
import weakref
from contextlib import closing
from pathlib import Path
from typing import Any, Final, NamedTuple
from urllib.parse import quote

import sqlalchemy as sa
from sqlalchemy import event

from fitcheck.records.errors import StoreReplaced, StoreUnavailable
from fitcheck.records.log_file import first_number

__all__ = ["OpenedFile", "count_transaction", "has_mark", "set_mark"]

_GREATEST: Final = 2**31 - 1
_MARK: Final = "PRAGMA user_version"
_WRITES: Final = "PRAGMA application_id"

_TRIES: Final = 5
_PAUSE_S: Final = 0.05
_BESIDE: Final = ("", "-wal", "-shm")
_Identity = tuple[int, int] | None
"""Device and inode; None where there is no file."""


class _Header(NamedTuple):
    """What the header of the file itself says, whatever the log holds beside it."""

    mark: int
    writes: int

    def is_older_than(self, writes: int) -> bool:
        """Whether it comes before the number ``writes``, which begins anew at 0 after the greatest (RFC 1982)."""
        return 0 < (writes - self.writes) % (_GREATEST + 1) <= _GREATEST // 2


class OpenedFile:
    """The file of one engine, as its connections found it."""

    def __init__(self, engine: sa.Engine, file: Path) -> None:
        """Watch ``engine``: whatever begins or connects on it raises StoreReplaced once other files lie there."""
        self._paths: Final = [Path(f"{file}{end}") for end in _BESIDE]
        self._found: list[_Identity] = []
        self._open: weakref.WeakSet[Any] = weakref.WeakSet()
        """What the pool has of each open connection; one that is out when the pool is given up ends without a word."""
        self._marks: frozenset[int] = frozenset()
        self._writes = 0
        """The latest number of a transaction that was found in the file."""
        self._seen: tuple[int, int] | None = None
        """Of the file when its header was looked at: when it was last written, and its size."""
        self._written_over = False
        self._noting = threading.RLock()
        event.listen(engine, "do_connect", self._connect)
        event.listen(engine, "connect", self._connected)
        event.listen(engine, "close", self._closed)
        event.listen(engine, "begin", lambda _connection: self.require_same())

    def require_same(self) -> None:
        """Raise StoreReplaced where other files lie at the paths now, or something was written over the file."""
        if self._written_over:
            raise _replaced(written_over=True)
        self._require_same_files()
        if self._seen is not None and _state(self._paths[0]) != self._seen:
            self._require_same_header()

    def _require_same_files(self) -> None:
        for path, found in zip(self._paths, self._found, strict=False):
            # A store that may only be read, or is only just being made, has no log.
            if found is not None and _identity(path) != found:
                raise _replaced()

    def require_same_store(self) -> None:
        """Raise StoreReplaced where ``require_same`` does; looks at the header in any case.

        About 50 microseconds, beside some milliseconds of a commit.
        """
        self.require_same()
        self._require_same_header()

    def _require_same_header(self) -> None:
        # Whoever looked later must not be the first to compare.
        with self._noting:
            if not self._marks:
                # Meanwhile all connections were closed, and nothing is known of what the next one finds.
                return
            seen, header = _state(self._paths[0]), self._header_in_file()
            if header is None or header.mark not in self._marks or header.is_older_than(self._writes):
                # The header of another file, which lies there since just now, says nothing of this one.
                self._require_same_files()
                self._written_over = True
                raise _replaced(written_over=True)
            self._seen, self._writes = seen, header.writes

    def _header_in_file(self) -> _Header | None:
        # By SQLite: were the file opened and closed otherwise, this process would lose its locks on it.
        # https://www.sqlite.org/howtocorrupt.html section 2.2
        try:
            with closing(
                sqlite3.connect(f"file:{quote(str(self._paths[0]))}?mode=ro&immutable=1", uri=True)
            ) as connection:
                # Amid a checkpoint the header may tell of more pages than there are yet, which so is no fault.
                connection.execute("PRAGMA writable_schema = ON")
                return _Header(*(int(connection.execute(each).fetchone()[0]) for each in (_MARK, _WRITES)))
        except sqlite3.OperationalError as error:
            raise StoreUnavailable("The file of the record store cannot be opened.") from error
        except sqlite3.DatabaseError:
            return None

    def _connect(self, _dialect: object, _record: object, arguments: list[Any], settings: dict[str, Any]) -> None:
        with self._noting:
            if not self._open:
                # The last that lets go of the file may take away its log; who brought it up to date gave it a mark.
                del self._found[1:]
                self._marks, self._seen = frozenset(), None
        self.require_same()
        if not settings.get("uri"):
            # So that SQLite never makes a new file in the place of one that was removed.
            arguments[0] = f"file:{quote(str(self._paths[0]))}?mode=rw"
            settings["uri"] = True

    def _connected(self, connection: Any, record: object) -> None:
        # Reading opens the log.
        connection.execute("SELECT 1 FROM sqlite_master").fetchone()
        with self._noting:
            self.require_same()
            if not any(self._marks):
                self._learn(connection)
            if len(self._found) < len(self._paths):
                self._found = [_identity(path) for path in self._paths]
            self._open.add(record)

    def _learn(self, connection: Any) -> None:
        mark = int(connection.execute(_MARK).fetchone()[0])
        for tries_left in reversed(range(_TRIES)):
            # The log first: what it begins with was in the file before, and the file only goes on from there.
            begins = first_number(self._paths[1])
            seen, found = _state(self._paths[0]), self._header_in_file()
            apart = mark and found and found.mark not in {0, mark}
            older = begins is not None and found and found.is_older_than((begins - 1) % (_GREATEST + 1))
            if not apart and not older:
                break
            if not tries_left:
                raise StoreReplaced(
                    "The file of the record store and the log beside it (-wal) are not of one moment: the file was "
                    "written over. Put back what was there, or restore a backup into an empty store."
                )
            # Another process may be beginning the log anew just now.
            time.sleep(_PAUSE_S)
        # In a store that was brought up to date just now, the log alone has the mark.
        self._marks = frozenset({mark, *(found[:1] if found else ())})
        self._writes = found.writes if found else 0
        self._seen = seen if any(self._marks) else None

    def _closed(self, _connection: object, record: object) -> None:
        with self._noting:
            self._open.discard(record)


def has_mark(connection: sa.Connection) -> bool:
    """Whether the store of this connection has a mark."""
    return bool(connection.exec_driver_sql(_MARK).scalar_one())


def set_mark(connection: sqlite3.Connection | sa.Connection) -> None:
    """Give the store of this connection a mark of its own."""
    execute = connection.execute if isinstance(connection, sqlite3.Connection) else connection.exec_driver_sql
    execute(f"{_MARK} = {1 + secrets.randbelow(_GREATEST)}")


def count_transaction(connection: sa.Connection) -> None:
    """Give the transaction of this connection, which holds the writer's lock, a later number than all before it."""
    number = int(connection.exec_driver_sql(_WRITES).scalar_one())
    connection.exec_driver_sql(f"{_WRITES} = {number + 1 if number < _GREATEST else 0}")


def _replaced(*, written_over: bool = False) -> StoreReplaced:
    if written_over:
        return StoreReplaced(
            "The file of the record store was written over since it was opened. Put back what was there, then stop "
            "whatever has the store open and start it anew: stopped before, it would lose what the log has. Or restore "
            "a backup into an empty store."
        )
    return StoreReplaced(
        "The file of the record store, or its log, was removed, moved or replaced since it was opened. "
        "Put it back, or see what lies there now and start anew."
    )


def _identity(path: Path) -> _Identity:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino


def _state(path: Path) -> tuple[int, int] | None:
    """When it was last written, and its size; None where there is no file."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size
