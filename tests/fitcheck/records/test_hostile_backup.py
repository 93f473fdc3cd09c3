"""A hostile backup is bad input and changes nothing; what is restored or killed leaves nothing lying about."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from fitcheck.records import (
    Draft,
    Store,
    StoreTooNew,
    backup,
    open_store,
)
from fitcheck.records.atomic_files import whole_path
from fitcheck.records.backup import NotABackup, back_up, restore
from tests.support.backups import everything, sealed

Make = Callable[..., Draft]
HUGE, DEEP = 10**30, b'{"a":' * 30_000


def altered(line: bytes, *path: str, to: object) -> bytes:
    """The line with something else at a place in it."""
    document = json.loads(line)
    here = document
    for key in path[:-1]:
        here = here[key]
    here[path[-1]] = to
    return json.dumps(document).encode() + b"\n"


def other(table: str, row: dict[str, Any]) -> bytes:
    return json.dumps({"backup": table, "row": row}).encode() + b"\n"


KEY_ROW: dict[str, Any] = {
    "id": "k",
    "name": "n",
    "digest": "d",
    "scopes": "read",
    "created": "c",
    "revoked": None,
    "last_used": None,
}
REQUEST_ROW: dict[str, Any] = {"scope": "", "key": "k", "body_digest": "d", "number": 1, "created": "c"}
Change = Callable[[list[bytes]], list[bytes]]


def in_head(name: str, value: object) -> Change:
    return lambda lines: [altered(lines[0], name, to=value), *lines[1:]]


def in_record(name: str, value: object) -> Change:
    return lambda lines: [lines[0], altered(lines[1], name, to=value), *lines[2:]]


def with_row(table: str, *rows: dict[str, Any]) -> Change:
    return lambda lines: [*lines, *(other(table, row) for row in rows)]


USE_ROW = {"number": 1, "key": "x", "at": "a", "request": "r", "method": "m", "route": "r", "status": 1}
ODD: tuple[object, ...] = (5.5, HUGE, [], {}, "\ud800", "\0")
HOSTILE: dict[str, Change] = {
    "two keys": with_row("access_keys", KEY_ROW, KEY_ROW),
    "use of no key": with_row("key_uses", USE_ROW),
    "deep": lambda lines: [*lines, DEEP + b"\n"],
    "deep head": lambda lines: [DEEP + b"\n", *lines[1:]],
    "many digits": lambda lines: [*lines, b'{"backup":' + b"9" * 5000 + b"}\n"],
}
_value: object
for _value in (None, "x", 5.5, -1, HUGE, [], {}, True):
    HOSTILE |= {f"head {name} {_value!r:.20}": in_head(name, _value) for name in ("number", "digest")}
for _name in ("number", "id", "kind", "created", "salt", "received", "erased", "about", "horse"):
    HOSTILE |= {f"record {_name} {_value!r:.20}": in_record(_name, _value) for _value in (*ODD, "nonsense")}
for _name in KEY_ROW:
    HOSTILE |= {f"key {_name} {_value!r:.20}": with_row("access_keys", KEY_ROW | {_name: _value}) for _value in ODD}
for _value in (None, 9, -1, HUGE, "1", True, []):
    HOSTILE[f"request {_value!r:.20}"] = with_row("idempotency", REQUEST_ROW | {"number": _value})


def test_a_hostile_portable_backup_is_bad_input_and_changes_nothing(
    dump: Path, tmp_path: Path, sqlite_store: Store, draft: Make
) -> None:
    lines = dump.read_bytes().splitlines(keepends=True)[:-1]
    sqlite_store.keep(draft())
    before = everything(sqlite_store)
    wrong = []
    for name, change in HOSTILE.items():
        (tmp_path / "hostile").write_bytes(sealed(change(lines)))
        try:
            restore(tmp_path / "hostile", sqlite_store, replace=True)
        except NotABackup as refused:
            if "\n" in str(refused):
                wrong.append(f"{name}: refused in several lines")
        else:
            wrong.append(f"{name}: restored")
        if everything(sqlite_store) != before:
            wrong.append(f"{name}: something was changed")
            before = everything(sqlite_store)
    assert wrong == []
    assert len(HOSTILE) > 130


@pytest.mark.parametrize(
    "edit",
    [
        "UPDATE records SET created = x'00ff' WHERE number = 1",
        "UPDATE records SET person = CAST(x'ff' AS TEXT) WHERE number = 1",
        "UPDATE contents SET received = 'text' WHERE number = 1",
        "UPDATE head SET number = 'x'",
        "UPDATE head SET digest = x'00'",
        "DELETE FROM head",
        "INSERT INTO access_keys VALUES ('k', x'00', 'd', 'read', 'c', NULL, NULL, 'device', NULL)",
        "INSERT INTO access_keys VALUES (CAST(x'ff' AS TEXT), 'n', 'd', 'read', 'c', NULL, NULL, 'device', NULL)",
        "INSERT INTO idempotency VALUES ('', 'k', 'd', 77, 'c', NULL)",
        "DROP TABLE contents",
        "DROP TABLE access_keys",
        "UPDATE records_schema SET version_num = 'x'",
        "DELETE FROM records_schema",
    ],
)
def test_a_hostile_backup_of_sqlite_is_refused_and_changes_nothing(
    sqlite_url: str, tmp_path: Path, draft: Make, edit: str
) -> None:
    with open_store(sqlite_url) as store:
        store.keep_many([draft(), draft()])
        back_up(store, tmp_path / "hostile")
    opened = sqlite3.connect(tmp_path / "hostile")
    for (name,) in opened.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        opened.execute(f"DROP TRIGGER {name}")
    opened.executescript(f"PRAGMA writable_schema = ON; PRAGMA ignore_check_constraints = ON; {edit}")
    opened.commit()
    opened.close()
    with open_store(f"sqlite:///{tmp_path / 'target'}") as target:
        target.keep(draft())
        before = everything(target)
        with pytest.raises((NotABackup, StoreTooNew)):
            restore(tmp_path / "hostile", target, replace=True)
        assert everything(target) == before


def test_of_what_is_restored_nothing_is_left_in_temporary_folders(
    full: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    back_up(full, tmp_path / "backup")
    temporary = tmp_path / "temporary"
    temporary.mkdir()
    monkeypatch.setenv("TMPDIR", str(temporary))
    monkeypatch.setenv("SQLITE_TMPDIR", str(temporary))
    put = backup._put

    def looking(*given: Any, **named: Any) -> None:
        assert list(temporary.iterdir()) == []
        put(*given, **named)

    monkeypatch.setattr(backup, "_put", looking)
    with open_store(f"sqlite:///{tmp_path / 'target'}") as target:
        restore(tmp_path / "backup", target)
    assert list(temporary.iterdir()) == []


def test_what_a_killed_backup_left_is_taken_away_by_the_next_and_what_is_being_written_is_not(
    store: Store, draft: Make, tmp_path: Path
) -> None:
    store.keep(draft())
    left = tmp_path / ".backup.0123abcd.partial"
    for path in (left, left.with_name(f"{left.name}-journal")):
        path.write_bytes(b"half of it")
    (tmp_path / ".backup.notes").write_text("somebody else's", encoding="utf-8")
    with whole_path(tmp_path / "backup") as written:
        written.write_bytes(b"an older one")
        back_up(store, tmp_path / "backup")
        assert written.exists()
        assert not left.exists()
    names = sorted(path.name for path in tmp_path.iterdir() if path.is_file())
    assert names == [".backup.notes", "backup"]
