"""``fitcheck keys``: a key is printed once, listed without what opens anything, and revoked for good."""

from __future__ import annotations

from pathlib import Path

import pytest

from fitcheck.cli import main
from fitcheck.records import open_store
from fitcheck.records.keys import AccessKeys, KeyUse, Token

Captured = pytest.CaptureFixture[str]


@pytest.fixture(autouse=True)
def url(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """The setting names a store in a folder of the test's own."""
    address = f"sqlite:///{tmp_path / 'records.sqlite3'}"
    monkeypatch.setenv("FITCHECK_RECORDS", address)
    return address


def made(capsys: Captured, *words: str) -> Token:
    assert main(["keys", "make", *words]) == 0
    token = Token.read(capsys.readouterr().out.removesuffix("\n"))
    assert token is not None
    return token


def test_a_key_is_printed_once_alone_and_kept_as_a_digest(capsys: Captured, url: str) -> None:
    assert main(["keys", "make", "--name", "the yard's tablet", "--scope", "read", "--scope", "assess"]) == 0
    said = capsys.readouterr()
    token = Token.read(said.out.removesuffix("\n"))
    assert token is not None
    assert token.id in said.err
    assert "shown this once" in said.err
    assert token.text not in said.err
    with open_store(url) as store:
        key = AccessKeys(store).check(token)
    assert key is not None
    assert (key.name, set(key.scopes)) == ("the yard's tablet", {"assess", "read"})


def test_the_list_has_each_key_and_nothing_that_opens_anything(capsys: Captured, url: str) -> None:
    first, second = (
        made(capsys, "--name", "tablet", "--scope=read"),
        made(capsys, "--name", "monitor", "--scope=metrics"),
    )
    with open_store(url) as store:
        AccessKeys(store).note_uses([KeyUse(first.id, "2026-03-04T10:00:00.000Z", "r-1", "GET", "/v1/rulebook", 200)])
    assert main(["keys", "revoke", second.id]) == 0
    assert f"Key {second.id} (monitor) is revoked since 20" in capsys.readouterr().out
    assert main(["keys", "list"]) == 0
    listed = capsys.readouterr().out
    heading, *rows = listed.splitlines()
    assert heading.split() == ["ID", "OF", "NAME", "SCOPES", "MADE", "UNTIL", "LAST", "USED", "REVOKED"]
    by_id = {row.split()[0]: row.split()[1:] for row in rows}
    assert by_id[first.id][:3] == ["device", "tablet", "read"]
    assert by_id[first.id][4:] == ["-", "2026-03-04T10:00:00.000Z", "-"]
    assert by_id[second.id][4:6] == ["-", "never"]
    assert by_id[second.id][6].startswith("20")
    for token in (first, second):
        assert token.text not in listed
        assert token.digest not in listed


def test_a_key_is_a_persons_or_a_devices_and_may_end(capsys: Captured, url: str) -> None:
    words = ("--person", "S-1", "--scope=mark", "--scope=read", "--until", "9999-12-31")
    assert main(["keys", "make", *words]) == 0
    assert "(person S-1) with mark,read, until 9999-12-31." in capsys.readouterr().err
    for option in ("--device", "--name"):
        made(capsys, option, "tablet", "--scope=assess")
    with open_store(url) as store:
        found = {(key.holder, key.name, key.until) for key in AccessKeys(store).every()}
    assert found == {("person", "S-1", "9999-12-31"), ("device", "tablet", None)}
    assert main(["keys", "list"]) == 0
    assert "9999-12-31" in capsys.readouterr().out


def test_marks_are_a_persons(capsys: Captured, url: str) -> None:
    assert main(["keys", "make", "--device", "tablet", "--scope", "mark"]) == 64
    assert "--person" in capsys.readouterr().err
    with open_store(url) as store:
        assert AccessKeys(store).every() == []


def test_uses_are_shown_and_forgotten(capsys: Captured, url: str) -> None:
    token = made(capsys, "--name", "tablet", "--scope=read")
    days = ("2026-03-04", "2026-03-05")
    with open_store(url) as store:
        AccessKeys(store).note_uses(
            [KeyUse(token.id, f"{day}T10:00:00.000Z", f"r-{day}", "GET", "/v1/rulebook", 403) for day in days]
        )
    assert main(["keys", "uses", token.id]) == 0
    _, last, first = capsys.readouterr().out.splitlines()
    assert last.split() == ["2026-03-05T10:00:00.000Z", token.id, "403", "GET", "/v1/rulebook", "r-2026-03-05"]
    assert first.split()[0] == "2026-03-04T10:00:00.000Z"
    assert main(["keys", "forget-uses", "--before", "2026-03-05"]) == 0
    assert capsys.readouterr().out == "1 uses deleted.\n"
    assert main(["keys", "uses", "--limit", "5"]) == 0
    assert len(capsys.readouterr().out.splitlines()) == 2


@pytest.mark.parametrize("action", ["revoke", "uses"])
def test_a_key_that_there_is_not_is_told_so(capsys: Captured, action: str) -> None:
    assert main(["keys", action, "0123456789ab"]) == 65
    assert capsys.readouterr().err == (
        'fitcheck keys: There is no access key "0123456789ab". `fitcheck keys list` shows all keys.\n'
    )


@pytest.mark.parametrize(
    "words",
    [
        ["make", "--name", "tablet"],
        ["make", "--scope", "read"],
        ["make", "--name", "tablet", "--scope", "raed"],
        ["make", "--name", "", "--scope", "read"],
        ["make", "--name", " tablet", "--scope", "read"],
        ["make", "--name", "tab\x1b[31mlet", "--scope", "read"],
        ["make", "--name", "a" * 101, "--scope", "read"],
        ["make", "--person", "S-1", "--device", "tablet", "--scope", "read"],
        ["make", "--person", "Anna Smith", "--scope", "mark"],
        ["make", "--person", "S-1", "--scope", "mark", "--until", "2020-01-01"],
        ["make", "--person", "S-1", "--scope", "mark", "--until", "soon"],
        ["forget-uses", "--before", "yesterday"],
        ["uses", "--limit", "many"],
        ["revoke"],
        [],
    ],
)
def test_what_makes_no_key_ends_with_the_status_for_bad_usage(capsys: Captured, words: list[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["keys", *words])
    assert ended.value.code == 64
    assert capsys.readouterr().out == ""


def test_a_place_that_is_no_store_is_told_in_a_sentence(capsys: Captured, tmp_path: Path) -> None:
    (tmp_path / "notes").write_text("white sock on the near hind " * 100, encoding="utf-8")
    assert main(["keys", "list", "--records", f"sqlite:///{tmp_path / 'notes'}"]) == 70
    said = capsys.readouterr().err
    assert said.startswith("fitcheck keys: ")
    assert "Traceback" not in said
