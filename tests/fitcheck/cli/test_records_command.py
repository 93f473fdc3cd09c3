"""The command ``fitcheck records``: what it prints, what it writes, and the exit statuses that scripts rely on."""

from __future__ import annotations

import io
import json
import stat
from collections.abc import Callable
from pathlib import Path

import pytest

from fitcheck.cli import main
from fitcheck.records import GENESIS, SETTING, Head, Store, open_store, verify
from fitcheck.records.keys import AccessKeys
from tests.support.kept_fittings import demo_bodies, kept_fittings

Captured = pytest.CaptureFixture[str]
Run = Callable[..., int]


def test_head_prints_what_verify_takes_back(yard: Store, run: Run, capsys: Captured) -> None:
    assert run("head") == 0
    noted = capsys.readouterr().out.strip()
    head = yard.head()
    assert noted == f"6:{head.digest}"
    yard.keep_many([*kept_fittings(1)])
    assert run("verify", "--expect", noted) == 0
    said = capsys.readouterr().out
    assert said.startswith("7 records, each as it was kept. Number 6 is the one that was noted.")
    assert str(yard.head().digest) in said


def test_the_head_of_an_empty_store_is_printed_and_taken_back(run: Run, capsys: Captured) -> None:
    assert run("head") == 0
    noted = capsys.readouterr().out.strip()
    assert noted == f"0:{GENESIS}"
    assert run("verify", "--expect", noted) == 0


@pytest.fixture
def signed(yard: Store, run: Run, capsys: Captured, tmp_path: Path) -> Path:
    """A signed head of six records and two access keys, of which one is revoked."""
    keys = AccessKeys(yard)
    keys.make("tablet", ["read"])
    keys.revoke(keys.make("lost", ["admin"])[0].id)
    capsys.readouterr()
    assert run("head", "--sign", str(tmp_path / "key.pem")) == 0
    file = tmp_path / "head.json"
    file.write_text(capsys.readouterr().out, encoding="utf-8")
    return file


def test_a_signed_head_stays_good_while_records_and_keys_come(
    yard: Store, run: Run, capsys: Captured, signed: Path, tmp_path: Path
) -> None:
    assert stat.S_IMODE((tmp_path / "key.pem").stat().st_mode) == 0o600
    public = json.loads(signed.read_text(encoding="utf-8"))["signed_by"]
    yard.keep_many([*kept_fittings(1)])
    keys = AccessKeys(yard)
    keys.make("another", ["admin"])
    keys.revoke(next(key.id for key in keys.every() if key.revoked is None))
    assert run("verify", "--signed-head", str(signed)) == 0
    assert "Look whether you noted that key" in capsys.readouterr().out
    assert run("verify", "--signed-head", str(signed), "--public-key", public) == 0
    assert f"by {public}" in capsys.readouterr().out
    # The same key signs the next.
    assert run("head", "--sign", str(tmp_path / "key.pem")) == 0
    assert json.loads(capsys.readouterr().out)["signed_by"] == public


@pytest.mark.parametrize(
    ("edit", "kind"),
    [
        ("DELETE FROM access_keys WHERE name = 'tablet'", "key"),
        ("UPDATE access_keys SET scopes = 'admin' WHERE name = 'tablet'", "key"),
        ("UPDATE access_keys SET digest = 'x' WHERE name = 'tablet'", "key"),
        ("UPDATE access_keys SET revoked = NULL", "key"),
    ],
)
def test_an_access_key_that_was_changed_is_found_by_a_signed_head(
    yard: Store, run: Run, capsys: Captured, signed: Path, edit: str, kind: str
) -> None:
    with yard._engine.begin() as connection:
        connection.exec_driver_sql(edit)
    assert run("verify", "--signed-head", str(signed)) == 1
    assert [line.split(": ")[1] for line in capsys.readouterr().out.splitlines()] == [kind]


def test_a_tail_cut_off_with_its_head_is_found_by_a_signed_head(
    yard: Store, run: Run, capsys: Captured, signed: Path, tmp_path: Path
) -> None:
    whole = yard.following(0, 9)
    with open_store(f"sqlite:///{tmp_path / 'rewritten'}") as rewritten:
        rewritten.keep_many([*kept_fittings(5)])
        assert list(verify(rewritten)) == []
        words = ["--records", rewritten.url]
        assert main(["records", "verify", "--signed-head", str(signed), *words]) == 1
        told = [line.split(": ")[:2] for line in capsys.readouterr().out.splitlines()]
        assert ["record 6", "expected"] in told
        rewritten.keep_many([*kept_fittings(4)])
        assert main(["records", "verify", "--signed-head", str(signed), *words]) == 1
        assert "written anew" in capsys.readouterr().out
    noted = f"3:{whole[2].digest}"
    assert run("verify", "--signed-head", str(signed), "--expect", noted) == 0
    assert run("verify", "--signed-head", str(signed), "--expect", f"3:{whole[3].digest}") == 1


def test_what_is_no_signed_head_or_of_another_key_is_bad_input(
    run: Run, capsys: Captured, signed: Path, tmp_path: Path
) -> None:
    document = json.loads(signed.read_text(encoding="utf-8"))
    wrong = {
        "number": document | {"head": document["head"] | {"number": 5}},
        "keys": document | {"head": document["head"] | {"access_keys": {}}},
        "signature": document | {"signature": document["signature"][::-1]},
        "key": document | {"signed_by": "ed25519:AAAA"},
        "no head": {key: value for key, value in document.items() if key != "head"},
        "list": [],
        "number as text": document | {"head": 7},
    }
    for name, content in wrong.items():
        (tmp_path / "wrong.json").write_text(json.dumps(content), encoding="utf-8")
        assert run("verify", "--signed-head", str(tmp_path / "wrong.json")) == 65, name
    (tmp_path / "wrong.json").write_bytes(b"\xff{")
    assert run("verify", "--signed-head", str(tmp_path / "wrong.json")) == 65
    capsys.readouterr()
    assert run("verify", "--signed-head", str(signed), "--public-key", "ed25519:AAAA") == 65
    assert "Another key signed this head" in capsys.readouterr().err
    assert run("verify", "--public-key", "ed25519:AAAA") == 64
    (tmp_path / "letter").write_text("no key", encoding="utf-8")
    assert run("head", "--sign", str(tmp_path / "letter")) == 65
    assert (tmp_path / "letter").read_text(encoding="utf-8") == "no key"


def test_verify_prints_each_fault_with_its_number_and_kind(yard: Store, run: Run, capsys: Captured) -> None:
    with yard._engine.begin() as connection:
        sqlite = yard._engine.dialect.name == "sqlite"
        for name, table in (("records_never_changed", "records"), ("contents_never_changed", "contents")):
            connection.exec_driver_sql(
                f"DROP TRIGGER {name}" if sqlite else f"ALTER TABLE {table} DISABLE TRIGGER {name}"
            )
        connection.exec_driver_sql("UPDATE records SET decision = 'refused' WHERE number = 3")
        connection.exec_driver_sql("UPDATE records SET created = '2020-01-01T00:00:00.000Z' WHERE number = 5")
    assert run("verify") == 1
    said = capsys.readouterr()
    told = [line.split(": ")[:2] for line in said.out.splitlines()]
    assert told == [["record 3", "content"], ["record 5", "edited"], *[["record 0", "guard"]] * 2]
    assert said.err.strip() == "4 faults found."


def test_a_head_that_is_not_the_stores_is_a_fault(yard: Store, run: Run, capsys: Captured) -> None:
    assert yard.head().number == 6
    assert run("verify", "--expect", f"6:{GENESIS}"[:-1] + "1") == 1
    assert "record 6: expected:" in capsys.readouterr().out


@pytest.mark.parametrize("text", ["6", "sha256:1", "x:sha256:" + "0" * 64, f"06:{GENESIS}", "0:sha256:" + "1" * 64])
def test_what_is_no_head_is_bad_usage(text: str, capsys: Captured) -> None:
    with pytest.raises(SystemExit) as caught:
        main(["records", "verify", "--expect", text])
    assert caught.value.code == 64
    assert "as `fitcheck records head` prints it" in capsys.readouterr().err


@pytest.mark.parametrize("form", ["ndjson", "csv"])
def test_an_export_is_taken_in_by_another_store(
    yard: Store, run: Run, form: str, tmp_path: Path, capsys: Captured
) -> None:
    file = tmp_path / f"export.{form}"
    assert run("export", "--format", form, "--output", str(file)) == 0
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    other = f"sqlite:///{tmp_path / 'new' / 'other.sqlite3'}"
    assert main(["records", "import", str(file), "--records", other]) == 0
    assert "6 records taken in, 0 fittings" in capsys.readouterr().out
    # The form is known by its first byte too.
    bare = file.rename(tmp_path / "export")
    assert main(["records", "import", str(bare), "--records", other]) == 0
    assert "6 known already" in capsys.readouterr().out
    with open_store(other) as taken:
        assert [record.id for record in taken.following(0, 9)] == [record.id for record in yard.following(0, 9)]


def test_an_export_goes_to_standard_output_by_itself(
    yard: Store, run: Run, capsysbinary: pytest.CaptureFixture[bytes]
) -> None:
    assert yard.head().number == 6
    assert run("export", "--horse", "H-2", "--kind", "assessment", "--current") == 0
    (line,) = capsysbinary.readouterr().out.splitlines()
    assert json.loads(line)["horse"] == "H-2"


@pytest.mark.parametrize(
    ("words", "count"),
    [
        ((), 6),
        (("--visit", "=visit 3"), 1),
        (("--since", "2020-01-01"), 6),
        (("--until", "2020-01-01T00:00:00Z"), 0),
        (("--kind", "override"), 0),
        (("--person", "nobody"), 0),
    ],
)
def test_only_what_is_asked_for_is_exported(
    yard: Store, run: Run, words: tuple[str, ...], count: int, capsys: Captured
) -> None:
    assert yard.head().number == 6
    assert run("export", *words) == 0
    said = capsys.readouterr()
    assert len(said.out.splitlines()) == count
    assert said.err == f"{count} written.\n"


@pytest.mark.parametrize(
    "time", ["2026-02-30", "yesterday", "2026-03-04T10:00:00", "2026-03-04T25:00:00Z", "2026-03-04Z"]
)
def test_what_is_no_time_is_bad_usage(time: str, capsys: Captured) -> None:
    with pytest.raises(SystemExit) as caught:
        main(["records", "export", "--since", time])
    assert caught.value.code == 64
    assert "UTC such as" in capsys.readouterr().err


def test_a_time_with_or_without_milliseconds_is_the_same_time(store: Store, run: Run, capsys: Captured) -> None:
    (kept,) = kept_fittings(1)
    store.keep(kept)
    for time, count in (
        (kept.created, 1),
        (kept.created[:19] + "Z", 1),
        (kept.created[:10], 1),
        (kept.created[:19] + ".9999Z", 64),
    ):
        if count == 64:
            with pytest.raises(SystemExit):
                run("export", "--since", time)
        else:
            run("export", "--since", time)
            assert len(capsys.readouterr().out.splitlines()) == count


def test_bad_lines_are_told_and_make_the_status_65(run: Run, tmp_path: Path, capsys: Captured) -> None:
    file = tmp_path / "fittings.ndjson"
    good = json.dumps(json.loads(demo_bodies()[0]))
    file.write_text(f"{good}\n{{\n{good.replace('left', 'middle').replace('right', 'middle')}\n", encoding="utf-8")
    assert run("import", str(file)) == 65
    said = capsys.readouterr()
    assert [line.split(": ")[:2] for line in said.err.splitlines()] == [[str(file), "line 2"], [str(file), "line 3"]]
    assert ": foot: " in said.err
    assert said.out.startswith("0 records taken in, 1 fittings assessed and kept, 0 known already")
    assert "2 bad" in said.out


def test_fittings_come_by_standard_input_and_under_a_yards_book(
    store: Store, run: Run, root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Piped:
        buffer = io.BufferedReader(io.BytesIO(json.dumps(json.loads(demo_bodies()[0])).encode()))

    monkeypatch.setattr("sys.stdin", Piped)
    assert run("import", "-", "--rulebook", str(root / "cases_demo" / "yard_book")) == 0
    (record,) = store.following(0, 9)
    assert json.loads(record.answer)["rulebook"]["id"] == "low-meadow"


def test_a_table_without_columns_is_refused_as_a_whole(run: Run, tmp_path: Path, capsys: Captured) -> None:
    file = tmp_path / "table.csv"
    file.write_text("number;id\n1;2\n", encoding="utf-8")
    assert run("import", str(file)) == 65
    assert "has no column number" in capsys.readouterr().err


@pytest.mark.parametrize("words", [("import",), ("restore",)])
def test_a_file_that_is_not_there_is_told(words: tuple[str, ...], run: Run, tmp_path: Path, capsys: Captured) -> None:
    assert run(*words, str(tmp_path / "nowhere")) == 70
    assert "nowhere: No such file" in capsys.readouterr().err


@pytest.mark.parametrize("words", [("verify",), ("head",), ("export",), ("backup", "B"), ("person", "A-1")])
def test_where_there_is_no_store_none_is_made(words: tuple[str, ...], tmp_path: Path, capsys: Captured) -> None:
    file = tmp_path / "none.sqlite3"
    assert main(["records", *words, "--records", f"sqlite:///{file}"]) == 70
    assert "no record store at that address" in capsys.readouterr().err
    assert not file.exists()


def test_the_setting_names_the_store(yard: Store, monkeypatch: pytest.MonkeyPatch, capsys: Captured) -> None:
    monkeypatch.setenv(SETTING, yard._engine.url.render_as_string(hide_password=False))
    assert main(["records", "head"]) == 0
    assert capsys.readouterr().out.startswith("6:")


def test_a_backup_is_restored_into_an_empty_store_only_unless_told(
    yard: Store, run: Run, tmp_path: Path, capsys: Captured
) -> None:
    file = tmp_path / "backup"
    assert run("backup", str(file)) == 0
    head = yard.head()
    assert f"6 records, proved. Head: 6:{head.digest}" in capsys.readouterr().out
    other = f"sqlite:///{tmp_path / 'other.sqlite3'}"
    assert main(["records", "restore", str(file), "--records", other]) == 0
    assert main(["records", "restore", str(file), "--records", other]) == 64
    assert "--replace" in capsys.readouterr().err
    assert main(["records", "restore", str(file), "--replace", "--records", other]) == 0
    with open_store(other) as restored:
        assert restored.head() == head == Head(6, head.digest)


def test_a_restore_tells_which_keys_open_the_store_and_what_it_undoes(
    yard: Store, run: Run, tmp_path: Path, capsys: Captured
) -> None:
    keys = AccessKeys(yard)
    made, _ = keys.make("tablet", ["read"])
    file = str(tmp_path / "backup")
    assert run("backup", file) == 0
    keys.revoke(made.id)
    person = yard.following(0, 1)[0].person
    assert person is not None
    yard.erase(person, reason="asked", created="2026-04-01T09:00:00.000Z")
    capsys.readouterr()
    assert run("restore", file, "--replace") == 0
    said = capsys.readouterr().out
    assert "1 erasure was made since that backup" in said
    assert "Access keys" not in said
    assert [key.revoked is not None for key in keys.every()] == [True]
    for more, told in (([], "1 access keys of the backup are revoked"), (["--keys"], f"{made.id} (tablet: read)")):
        other = f"sqlite:///{tmp_path / f'other{len(more)}'}"
        assert main(["records", "restore", file, *more, "--records", other]) == 0
        assert told in capsys.readouterr().out


def test_what_is_no_backup_is_bad_input(run: Run, tmp_path: Path, capsys: Captured) -> None:
    file = tmp_path / "letter.txt"
    file.write_text("Dear yard\n", encoding="utf-8")
    assert run("restore", str(file)) == 65
    assert "no backup" in capsys.readouterr().err
