"""Sessions of practice in a store: kept once, never among records, taken along, and gone with their person."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from pathlib import Path

import pytest

from fitcheck.cli import main
from fitcheck.records import Draft, RecordFilter, RequestErased, Store, open_store, verify
from fitcheck.records.backup import back_up, restore
from fitcheck.records.exchange.importing import Importer
from fitcheck.records.exchange.practised import practice_lines
from fitcheck.records.practice import PracticeReused, PracticeSessions
from rules import shipped_rulebook
from tests.support.practised import session

Make = Callable[..., Draft]


def test_a_session_is_kept_once_and_another_of_its_id_is_refused(store: Store) -> None:
    practice, first = PracticeSessions(store), session(1)
    stored, fresh = practice.keep("A-1", first)
    assert fresh
    assert practice.keep("A-1", first) == (stored, False)
    assert practice.one("A-1", first.id) == stored
    assert practice.one("A-2", first.id) is None
    for person, other in (("A-2", first), ("A-1", session(2).model_copy(update={"id": first.id}))):
        with pytest.raises(PracticeReused, match="another session"):
            practice.keep(person, other)
    assert practice.count("A-1") == 1


def test_sessions_are_listed_the_latest_first_and_read_on_from_any_of_them(store: Store) -> None:
    practice = PracticeSessions(store)
    for seed, day in ((1, 3), (2, 1), (3, 2), (4, 2)):
        practice.keep("A-1", session(seed, "gap" if seed == 3 else "toe", day=day))
    practice.keep("A-2", session(9))
    every = practice.of_person("A-1", limit=9)
    assert [each.session.ended[8:10] for each in every] == ["03", "02", "02", "01"]
    assert practice.of_person("A-1", before=every[1], limit=9) == every[2:]
    assert [each.session.exercise for each in practice.of_person("A-1", exercise="gap", limit=9)] == ["gap"]
    assert practice.of_person("A-1\0", limit=9) == []
    assert {each.person for each in practice.every()} == {"A-1", "A-2"}
    assert len([*practice.every("A-1")]) == 4


def test_practice_is_no_record(store: Store, draft: Make) -> None:
    store.keep(draft(person="A-1"))
    head = store.head()
    PracticeSessions(store).keep("A-1", session(1))
    assert store.head() == head
    assert [record.kind for record in store.records(RecordFilter(person="A-1"), limit=9)] == ["assessment"]
    assert list(verify(store)) == []


def test_erasing_a_person_erases_the_sessions_and_none_comes_back(store: Store, draft: Make) -> None:
    practice = PracticeSessions(store)
    store.keep(draft(person="A-1"))
    practice.keep("A-1", session(1))
    practice.keep("A-1", session(2))
    practice.keep("A-2", session(3))
    erasure = store.erase("A-1", reason="asked for", created="2026-04-01T09:00:00.000Z")
    assert erasure is not None
    assert json.loads(erasure.record.answer) == {"erased": [1], "practice": 2, "reason": "asked for"}
    assert [each.person for each in practice.every()] == ["A-2"]
    with pytest.raises(RequestErased):
        practice.keep("A-1", session(2))
    with pytest.raises(RequestErased):
        practice.keep("A-9", session(1))
    assert list(verify(store)) == []
    if store.file is not None:
        assert erasure.left == ()
        assert session(1).id.encode() not in store.file.read_bytes()


def test_a_person_who_only_practised_is_erased_too(store: Store) -> None:
    PracticeSessions(store).keep("A-1", session(1))
    erasure = store.erase("A-1", reason="asked for", created="2026-04-01T09:00:00.000Z")
    assert erasure is not None
    assert json.loads(erasure.record.answer) == {"erased": [], "practice": 1, "reason": "asked for"}
    assert PracticeSessions(store).count("A-1") == 0
    assert list(verify(store)) == []
    assert store.erase("A-1", reason="asked again", created="2026-04-01T09:00:01.000Z") is None


def test_a_backup_has_the_sessions_on_either_database(store: Store, draft: Make, tmp_path: Path) -> None:
    store.keep(draft())
    PracticeSessions(store).keep("A-1", session(1))
    PracticeSessions(store).keep("A-3", session(2))
    store.erase("A-3", reason="asked for", created="2026-04-01T09:00:00.000Z")
    back_up(store, tmp_path / "backup")
    with open_store(f"sqlite:///{tmp_path / 'other.sqlite3'}") as other:
        restore(tmp_path / "backup", other)
        assert [*PracticeSessions(other).every()] == [*PracticeSessions(store).every()]
        with pytest.raises(RequestErased):
            PracticeSessions(other).keep("A-3", session(2))


def test_an_export_has_them_and_they_are_taken_in_again_once(store: Store, tmp_path: Path) -> None:
    PracticeSessions(store).keep("A-1", session(1))
    PracticeSessions(store).keep("A-2", session(2))
    lines = [*practice_lines(PracticeSessions(store).every())]
    bad = json.dumps(json.loads(lines[0]) | {"person": "Anna Berg"}).encode() + b"\n"
    with open_store(f"sqlite:///{tmp_path / 'other.sqlite3'}") as other:
        importer = Importer(other, shipped_rulebook)
        found = [*importer.take(io.BytesIO(b"".join([*lines, *lines, bad])), "ndjson")]
        assert [(each.line, each.problem.field) for each in found] == [(5, "path.person")]
        assert dict(importer.counts) == {"practised": 2, "known": 2, "bad": 1}
        assert [each.session for each in PracticeSessions(other).every()] == [session(1), session(2)]


def test_the_command_writes_names_and_erases_them(
    store: Store, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    if store.file is None:
        pytest.skip("once is enough")
    PracticeSessions(store).keep("A-1", session(1))
    PracticeSessions(store).keep("A-2", session(2))
    where = ["--records", f"sqlite:///{store.file}"]
    assert main(["records", "person", "A-1", *where]) == 0
    assert "A-1 practised in 1 session of practice." in capsys.readouterr().out
    for arguments, count in (
        (["person", "A-1", "--export"], 1),
        (["export", "--output"], 2),
        (["export", "--person", "A-2", "--output"], 1),
        (["export", "--horse", "H-1", "--output"], 0),
    ):
        assert main(["records", *arguments, str(tmp_path / "out"), *where]) == 0
        assert (tmp_path / "out").read_bytes().count(b'"practice":') == count
    monkeypatch.setattr("sys.stdin", io.StringIO("A-1\n"))
    capsys.readouterr()
    assert main(["records", "erase", "A-1", "--reason", "asked for", *where]) == 0
    said = capsys.readouterr()
    assert "erases 1 session of practice" in said.err
    assert "Erased: A-1 from 0 records, with their contents, and 1 session of practice." in said.out
