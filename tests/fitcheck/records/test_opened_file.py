"""A store whose file was removed, moved or replaced keeps nothing more, and says so."""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from fitcheck.records import Draft, Idempotency, Store, StoreReplaced, open_store, verify
from fitcheck.records.backup import back_up, restore
from tests.support.databases import sqlite_file

Make = Callable[..., Draft]
KEY = Idempotency("send-1", "", "sha256:1")


def removed(file: Path) -> None:
    file.unlink()


def removed_with_its_log(file: Path) -> None:
    for path in file.parent.glob("records.sqlite3*"):
        path.unlink()


def folder_removed(file: Path) -> None:
    shutil.rmtree(file.parent)


def folder_moved(file: Path) -> None:
    file.parent.rename(file.parent.with_name("elsewhere"))


def replaced(file: Path) -> None:
    with open_store(f"sqlite:///{file.parent / 'other'}"):
        pass
    (file.parent / "other").replace(file)


def log_removed(file: Path) -> None:
    Path(f"{file}-wal").unlink()


def index_of_the_log_removed(file: Path) -> None:
    Path(f"{file}-shm").unlink()


BLOWS = (
    removed,
    removed_with_its_log,
    folder_removed,
    folder_moved,
    replaced,
    log_removed,
    index_of_the_log_removed,
)


@pytest.mark.parametrize("blow", BLOWS)
@pytest.mark.parametrize("used", [False, True])
def test_nothing_is_kept_in_a_file_that_is_no_longer_at_its_path(
    sqlite_url: str, draft: Make, blow: Callable[[Path], None], *, used: bool
) -> None:
    file = sqlite_file(sqlite_url)
    with open_store(sqlite_url) as store:
        if used:
            store.keep(draft(), KEY)
        blow(file)
        lies_there = file.exists() and file.stat()
        for keep in (
            lambda: store.keep(draft()),
            lambda: store.keep(draft(), KEY),
            lambda: store.keep_many([draft()]),
            lambda: store.erase("A-3", reason="asked", created="2026-04-01T09:00:00.000Z"),
            store.head,
            lambda: list(verify(store)),
        ):
            with pytest.raises(StoreReplaced, match="removed, moved or replaced"):
                keep()
        # Nor is a new file made in its place.
        assert (file.exists() and file.stat()) == lies_there


def test_an_erasure_leaves_the_locks_that_this_process_has_on_the_file(sqlite_url: str, draft: Make) -> None:
    """Another process would else take itself for the last, and the log away."""
    with open_store(sqlite_url) as store:
        store.keep_many([draft(), draft(person="A-7")])
        store.erase("A-7", reason="asked", created="2026-04-01T09:00:00.000Z")
        reads = "import sqlite3, sys; sqlite3.connect(sys.argv[1]).execute('SELECT 1 FROM head').fetchall()"
        subprocess.run([sys.executable, "-c", reads, str(sqlite_file(sqlite_url))], check=True)
        assert store.keep(draft()).record.number == 4
        assert list(verify(store)) == []


def test_a_file_that_is_put_back_is_used_again(sqlite_url: str, draft: Make) -> None:
    folder = sqlite_file(sqlite_url).parent
    with open_store(sqlite_url) as store:
        store.keep(draft())
        folder.rename(folder.with_name("elsewhere"))
        with pytest.raises(StoreReplaced):
            store.keep(draft())
        folder.with_name("elsewhere").rename(folder)
        assert store.keep(draft()).record.number == 2
        assert list(verify(store)) == []


def test_a_file_removed_amid_a_transaction_takes_nothing(
    sqlite_url: str, draft: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = sqlite_file(sqlite_url)
    aside = file.with_name("aside")
    with open_store(sqlite_url) as store:
        store.keep(draft())
        writing = store.writing

        @contextmanager
        def removing() -> Iterator[object]:
            with writing() as connection:
                yield connection
                file.rename(aside)

        monkeypatch.setattr(store, "writing", removing)
        with pytest.raises(StoreReplaced):
            store.keep(draft())
        monkeypatch.undo()
        aside.rename(file)
        assert store.head().number == 1


def test_a_file_removed_as_it_is_committed_is_not_acknowledged(
    sqlite_url: str, draft: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = sqlite_file(sqlite_url)
    with open_store(sqlite_url) as store:
        store.keep(draft())

        def commit(driver: Any) -> None:
            driver.commit()
            file.unlink()

        monkeypatch.setattr(store._engine.dialect, "do_commit", commit)
        with pytest.raises(StoreReplaced):
            store.keep(draft())


def test_backups_and_restores_leave_the_file_in_its_place(sqlite_store: Store, tmp_path: Path, draft: Make) -> None:
    sqlite_store.keep(draft())
    head = back_up(sqlite_store, tmp_path / "backup")
    sqlite_store.keep(draft())
    with open_store(sqlite_store.url) as other:
        assert restore(tmp_path / "backup", other, replace=True) == head
    assert sqlite_store.head() == head
    assert sqlite_store.keep(draft()).record.number == 2


def test_a_path_with_signs_of_an_address_is_a_path(tmp_path: Path, draft: Make) -> None:
    with open_store(f"sqlite:///{tmp_path / 'a %3f#b' / 'x%20y.sqlite3'}") as store:
        store.keep(draft())
        assert store.file is not None
        assert store.file.exists()
        assert store.head().number == 1
