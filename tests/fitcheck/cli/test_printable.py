"""Nothing that others wrote moves a terminal's cursor, its colours or the order of its text."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from contextlib import suppress
from pathlib import Path

import pytest

from fitcheck.cli import main
from fitcheck.cli.printable import printable
from fitcheck.records import open_store
from fitcheck.records.keys import AccessKeys
from tests.support.kept_fittings import kept_fittings
from tests.support.paths import ROOT

Captured = pytest.CaptureFixture[str]
HARMFUL = "\x1b]0;x\x07\x1b[2J\x9b31m\u202e\u2066\u2028\x00\x7f\r\U000e0041"


def clean(text: str) -> bool:
    return text.replace("\n", "").replace("\t", "") == printable(text).replace("\n", "").replace("\t", "")


@pytest.mark.parametrize("sign", HARMFUL)
def test_a_harmful_sign_becomes_an_escape_that_json_reads_back(sign: str) -> None:
    assert printable(sign).isascii()
    assert json.loads(f'"{printable(sign)}"') == sign


@pytest.mark.parametrize(
    "text",
    [
        "tab\tand line\n",
        "Grüße, 漢字",
        "1\u00a0mm",
        "\u202fmm",
        "\u0646\u0645\u06cc\u200c\u062e\u0648\u0627\u0647\u0645",
        "👩\u200d🌾",
    ],
)
def test_what_people_write_stays(text: str) -> None:
    assert printable(text) == text


def test_names_of_files_ids_and_titles_reach_no_terminal_as_they_are(
    tmp_path: Path, capsys: Captured, monkeypatch: pytest.MonkeyPatch
) -> None:
    name = HARMFUL.replace("\0", "")
    book = tmp_path / "book"
    shutil.copytree(ROOT / "cases_demo" / "yard_book", book)
    text = (book / "book.toml").read_text(encoding="utf-8")
    title = json.dumps(f"Low {name} Meadow")
    lines = [f"title = {title}" if line.startswith("title") else line for line in text.splitlines()]
    (book / "book.toml").write_text("\n".join(lines), encoding="utf-8")
    url = f"sqlite:///{tmp_path / 'records.sqlite3'}"
    with open_store(url) as store:
        store.keep_many([*kept_fittings(1)])
        AccessKeys(store).make(f"key {name}", ["read"])
    fitting = tmp_path / f"foot{name}.json"
    fitting.write_text(json.dumps({"foot": name}), encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    for words in (
        ["assess", str(fitting)],
        ["assess", f"{fitting}.not-there"],
        ["rules", "check", str(book)],
        ["assess", "--rulebook", str(book), str(ROOT / "cases_demo" / "good-draught-fore.json")],
        ["records", "person", name, "--records", url],
        ["records", "erase", name, "--reason", "x", "--yes", "--records", url],
        ["records", "import", f"{fitting}", "--records", url],
        ["keys", "list", "--records", url],
        ["records", "head", "--records", f"sqlite:///{tmp_path / name}/x"],
        ["report", name, "--records", url],
    ):
        with suppress(SystemExit):
            main(words)
        said = capsys.readouterr()
        assert said.out + said.err
        assert clean(said.out), words
        assert clean(said.err), words


def test_a_name_that_is_no_text_breaks_nothing_off(tmp_path: Path) -> None:
    (tmp_path / "foot").mkdir()
    file = bytes(tmp_path / "foot") + b"/\xff\x1b.json"
    done = subprocess.run(
        [sys.executable, "-m", "fitcheck", "assess", file], cwd=ROOT, capture_output=True, check=False
    )
    assert b"\x1b" not in done.stdout + done.stderr
    assert b"Traceback" not in done.stderr
    assert done.returncode in {65, 66, 70, 64}
