"""On a disk that may only be read nothing is missed that the log alone has, and it is written once that may be."""

from __future__ import annotations

import shutil
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from fitcheck.records import Draft, Store, StoreError, StoreReadOnly, open_store, verify
from fitcheck.records.backup import back_up, restore
from fitcheck.records.keys import AccessKeys
from tests.support.mounts import mount, unmount

Make = Callable[..., Draft]
FILES = ("records.sqlite3", "records.sqlite3-wal", "records.sqlite3-shm")


def as_after_a_kill(store: Store, folder: Path, files: tuple[str, ...] = FILES) -> str:
    """The address of what a kill of all who use ``store`` would leave, in ``folder``."""
    assert store.file is not None
    for name in files:
        shutil.copy(store.file.with_name(name), folder / name)
    return f"sqlite:///{folder / FILES[0]}"


def test_what_the_log_has_is_read_and_a_key_that_was_revoked_in_it_opens_nothing(
    sqlite_store: Store, small_disk: Path, tmp_path: Path, draft: Make
) -> None:
    made, token = AccessKeys(sqlite_store).make("the yard's tablet", ["read"])
    sqlite_store.close()  # Who lets go of the file as the last one empties the log into it.
    kept = sqlite_store.keep(draft()).record
    AccessKeys(sqlite_store).revoke(made.id)
    url = as_after_a_kill(sqlite_store, small_disk)
    assert mount("-o", "remount,ro", str(small_disk))
    with open_store(url) as store:
        assert store.record(kept.id) == kept
        found = AccessKeys(store).check(token)
        assert found is not None
        assert found.revoked is not None
        assert list(verify(store)) == []
        assert back_up(store, tmp_path / "backup") == store.head() == sqlite_store.head()
        with pytest.raises(StoreReadOnly, match="may be read"):
            store.keep(draft())
        assert mount("-o", "remount,rw", str(small_disk))
        assert store.keep(draft()).record.number == 2
        assert list(verify(store)) == []


def test_a_store_and_a_backup_on_such_a_disk_are_backed_up_and_restored(
    sqlite_store: Store, small_disk: Path, tmp_path: Path, draft: Make
) -> None:
    sqlite_store.keep(draft())
    sqlite_store.close()
    url = as_after_a_kill(sqlite_store, small_disk, FILES[:1])
    head = back_up(sqlite_store, small_disk / "backup")
    assert mount("-o", "remount,ro", str(small_disk))
    with open_store(url) as store:
        assert back_up(store, tmp_path / "backup") == head
    for file in (small_disk / "backup", small_disk / FILES[0], tmp_path / "backup"):
        with open_store(f"sqlite:///{tmp_path / 'other.sqlite3'}") as other:
            assert restore(file, other, replace=True) == head


def test_a_log_that_cannot_be_read_is_not_passed_over(sqlite_store: Store, small_disk: Path, draft: Make) -> None:
    sqlite_store.keep(draft())
    url = as_after_a_kill(sqlite_store, small_disk, FILES[:2])
    assert mount("-o", "remount,ro", str(small_disk))
    with pytest.raises(StoreError, match="cannot be opened"):
        open_store(url)


def test_a_disk_that_can_be_written_again_is_written_though_others_read_all_the_time(
    sqlite_store: Store, small_disk: Path, draft: Make
) -> None:
    kept = sqlite_store.keep(draft()).record
    url = as_after_a_kill(sqlite_store, small_disk)
    assert mount("-o", "remount,ro", str(small_disk))
    ended = threading.Event()
    wrong: list[object] = []
    with open_store(url) as store:

        def read() -> None:
            while not ended.is_set():
                with store.reading():
                    ended.wait(0.01)
                if (found := store.record(kept.id)) != kept:
                    wrong.append(found)

        readers = [threading.Thread(target=read) for _ in range(4)]
        for reader in readers:
            reader.start()
        try:
            with pytest.raises(StoreReadOnly):
                store.keep(draft())
            assert mount("-o", "remount,rw", str(small_disk))
            assert store.keep(draft()).record.number == 2
        finally:
            ended.set()
            for reader in readers:
                reader.join()
        assert wrong == []
        assert list(verify(store)) == []


def test_a_mount_that_may_only_be_read_laid_over_the_folder_keeps_out_those_who_had_it_open(
    sqlite_store: Store, small_disk: Path, draft: Make
) -> None:
    sqlite_store.close()
    with open_store(as_after_a_kill(sqlite_store, small_disk, FILES[:1])) as store:
        kept = store.keep(draft()).record
        assert mount("--bind", str(small_disk), str(small_disk))
        try:
            assert mount("-o", "remount,bind,ro", str(small_disk))
            with pytest.raises(StoreReadOnly):
                store.keep(draft())
            assert store.record(kept.id) == kept
        finally:
            unmount(small_disk)
        assert store.keep(draft()).record.number == 2
