"""``fitcheck records person`` and ``erase``: what is kept of a person, and what an erasure tells."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from pathlib import Path

import pytest

from fitcheck.records import RecordFilter, Store, open_store, verify
from fitcheck.records.exchange.exporting import of_person
from fitcheck.records.keys import AccessKeys

Captured = pytest.CaptureFixture[str]
Run = Callable[..., int]


def test_a_person_gets_all_that_is_kept_of_them(yard: Store, run: Run, tmp_path: Path, capsys: Captured) -> None:
    person = yard.following(0, 1)[0].person
    assert person is not None
    theirs = [record.id for record in of_person(yard, person)]
    file = tmp_path / "theirs.ndjson"
    assert run("person", person, "--export", str(file)) == 0
    lines = [json.loads(line) for line in file.read_text(encoding="utf-8").splitlines()]
    assert [line["id"] for line in lines] == theirs
    assert all(json.loads(line["received"])["person"]["id"] == person for line in lines)
    assert run("person", person) == 0
    assert capsys.readouterr().out.startswith(f"{person} fitted in {len(theirs)} record")


def answer(text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO(text))


def test_a_person_is_erased_only_when_the_id_is_written_again(
    yard: Store, run: Run, monkeypatch: pytest.MonkeyPatch, capsys: Captured
) -> None:
    person = yard.following(0, 1)[0].person
    assert person is not None
    count = len([*of_person(yard, person)])
    for text in ("yes\n", "", "\n"):
        answer(text, monkeypatch)
        assert run("erase", person, "--reason", "asked for") == 1
        assert "Nothing was erased." in capsys.readouterr().err
    assert yard.head().number == 6
    answer(f"{person}\n", monkeypatch)
    assert run("erase", person, "--reason", "asked for") == (2 if yard.file is None else 0)
    assert f"Erased: {person} from {count} record" in capsys.readouterr().out
    assert yard.records(RecordFilter(person=person), limit=9) == []
    assert json.loads(yard.following(6, 1)[0].answer)["reason"] == "asked for"
    assert list(verify(yard)) == []
    assert run("erase", person, "--reason", "asked again", "--yes") == 1
    assert "no record of" in capsys.readouterr().out


def test_a_person_of_whom_there_is_an_access_key_alone_is_forgotten_too(
    yard: Store, run: Run, capsys: Captured
) -> None:
    keys = AccessKeys(yard)
    made, token = keys.make("S-77", ["mark"], holder="person")
    keys.make("S-77", ["assess"])
    before = yard.head()
    assert run("person", "S-77") == 0
    assert capsys.readouterr().out.splitlines()[1] == f"Access keys of S-77: {made.id}."
    assert run("erase", "S-77", "--reason", "asked for", "--yes") == 0
    assert made.id in capsys.readouterr().out
    found = keys.check(token)
    assert found is not None
    assert (found.name, found.revoked is None) == ("(erased)", False)
    assert [key.name for key in keys.every() if key.revoked is None] == ["S-77"]
    assert yard.head() == before
    assert run("erase", "S-77", "--reason", "asked for", "--yes") == 1


def test_what_is_left_of_an_erased_person_is_told_with_a_status_of_its_own(
    yard: Store, run: Run, capsys: Captured, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("fitcheck.records.sweeping._PATIENCE_S", 0.1)
    person = yard.following(0, 1)[0].person
    assert person is not None
    AccessKeys(yard).make(f"tablet of {person}", ["read"])
    with open_store(yard.url) as other, other.snapshot() as reading:
        reading.exec_driver_sql("SELECT count(*) FROM contents").all()
        assert run("erase", person, "--reason", "asked for", "--yes") == 2
        said = capsys.readouterr()
        assert f"Erased: {person}" in said.out
        assert ("older transaction is open" if yard.file is None else "-wal") in said.err
        assert "in the name of access key" in said.err
        assert run("sweep") == 2
    capsys.readouterr()
    if yard.file is None:
        # PostgreSQL's log keeps what it has until it is overwritten.
        assert run("sweep") == 2
        assert [line.partition(" (")[0] for line in capsys.readouterr().err.splitlines()] == ["The server's log"]
    else:
        assert run("sweep") == 0
        assert "Nothing that was erased lies" in capsys.readouterr().out


def test_a_reason_that_names_the_person_is_refused(yard: Store, run: Run, capsys: Captured) -> None:
    person = yard.following(0, 1)[0].person
    assert person is not None
    assert run("erase", person, "--reason", f"{person} asked for it", "--yes") == 65
    assert "must not name the person" in capsys.readouterr().err
    assert yard.head().number == 6
