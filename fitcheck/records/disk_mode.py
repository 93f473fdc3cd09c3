"""A SQLite file on a disk that may only be read, for as long as that is so: each connection is made as the disk is now.

SQLite must be told that a disk cannot be written where the log has no index, since it would want to make both. Where
they lie there the log has records that the file has not, which a reader who is told so would miss.

The index of the log is shared by all connections of a process, as the first of them opened it. So one that may write is
worth something only once all that opened it for reading are closed; they are closed as soon as they are given back.
"""

from __future__ import annotations

import os
import threading
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote

import sqlalchemy as sa
from sqlalchemy import event, exc

__all__ = ["DiskMode", "for_reading"]

_OPENED_AS: Final = "fitcheck_opened_as"
_READS_INDEX: Final = "fitcheck_reads_index"
_WRITABLE: Final = ""
_WITH_LOG: Final = "mode=ro"
_WITHOUT_LOG: Final = "immutable=1"
_PATIENCE_S: Final = 2.0
"""How long a connection that may write waits for those that opened the log's index for reading."""


class DiskMode:
    """How the connections of one engine are opened."""

    def __init__(self, engine: sa.Engine, file: Path) -> None:
        """Have ``engine`` open ``file`` as its disk allows, and anew where that has changed."""
        self._file: Final = file
        self._reading_index = 0
        self._changed: Final = threading.Condition()
        event.listen(engine, "do_connect", self._connect)
        event.listen(engine, "connect", self._connected)
        event.listen(engine, "checkout", self._checkout)
        event.listen(engine, "checkin", self._checkin)
        event.listen(engine, "close", self._closed)

    def _connect(self, _dialect: object, record: Any, arguments: list[Any], settings: dict[str, Any]) -> None:
        record.info[_OPENED_AS] = mode = _mode_of(self._file)
        if mode != _WRITABLE:
            arguments[0] = f"file:{quote(str(self._file))}?{mode}"
            settings["uri"] = True
            return
        with self._changed:
            self._changed.wait_for(lambda: not self._reading_index, _PATIENCE_S)

    def _connected(self, _connection: object, record: Any) -> None:
        with self._changed:
            mode = record.info[_OPENED_AS]
            record.info[_READS_INDEX] = mode == _WITH_LOG or (mode == _WRITABLE and self._reading_index > 0)
            self._reading_index += record.info[_READS_INDEX]

    def _checkout(self, _connection: object, record: Any, _proxy: object) -> None:
        if record.info[_OPENED_AS] != _mode_of(self._file):
            raise exc.DisconnectionError("what the disk allows has changed: connect again")

    def _checkin(self, _connection: object, record: Any) -> None:
        if record.info.get(_READS_INDEX):
            record.invalidate()

    def _closed(self, connection: Any, record: Any) -> None:
        if record.info.pop(_READS_INDEX, False):
            # The pool closes it only after it has told.
            connection.close()
            with self._changed:
                self._reading_index -= 1
                self._changed.notify_all()


def for_reading(file: Path) -> str:
    """The parameter of SQLite's address by which ``file`` is read whole, whatever disk it lies on."""
    return _mode_of(file) or _WITH_LOG


def _mode_of(file: Path) -> str:
    try:
        if not os.statvfs(file).f_flag & os.ST_RDONLY:
            return _WRITABLE
    except OSError:
        return _WRITABLE
    return _WITH_LOG if _size(Path(f"{file}-wal")) or Path(f"{file}-shm").exists() else _WITHOUT_LOG


def _size(file: Path) -> int:
    try:
        return file.stat().st_size
    except OSError:
        return 0
