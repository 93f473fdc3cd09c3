"""A backup is whole or not there, is written while others write, and brings back every number and digest."""

from __future__ import annotations

import itertools
import json
import os
import sqlite3
import stat
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa

from fitcheck.records import (
    EMPTY,
    Draft,
    Idempotency,
    RecordFilter,
    Store,
    StoreError,
    StoreTooNew,
    open_store,
    verify,
)
from fitcheck.records.backup import NotABackup, StoreNotEmpty, back_up, restore
from fitcheck.records.backup_entries import write_entries
from fitcheck.records.keys import AccessKeys, KeyUse, Token
from tests.support.backups import everything, sealed

Make = Callable[..., Draft]
KEY = Idempotency("send-1", "", "sha256:1")


@pytest.fixture(params=["sqlite", "postgres"])
def empty(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """The address of a store of either kind that is not there yet, besides that of ``store``."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path / 'restored' / 'records.sqlite3'}"
        return
    server = request.getfixturevalue("server")
    name = f"restored_{os.urandom(8).hex()}"
    server.psql(f"CREATE DATABASE {name};")
    yield server.get_uri(database=name)
    server.psql(f"DROP DATABASE {name} WITH (FORCE);")


def test_a_restored_store_is_the_same_row_by_row_on_either_database(full: Store, empty: str, tmp_path: Path) -> None:
    head = back_up(full, tmp_path / "backup")
    assert head == full.head()
    with open_store(empty) as restored:
        assert restore(tmp_path / "backup", restored, keys=True) == head
        assert everything(restored) == everything(full)
        assert list(verify(restored, expected=head)) == []
        assert restored.answered(KEY) is not None


def test_records_go_on_after_a_restoring(full: Store, empty: str, tmp_path: Path, draft: Make) -> None:
    head = back_up(full, tmp_path / "backup")
    with open_store(empty) as restored:
        restore(tmp_path / "backup", restored)
        assert restored.keep(draft()).record.previous == head.digest
        (key,) = AccessKeys(restored).every()
        AccessKeys(restored).note_uses([KeyUse(key.id, "2026-03-05T10:00:00.000Z", "r-2", "GET", "/", 200)])
        assert len(AccessKeys(restored).uses(limit=9)) == 2
        assert list(verify(restored, expected=head)) == []


def test_a_backup_of_an_empty_store_restores_to_one(store: Store, empty: str, tmp_path: Path) -> None:
    assert back_up(store, tmp_path / "backup") == EMPTY
    with open_store(empty) as restored:
        assert restore(tmp_path / "backup", restored) == EMPTY


def test_a_store_with_records_is_left_alone_unless_told(full: Store, empty: str, tmp_path: Path, draft: Make) -> None:
    head = back_up(full, tmp_path / "backup")
    with open_store(empty) as restored:
        for _ in range(7):
            restored.keep(draft())
        own, _ = AccessKeys(restored).make("another", ["read"])
        AccessKeys(restored).note_uses([KeyUse(own.id, "2026-03-05T10:00:00.000Z", "r-9", "GET", "/", 200)])
        before = everything(restored)
        with pytest.raises(StoreNotEmpty, match="7 records"):
            restore(tmp_path / "backup", restored)
        assert everything(restored) == before
        assert restore(tmp_path / "backup", restored, replace=True, keys=True) == head
        after, wanted = everything(restored), everything(full)
        for table in after.keys() - {"access_keys", "key_uses"}:
            assert after[table] == wanted[table]
        # Access keys, and what they were used for, are no records: those of here stay.
        assert set(after["access_keys"]) == {*before["access_keys"], *wanted["access_keys"]}
        assert {use.request for use in AccessKeys(restored).uses(limit=9)} == {"r-1", "r-9"}
        assert list(verify(restored, expected=head)) == []
        # The guards are there again.
        with pytest.raises(sa.exc.DBAPIError), restored._engine.begin() as connection:
            connection.exec_driver_sql("DELETE FROM records")


def test_an_access_key_made_before_restoring_stays(full: Store, empty: str, tmp_path: Path) -> None:
    back_up(full, tmp_path / "backup")
    with open_store(empty) as restored:
        own, _ = AccessKeys(restored).make("made here", ["admin"])
        restore(tmp_path / "backup", restored)
        assert {key.name for key in AccessKeys(restored).every()} == {own.name, "the yard's tablet"}


def test_a_backup_is_made_while_others_keep_records(store: Store, tmp_path: Path, draft: Make) -> None:
    enough = threading.Event()
    drafts = [draft(horse=f"H-{number}") for number in range(3000)]

    def keep() -> None:
        for one in drafts:
            if enough.is_set():
                return
            store.keep(one)

    writer = threading.Thread(target=keep)
    writer.start()
    try:
        while store.head().number < 5:
            enough.wait(0.01)
        heads = []
        for number in range(4):
            before = store.head().number
            heads.append(back_up(store, tmp_path / f"backup-{number}"))
            assert before <= heads[-1].number <= store.head().number
    finally:
        enough.set()
        writer.join()
    assert heads[-1].number > heads[0].number
    for number, head in enumerate(heads):
        with open_store(f"sqlite:///{tmp_path / f'restored-{number}'}") as restored:
            assert restore(tmp_path / f"backup-{number}", restored) == head
            kept = restored.each_record(RecordFilter())
            assert [*kept] == store.following(0, head.number)
    assert list(verify(store, expected=heads[0])) == []


def test_a_backup_takes_the_place_of_an_older_one_and_only_this_user_may_read_it(full: Store, tmp_path: Path) -> None:
    file = tmp_path / "backup"
    file.write_text("an older one", encoding="utf-8")
    back_up(full, file)
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == ["backup"]


def test_an_older_backup_stays_where_the_store_is_not_whole(full: Store, tmp_path: Path) -> None:
    file = tmp_path / "backup"
    file.write_text("an older one", encoding="utf-8")
    with full._engine.begin() as connection:
        if full._engine.dialect.name == "sqlite":
            connection.exec_driver_sql("DROP TRIGGER contents_never_changed")
        else:
            connection.exec_driver_sql("ALTER TABLE contents DISABLE TRIGGER contents_never_changed")
        connection.exec_driver_sql("UPDATE contents SET salt = '" + "0" * 32 + "' WHERE number = 1")
    with pytest.raises(NotABackup):
        back_up(full, file)
    assert file.read_text(encoding="utf-8") == "an older one"
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == ["backup"]


def test_where_no_backup_can_be_written_its_own_name_is_told_and_nothing_is_left(
    full: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(FileNotFoundError) as caught:
        back_up(full, tmp_path / "nowhere" / "backup")
    assert caught.value.filename == str(tmp_path / "nowhere" / "backup")

    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", fail)
    with pytest.raises(OSError, match="No space"):
        back_up(full, tmp_path / "backup")
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == []


def test_a_backup_never_takes_the_place_of_its_own_store(sqlite_url: str, draft: Make, tmp_path: Path) -> None:
    with open_store(sqlite_url) as store:
        store.keep(draft())
        link = tmp_path / "link"
        link.symlink_to(tmp_path / "yard" / "records.sqlite3")
        for name in (tmp_path / "yard" / "records.sqlite3", link):
            with pytest.raises(StoreError, match="the store itself"):
                back_up(store, name)
        assert store.head().number == 1


def test_a_backup_of_sqlite_is_one_file_that_any_reader_of_sqlite_opens(
    sqlite_url: str, draft: Make, tmp_path: Path
) -> None:
    with open_store(sqlite_url) as store:
        store.keep_many([draft(), draft()])
        back_up(store, tmp_path / "backup")
    with sqlite3.connect(f"file:{tmp_path / 'backup'}?mode=ro&immutable=1", uri=True) as read:
        assert read.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert read.execute("SELECT count(*) FROM records").fetchone() == (2,)
        assert read.execute("PRAGMA journal_mode").fetchone() == ("delete",)
    read.close()


def test_a_portable_backup_says_of_itself_whether_it_is_whole(dump: Path, tmp_path: Path) -> None:
    whole = dump.read_bytes()
    lines = whole.splitlines(keepends=True)
    assert sealed(lines[:-1]).split() == whole.split() or json.loads(lines[-1]) == json.loads(
        sealed(lines[:-1]).splitlines()[-1]
    ), "the end is the SHA-256 of all before it"
    wrong = {
        "cut in a line": whole[: len(whole) // 2],
        "no end": b"".join(lines[:-1]),
        "a line gone": b"".join([*lines[:2], *lines[3:]]),
        "more behind": whole + lines[1],
        "a byte changed": whole.replace(b'"A-3"', b'"A-4"', 1),
        "a record gone, end made anew": sealed([*lines[:2], *lines[3:-1]]),
        "the last gone, end made anew": sealed(lines[:-2]),
        "two in each other's place": sealed([lines[0], lines[2], lines[1], lines[3]]),
        "a strange table": sealed([*lines[:-1], b'{"backup":"head2","row":{}}\n']),
        "a strange row": sealed([*lines[:-1], b'{"backup":"idempotency","row":{"scope":""}}\n']),
        "something else": b"{}\n",
        "not JSON": b"\x00\x01\n",
        "empty": b"",
    }
    for what, content in wrong.items():
        (tmp_path / "wrong").write_bytes(content)
        with open_store(f"sqlite:///{tmp_path / 'target'}") as store:
            with pytest.raises(NotABackup):
                restore(tmp_path / "wrong", store)
            assert everything(store)["records"] == [], what
            assert store.head() == EMPTY
    (tmp_path / "wrong").write_bytes(whole.replace(b'"format":1', b'"format":2', 1))
    with open_store(f"sqlite:///{tmp_path / 'target'}") as store:
        with pytest.raises(StoreTooNew):
            restore(tmp_path / "wrong", store)
        assert restore(dump, store).number == 3


def test_a_portable_backup_from_before_keys_had_holders_is_restored(full: Store, empty: str, tmp_path: Path) -> None:
    older = tmp_path / "older"
    with full.snapshot() as connection, older.open("wb") as stream:
        write_entries(connection, stream)
    lines = []
    for line in older.read_bytes().splitlines(keepends=True)[:-1]:
        found = json.loads(line)
        if found.get("backup") == "access_keys":
            del found["row"]["holder"], found["row"]["until"]
            line = json.dumps(found).encode() + b"\n"  # noqa: PLW2901  (as the older fitcheck wrote it)
        lines.append(line)
    older.write_bytes(sealed(lines))
    with open_store(empty) as store:
        restore(older, store, keys=True)
        assert AccessKeys(store).every() == AccessKeys(full).every()


def test_a_damaged_backup_of_sqlite_is_not_restored(sqlite_url: str, draft: Make, tmp_path: Path) -> None:
    file = tmp_path / "backup"
    with open_store(sqlite_url) as store:
        store.keep_many([draft(), draft()])
        back_up(store, file)
    with sqlite3.connect(file) as edit:
        edit.execute("DROP TRIGGER records_never_changed")
        edit.execute("UPDATE records SET decision = 'stop_and_refer' WHERE number = 2")
    edit.close()
    with open_store(f"sqlite:///{tmp_path / 'target'}") as target:
        with pytest.raises(NotABackup, match="2"):
            restore(file, target)
        assert target.head() == EMPTY
    file.write_bytes(file.read_bytes()[:20_000])
    with open_store(f"sqlite:///{tmp_path / 'target'}") as target:
        with pytest.raises(StoreError):
            restore(file, target)
        assert target.head() == EMPTY


def test_many_records_are_restored_in_more_than_one_page(draft: Make, tmp_path: Path, sqlite_url: str) -> None:
    with open_store(sqlite_url) as store:
        for _ in range(5):
            store.keep_many([draft() for _ in range(90)])
        head = back_up(store, tmp_path / "backup")
        with open_store(f"sqlite:///{tmp_path / 'target'}") as target:
            assert restore(tmp_path / "backup", target) == head
            pairs = itertools.zip_longest(store.each_record(RecordFilter()), target.each_record(RecordFilter()))
            assert all(one == other for one, other in pairs)


def test_a_revocation_outlives_a_restore_and_a_store_that_had_keys_never_opens(
    store: Store, empty: str, tmp_path: Path, draft: Make
) -> None:
    store.keep(draft())
    back_up(store, tmp_path / "without-keys")
    keys = AccessKeys(store)
    made, token = keys.make("lost tablet", ["admin"])
    back_up(store, tmp_path / "with-key")
    revoked = keys.revoke(made.id)
    for name, with_keys in itertools.product(("without-keys", "with-key"), (False, True)):
        restore(tmp_path / name, store, replace=True, keys=with_keys)
        assert keys.any_made()
        assert keys.every() == [revoked]
        found = keys.check(token)
        assert found is not None
        assert found.revoked == revoked.revoked
    with open_store(empty) as elsewhere:
        restore(tmp_path / "with-key", elsewhere)
        found = AccessKeys(elsewhere).check(token)
        assert found is not None
        assert found.revoked is not None
        assert AccessKeys(elsewhere).any_made()


def test_a_key_that_somebody_put_into_a_backup_opens_nothing_unless_asked_for(dump: Path, tmp_path: Path) -> None:
    lines = dump.read_bytes().splitlines(keepends=True)
    token = Token.make()
    row = {
        "id": token.id,
        "name": "x",
        "digest": token.digest,
        "scopes": "admin",
        "created": "2026-03-04T10:00:00.000Z",
    }
    added = {"backup": "access_keys", "row": row | {"revoked": None, "last_used": None}}
    (tmp_path / "added").write_bytes(sealed([*lines[:-1], json.dumps(added).encode() + b"\n"]))
    for with_keys in (False, True):
        with open_store(f"sqlite:///{tmp_path / f'target-{with_keys}'}") as store:
            assert restore(tmp_path / "added", store, keys=with_keys).number == 3
            found = AccessKeys(store).check(token)
            assert found is not None
            assert (found.revoked is None) == with_keys
