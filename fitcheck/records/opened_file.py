"""Whether the file of a SQLite store that was opened is still the one that lies at its path.

A file that is removed, moved or replaced while it is open takes records on without an error, and is gone when its last
reader lets go of it. The same holds for the log and the index of the log that SQLite has beside it. So the files that
were found (device and inode) are held against those that lie there now, before anything is read or committed.
"""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote

import sqlalchemy as sa
from sqlalchemy import event

from fitcheck.records.errors import StoreReplaced

__all__ = ["OpenedFile"]

_BESIDE: Final = ("", "-wal", "-shm")
_Identity = tuple[int, int] | None
"""Device and inode; None where there is no file."""


class OpenedFile:
    """The file of one engine, as its connections found it."""

    def __init__(self, engine: sa.Engine, file: Path) -> None:
        """Watch ``engine``: whatever begins or connects on it raises StoreReplaced once other files lie there."""
        self._paths: Final = [Path(f"{file}{end}") for end in _BESIDE]
        self._found: list[_Identity] = []
        self._open = 0
        self._noting = threading.Lock()
        event.listen(engine, "do_connect", self._connect)
        event.listen(engine, "connect", self._connected)
        event.listen(engine, "close", self._closed)
        event.listen(engine, "begin", lambda _connection: self.require_same())

    def require_same(self) -> None:
        """Raise StoreReplaced where other files lie at the paths now."""
        for path, found in zip(self._paths, self._found, strict=False):
            # A store that may only be read, or is only just being made, has no log.
            if found is not None and _identity(path) != found:
                raise StoreReplaced(
                    "The file of the record store, or its log, was removed, moved or replaced since it was opened. "
                    "Put it back, or see what lies there now and start anew."
                )

    def _connect(self, _dialect: object, _record: object, arguments: list[Any], settings: dict[str, Any]) -> None:
        with self._noting:
            if self._open == 0:
                # The last that lets go of the file may take away its log.
                del self._found[1:]
        self.require_same()
        if not settings.get("uri"):
            # So that SQLite never makes a new file in the place of one that was removed.
            arguments[0] = f"file:{quote(str(self._paths[0]))}?mode=rw"
            settings["uri"] = True

    def _connected(self, connection: Any, _record: object) -> None:
        # Reading opens the log.
        connection.execute("SELECT 1 FROM sqlite_master").fetchone()
        with self._noting:
            self.require_same()
            self._open += 1
            if len(self._found) < len(self._paths):
                self._found = [_identity(path) for path in self._paths]

    def _closed(self, _connection: object, _record: object) -> None:
        with self._noting:
            self._open -= 1


def _identity(path: Path) -> _Identity:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino
