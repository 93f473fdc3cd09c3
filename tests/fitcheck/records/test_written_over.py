"""A store whose file was written over is refused until it is opened anew, and no other is."""

from __future__ import annotations

import gc
import shutil
import sqlite3
import threading
import time
from collections.abc import Callable, Sequence
from contextlib import closing
from pathlib import Path

import pytest
import sqlalchemy as sa

from fitcheck.records import Draft, Idempotency, Store, StoreReplaced, StoreUnavailable, open_store, verify
from fitcheck.records.backup import back_up, restore
from tests.support.databases import sqlite_file

Make = Callable[..., Draft]
KEY = Idempotency("send-1", "", "sha256:1")


def a_backup(store: Store, file: Path) -> None:
    back_up(store, file)


def another_store(_store: Store, file: Path) -> None:
    with open_store(f"sqlite:///{file}"):
        pass


def something_else(_store: Store, file: Path) -> None:
    file.write_bytes(b"no database" * 1000)


def unavailable() -> None:
    raise StoreUnavailable("too many open files")


def nothing(_store: Store, file: Path) -> None:
    file.touch()


@pytest.mark.parametrize("make", [a_backup, another_store, something_else, nothing])
def test_nothing_is_kept_in_a_file_that_was_written_over(
    sqlite_store: Store, tmp_path: Path, draft: Make, make: Callable[[Store, Path], None]
) -> None:
    sqlite_store.keep(draft())
    make(sqlite_store, tmp_path / "other")
    before = sqlite_store.keep(draft()).record.number
    assert sqlite_store.file is not None
    was = sqlite_store.file.stat().st_ino
    shutil.copyfile(tmp_path / "other", sqlite_store.file)
    assert sqlite_store.file.stat().st_ino == was
    for keep in (lambda: sqlite_store.keep(draft()), lambda: sqlite_store.keep(draft(), KEY), sqlite_store.try_writing):
        with pytest.raises(StoreReplaced, match="written over"):
            keep()
    assert before == 2


def written_from_the_log(file: Path) -> None:
    with closing(sqlite3.connect(file)) as connection:
        assert connection.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchone()[0] == 0


def test_nothing_is_kept_in_a_file_that_was_written_over_by_an_older_copy_of_its_own(
    sqlite_store: Store, tmp_path: Path, draft: Make
) -> None:
    """A copy has the store's own mark, and SQLite, which keeps pages of the file, would go on."""
    file = sqlite_store.file
    assert file is not None
    sqlite_store.keep(draft())
    written_from_the_log(file)
    shutil.copyfile(file, tmp_path / "copy")
    with open_store(sqlite_store.url) as another_process:
        sqlite_store.keep(draft())
        written_from_the_log(file)
        sqlite_store.require_same_file()
        another_process.require_same_file()
        shutil.copyfile(tmp_path / "copy", file)
        for store in (sqlite_store, another_process):
            for keep in (lambda: store.keep(draft()), store.try_writing):  # noqa: B023  (called at once)
                with pytest.raises(StoreReplaced, match="written over"):
                    keep()


@pytest.mark.parametrize("looks", ["reads", "keeps"])
def test_a_store_that_was_written_over_is_used_again_only_when_it_is_opened_anew(
    sqlite_url: str, tmp_path: Path, draft: Make, looks: str
) -> None:
    """SQLite may keep pages of what was written over it, though the file was put back, and records be lost by them."""
    file = sqlite_file(sqlite_url)
    with open_store(sqlite_url) as store:
        store.keep(draft())
        written_from_the_log(file)
        shutil.copyfile(file, tmp_path / "older")
        store.keep_many([draft() for _ in range(40)])
        written_from_the_log(file)
        store.require_same_file()
        shutil.copyfile(file, tmp_path / "newer")
        shutil.copyfile(tmp_path / "older", file)
        look = store.head if looks == "reads" else lambda: store.keep(draft())
        with pytest.raises(StoreReplaced, match="written over"):
            look()
        shutil.copyfile(tmp_path / "newer", file)
        for again in (store.head, lambda: list(verify(store)), lambda: store.keep(draft()), store.try_writing):
            with pytest.raises(StoreReplaced, match="start it anew"):
                again()
    with open_store(sqlite_url) as store:
        assert store.keep(draft()).record.number == 42
        assert list(verify(store)) == []


def an_older_copy(store: Store, file: Path) -> None:
    assert store.file is not None
    written_from_the_log(store.file)
    shutil.copyfile(store.file, file)


@pytest.mark.parametrize("make", [a_backup, another_store, an_older_copy])
def test_a_file_that_was_written_over_is_not_opened_beside_the_log_of_another(
    sqlite_store: Store, tmp_path: Path, draft: Make, make: Callable[[Store, Path], None]
) -> None:
    """By a command, while a service has it open; or after a kill, which leaves the log."""
    sqlite_store.keep(draft())
    make(sqlite_store, tmp_path / "other")
    assert sqlite_store.file is not None
    for _ in range(2):
        sqlite_store.keep_many([draft() for _ in range(20)])
        written_from_the_log(sqlite_store.file)
    sqlite_store.keep(draft())
    shutil.copyfile(sqlite_store.file, tmp_path / "was there")
    shutil.copyfile(tmp_path / "other", sqlite_store.file)
    with pytest.raises(StoreReplaced, match="not of one moment"):
        open_store(sqlite_store.url)
    shutil.copyfile(tmp_path / "was there", sqlite_store.file)
    with open_store(sqlite_store.url) as opened:
        assert opened.head().number == 42
        assert list(verify(opened)) == []


def test_a_look_while_the_last_connection_goes_and_another_comes_finds_no_fault(
    sqlite_store: Store, draft: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As where the disk of a service can be written again, and all connections are made anew."""
    sqlite_store.keep(draft())
    assert sqlite_store._opened is not None
    written_from_the_log(sqlite_file(sqlite_store.url))
    look = sqlite_store._opened._require_same_header

    def closed_just_then() -> None:
        sqlite_store.close()
        assert sqlite_store._opened is not None
        sqlite_store._opened._connect(None, None, [""], {"uri": True})
        look()

    monkeypatch.setattr(sqlite_store._opened, "_require_same_header", closed_just_then)
    sqlite_store._opened._seen = 0, 0
    sqlite_store._opened.require_same()
    monkeypatch.undo()
    assert sqlite_store.keep(draft()).record.number == 2


def test_a_store_that_is_closed_amid_a_reading_may_go_on_with_another_log(sqlite_store: Store, draft: Make) -> None:
    sqlite_store.keep(draft())
    with sqlite_store._engine.connect():
        sqlite_store.close()
    gc.collect()
    log = Path(f"{sqlite_store.file}-wal")
    assert not log.exists()
    # Else the new log might have the old one's inode.
    log.with_name("another").touch()
    assert sqlite_store.keep(draft()).record.number == 2
    assert log.exists()


def test_a_connection_that_could_not_be_looked_at_once_leaves_nothing_behind(
    sqlite_store: Store, draft: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As where a process had too many files open for a moment: the pool keeps its place, but no connection."""
    sqlite_store.keep(draft())
    engine = sqlite_store._engine

    def end_all(connections: Sequence[sa.Connection]) -> None:
        for connection in connections:
            connection.invalidate()
            connection.close()

    end_all([engine.connect(), engine.connect()])
    with monkeypatch.context() as patched:
        patched.setattr(sqlite_store._opened, "_header_in_file", unavailable)
        with pytest.raises(StoreUnavailable):
            engine.connect()
    end_all([engine.connect()])
    log = Path(f"{sqlite_store.file}-wal")
    assert not log.exists()
    # Else the new log might have the old one's inode.
    log.with_name("another").touch()
    assert sqlite_store.keep(draft()).record.number == 2


def test_a_store_is_opened_while_its_log_begins_anew_again_and_again(sqlite_store: Store, draft: Make) -> None:
    ends = time.monotonic() + 1.5
    failed: list[Exception] = []

    def keep_and_begin_anew() -> None:
        try:
            while time.monotonic() < ends:
                sqlite_store.keep(draft())
                with closing(sqlite3.connect(str(sqlite_store.file))) as connection:
                    connection.execute("PRAGMA wal_checkpoint(RESTART)").fetchall()
        except Exception as error:  # noqa: BLE001  (told below)
            failed.append(error)

    writer = threading.Thread(target=keep_and_begin_anew)
    writer.start()
    opened = 0
    while writer.is_alive():
        with open_store(sqlite_store.url) as another:
            assert another.head().number >= 0
        opened += 1
    writer.join()
    assert failed == []
    assert opened > 20


def test_a_copy_of_before_the_file_was_written_anew_is_older(sqlite_url: str, tmp_path: Path, draft: Make) -> None:
    """VACUUM puts other pages in other places, whatever was kept."""
    file = sqlite_file(sqlite_url)
    with open_store(sqlite_url) as store, open_store(sqlite_url) as another_process:
        store.keep_many([draft() for _ in range(20)])
        written_from_the_log(file)
        shutil.copyfile(file, tmp_path / "copy")
        another_process.sweep()
        store.require_same_file()
        shutil.copyfile(tmp_path / "copy", file)
        with pytest.raises(StoreReplaced, match="written over"):
            store.keep(draft())


def test_a_store_that_has_a_mark_keeps_it_when_it_is_brought_up_to_date(sqlite_url: str, draft: Make) -> None:
    """A service that has it open would take another mark for another store."""
    file = sqlite_file(sqlite_url)
    with open_store(sqlite_url) as store:
        store.keep(draft())
    with closing(sqlite3.connect(file)) as connection:
        before = connection.execute("PRAGMA user_version").fetchone()
        connection.execute("UPDATE records_schema SET version_num = '0007'")
        connection.execute("DROP INDEX records_day")
        connection.commit()
    with open_store(sqlite_url) as store:
        assert store.keep(draft()).record.number == 2
    with closing(sqlite3.connect(file)) as connection:
        assert connection.execute("PRAGMA user_version").fetchone() == before


def test_nothing_is_lost_by_a_copy_that_is_equal_to_the_file(sqlite_url: str, tmp_path: Path, draft: Make) -> None:
    file = sqlite_file(sqlite_url)
    with open_store(sqlite_url) as store:
        store.keep(draft())
        written_from_the_log(file)
        store.keep(draft())
        shutil.copyfile(file, tmp_path / "copy")
        store.keep(draft())
        shutil.copyfile(tmp_path / "copy", file)
        assert store.keep(draft()).record.number == 4
    with open_store(sqlite_url) as store:
        assert [store.head().number, list(verify(store))] == [4, []]


def test_numbers_of_transactions_begin_anew_after_the_greatest(sqlite_url: str, tmp_path: Path, draft: Make) -> None:
    file = sqlite_file(sqlite_url)
    with open_store(sqlite_url):
        pass
    with closing(sqlite3.connect(file)) as connection:
        connection.execute(f"PRAGMA application_id = {2**31 - 2}")
    shutil.copyfile(file, tmp_path / "copy")
    with open_store(sqlite_url) as store:
        for _ in range(3):
            store.keep(draft())
            written_from_the_log(file)
        with closing(sqlite3.connect(file)) as connection:
            assert connection.execute("PRAGMA application_id").fetchone() == (1,)
        store.require_same_file()
        shutil.copyfile(tmp_path / "copy", file)
        with pytest.raises(StoreReplaced):
            store.keep(draft())


def test_a_file_that_is_just_being_written_from_the_log_is_the_same(sqlite_store: Store, draft: Make) -> None:
    """Page 1, with the number of pages, may be written before the last of them."""
    sqlite_store.close()
    assert sqlite_store.file is not None
    content = bytearray(sqlite_store.file.read_bytes())
    sqlite_store.keep(draft())
    content[28:32] = (int.from_bytes(content[28:32], "big") + 9).to_bytes(4, "big")
    with sqlite_store.file.open("r+b") as stream:
        stream.write(content)
    sqlite_store.require_same_file()


def test_backups_and_restores_and_sweeps_keep_the_mark_of_the_store(
    sqlite_url: str, tmp_path: Path, draft: Make
) -> None:
    def mark(file: Path) -> int:
        with closing(sqlite3.connect(file)) as connection:
            return int(connection.execute("PRAGMA user_version").fetchone()[0])

    with open_store(sqlite_url) as store:
        store.keep(draft())
        own = mark(sqlite_file(sqlite_url))
        back_up(store, tmp_path / "one")
        back_up(store, tmp_path / "two")
        assert restore(tmp_path / "one", store, replace=True).number == 1
        store.sweep()
        assert store.keep(draft()).record.number == 2
    marks = {own, mark(tmp_path / "one"), mark(tmp_path / "two")}
    assert len(marks) == 3
    assert 0 not in marks
    assert mark(sqlite_file(sqlite_url)) == own
