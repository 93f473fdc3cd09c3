"""A store's tables are made, brought up to date, and recognised."""

from __future__ import annotations

import json
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from psycopg import connect

from fitcheck.records import (
    Draft,
    Head,
    Idempotency,
    NotAStore,
    Store,
    StoreDamaged,
    StoreTooNew,
    StoreUnavailable,
    open_store,
    verify,
)
from fitcheck.records.databases import address_of, engine_for, outside, writing
from fitcheck.records.keys import AccessKey, AccessKeys
from fitcheck.records.migrations import REVISIONS
from fitcheck.records.migrations.upgrade import scripts, upgrade
from fitcheck.records.tables import VERSION_TABLE, metadata
from tests.support.paths import ROOT

Make = Callable[..., Draft]
_OLDER = ROOT / "tests" / "fitcheck" / "records" / "older"
_HEAD_OF_OLDER = Head(5, "sha256:248d014116bc48b621bcf2d06a9fe2e2a28c4bd625b946cfc82637975d5c8db3")


@pytest.fixture(params=sorted(path.name.split(".")[0] for path in _OLDER.glob("*.sqlite.sql")))
def older(request: pytest.FixtureRequest, url: str) -> str:
    """The address of a store with rows as an older release made it."""
    address = address_of(url)
    if address.get_backend_name() == "sqlite":
        Path(str(address.database)).parent.mkdir()
        opened = sqlite3.connect(str(address.database))
        opened.executescript((_OLDER / f"{request.param}.sqlite.sql").read_text(encoding="utf-8"))
        opened.close()
    else:
        with connect(url) as connection:
            connection.execute((_OLDER / f"{request.param}.postgres.sql").read_bytes())
    return url


def _schema(store: Store) -> str:
    with store._engine.connect() as connection:
        return str(connection.exec_driver_sql(f"SELECT version_num FROM {VERSION_TABLE}").scalar_one())  # noqa: S608  (a constant)


@pytest.mark.filterwarnings("ignore:Skipped unsupported reflection of expression-based index records_day")
@pytest.mark.filterwarnings("ignore:autogenerate skipping metadata-specified expression-based index")
def test_the_tables_that_the_migrations_make_are_those_that_the_program_knows(store: Store) -> None:
    with store._engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"version_table": VERSION_TABLE, "compare_type": True})
        assert compare_metadata(context, metadata) == []
    assert _schema(store) == REVISIONS[-1]


def test_the_day_of_a_fitting_is_found_by_its_index(store: Store) -> None:
    of_sqlite = "SELECT sql FROM sqlite_master WHERE name = 'records_day'"
    of_postgres = "SELECT indexdef FROM pg_indexes WHERE indexname = 'records_day'"
    with store.reading() as connection:
        sqlite = connection.dialect.name == "sqlite"
        made = connection.exec_driver_sql(of_sqlite if sqlite else of_postgres).scalar_one()
    assert made.lower().endswith("(coalesce(fitted, created))")


def test_the_schemas_that_are_listed_are_those_that_there_are() -> None:
    assert tuple(script.revision for script in scripts().walk_revisions())[::-1] == REVISIONS


def test_every_schema_but_the_newest_has_a_store_to_upgrade() -> None:
    kept = {path.name for path in _OLDER.iterdir()}
    assert kept >= {
        f"schema_{schema}.{database}.sql" for schema in REVISIONS[:-1] for database in ("sqlite", "postgres")
    }


def test_an_older_store_is_brought_up_to_date_with_its_records_unchanged(older: str, draft: Make) -> None:
    with open_store(older, create=False) as store:
        assert _schema(store) == REVISIONS[-1]
        assert store.head() == _HEAD_OF_OLDER
        assert list(verify(store, expected=_HEAD_OF_OLDER)) == []
        first, second, third, fourth, erasure = store.following(0, 10)
        assert first.received == '{"foot": "left_fore",\n "notes": "€"}'.encode()
        assert store.answered(Idempotency("send-1", "", "sha256:" + "d" * 64)) == first
        assert second.erased
        assert (third.about, third.decision) == (first.id, "put_right")
        assert (fourth.kind, fourth.received, fourth.about) == ("override", bytes(range(256)), third.id)
        assert json.loads(erasure.answer) == {"erased": [2], "reason": "asked on paper"}
        assert store.keep(draft()).record.previous == _HEAD_OF_OLDER.digest
    with open_store(older) as again:
        assert list(verify(again)) == []


def test_a_key_from_before_there_were_holders_is_a_devices_with_the_scopes_that_it_had(
    older: str, request: pytest.FixtureRequest
) -> None:
    with open_store(older) as store:
        keys = AccessKeys(store).every()
    made = [AccessKey("0123456789ab", "the yard's tablet", frozenset({"assess", "read"}), "2026-03-04T09:00:00.000Z")]
    assert [replace(key, last_used=None) for key in keys] in ([], made)
    assert keys or request.node.callspec.params["older"] == "schema_0001"
    # What it could override before it cannot now: that is a person's.
    assert not any(key.person is not None or key.opens("mark") for key in keys)


def test_an_older_store_has_the_guards_and_settings_of_a_new_one(older: str) -> None:
    with open_store(older) as store, store._engine.connect() as connection:
        if connection.dialect.name == "sqlite":
            assert connection.exec_driver_sql("PRAGMA journal_mode").scalar_one() == "wal"
        with pytest.raises(sa.exc.DBAPIError, match="never changed"):
            connection.exec_driver_sql("UPDATE records SET created = 'x'")


def test_the_first_migration_still_makes_what_it_made(tmp_path: Path) -> None:
    was, now = tmp_path / "was.sqlite3", tmp_path / "now.sqlite3"
    opened = sqlite3.connect(was)
    opened.executescript((_OLDER / "schema_0001.sqlite.sql").read_text(encoding="utf-8"))
    engine = engine_for(address_of(f"sqlite:///{now}"))
    with writing(engine).begin() as connection:
        upgrade(connection, "0001")
    engine.dispose()
    made = sqlite3.connect(now)
    question = "SELECT type, name, tbl_name, sql FROM sqlite_master ORDER BY name"
    assert made.execute(question).fetchall() == opened.execute(question).fetchall()
    made.close()
    opened.close()


def test_an_upgrade_that_breaks_off_changes_nothing(older: str, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(connection: sa.Connection) -> None:
        upgrade(connection)
        connection.exec_driver_sql("SELECT * FROM no_such_table")

    engine = engine_for(address_of(older))
    tables = sorted(sa.inspect(engine).get_table_names())
    engine.dispose()
    with monkeypatch.context() as patched:
        patched.setattr("fitcheck.records.migrations.upgrade.upgrade", fail)
        with pytest.raises(StoreDamaged):
            open_store(older)
    engine = engine_for(address_of(older))
    with engine.connect() as connection:
        assert connection.exec_driver_sql(f"SELECT version_num FROM {VERSION_TABLE}").scalar_one() != REVISIONS[-1]  # noqa: S608  (a constant)
        assert sorted(sa.inspect(connection).get_table_names()) == tables
    engine.dispose()
    with open_store(older) as store:
        assert list(verify(store)) == []


def test_a_store_of_a_newer_program_is_left_alone(url: str, draft: Make) -> None:
    with open_store(url) as store:
        store.keep(draft())
        with store._engine.begin() as connection:
            connection.exec_driver_sql(f"UPDATE {VERSION_TABLE} SET version_num = '9999'")  # noqa: S608  (a constant)
    for create in (True, False):
        with pytest.raises(StoreTooNew, match=r"schema 9999.*newer fitcheck"):
            open_store(url, create=create)


def test_a_store_that_does_not_say_its_schema_is_damaged(url: str) -> None:
    with open_store(url) as store, store._engine.begin() as connection:
        connection.exec_driver_sql(f"DELETE FROM {VERSION_TABLE}")  # noqa: S608  (a constant)
    with pytest.raises(StoreDamaged, match="schema"):
        open_store(url)


def test_without_create_nothing_is_made(url: str) -> None:
    with pytest.raises(NotAStore, match="no record store"):
        open_store(url, create=False)
    file = address_of(url).database
    assert not str(file).endswith("sqlite3") or not Path(str(file)).exists()


def test_tables_of_another_program_are_left_alone(url: str) -> None:
    address = address_of(url)
    if address.get_backend_name() == "sqlite":
        Path(str(address.database)).parent.mkdir()
    engine = engine_for(address)
    with engine.begin() as connection:
        connection.exec_driver_sql("CREATE TABLE records (disc TEXT)")
    engine.dispose()
    with pytest.raises(NotAStore, match="Other tables"):
        open_store(url)


def test_a_postgresql_database_may_hold_other_tables_too(postgres_url: str, draft: Make) -> None:
    engine = engine_for(address_of(postgres_url))
    with engine.begin() as connection:
        connection.exec_driver_sql("CREATE TABLE alembic_version (version_num TEXT)")
        connection.exec_driver_sql("CREATE TABLE hay (bales INTEGER)")
    engine.dispose()
    with open_store(postgres_url) as store:
        assert store.keep(draft()).record.number == 1


@pytest.mark.parametrize(
    "content", [b"no database at all, only a letter to the yard" * 100, b"SQLite format 3\x00" + b"x" * 5000]
)
def test_a_file_that_is_no_database_is_left_as_it_is(tmp_path: Path, content: bytes) -> None:
    file = tmp_path / "letter.txt"
    file.write_bytes(content)
    with pytest.raises((NotAStore, StoreDamaged)):
        open_store(f"sqlite:///{file}")
    assert file.read_bytes() == content


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(StoreUnavailable, match="folder"):
        open_store(f"sqlite:///{tmp_path / 'file' / 'records.sqlite3'}")
    with pytest.raises(StoreUnavailable, match="cannot be opened"):
        open_store(f"sqlite:///{tmp_path}")


def test_a_new_file_is_for_its_owner_alone(sqlite_url: str, draft: Make) -> None:
    with open_store(sqlite_url) as store:
        store.keep(draft())
        folder = Path(str(address_of(sqlite_url).database)).parent
        names = {path.name: path.stat().st_mode & 0o777 for path in folder.iterdir()}
    assert folder.stat().st_mode & 0o777 == 0o700
    assert names == dict.fromkeys(("records.sqlite3", "records.sqlite3-wal", "records.sqlite3-shm"), 0o600)


def test_an_empty_file_becomes_a_store(tmp_path: Path) -> None:
    file = tmp_path / "records.sqlite3"
    file.touch()
    with pytest.raises(NotAStore):
        open_store(f"sqlite:///{file}", create=False)
    open_store(f"sqlite:///{file}").close()
    open_store(f"sqlite:///{file}", create=False).close()


@pytest.fixture
def settings(sqlite_store: Store) -> Iterator[dict[str, object]]:
    """What each connection of a SQLite store is set to."""
    names = ("journal_mode", "synchronous", "foreign_keys", "secure_delete", "busy_timeout")
    with outside(sqlite_store._engine).connect() as connection:
        yield {name: connection.exec_driver_sql(f"PRAGMA {name}").scalar_one() for name in names}


def test_sqlite_forces_every_commit_to_disk_and_waits_for_its_turn(settings: dict[str, object]) -> None:
    full = 2
    assert settings == {
        "journal_mode": "wal",
        "synchronous": full,
        "foreign_keys": 1,
        "secure_delete": 1,
        "busy_timeout": 30_000,
    }


def test_postgresql_forces_every_commit_to_disk_even_where_the_server_would_not(postgres_url: str) -> None:
    careless = f"{postgres_url}%20-csynchronous_commit%3Doff"
    with open_store(careless) as store, store._engine.connect() as connection:
        assert connection.exec_driver_sql("SHOW synchronous_commit").scalar_one() == "on"
        assert connection.exec_driver_sql("SHOW lock_timeout").scalar_one() == "30s"


def test_assessing_without_records_loads_no_database(root: Path) -> None:
    code = (
        "import sys; from fitcheck.cli import main\n"
        "try: main(['assess', 'cases_demo/flinch.json'])\n"
        "except SystemExit: pass\n"
        "sys.exit(any(name in sys.modules for name in ('sqlalchemy', 'alembic', 'psycopg', 'rfc8785')))"
    )
    subprocess.run([sys.executable, "-c", code], cwd=root, check=True, capture_output=True)


def test_opening_a_store_that_is_up_to_date_loads_no_alembic(sqlite_url: str, root: Path) -> None:
    open_store(sqlite_url).close()
    code = (
        "import sys; from fitcheck.records import open_store\n"
        f"open_store({sqlite_url!r}).close()\n"
        "sys.exit('alembic' in sys.modules or 'psycopg' in sys.modules)"
    )
    subprocess.run([sys.executable, "-c", code], cwd=root, check=True, capture_output=True)
