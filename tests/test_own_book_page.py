"""docs/own-book.md followed to the letter: every file written, every command run, in the order of the page."""

from __future__ import annotations

import re
import shlex
import socket
import subprocess
import sys
import time
from pathlib import Path

import httpx
import pytest

from fitcheck.cli import main
from rules import load_rulebook

_ROOT = Path(__file__).parents[1]
_BLOCK = re.compile(r"^```(\w+)(?: (\S+))?\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_STATUS = {"rules diff": (1,), "assess": (1,), "marks": (1,), "rules compare": (0, 1)}
"""What a command rightly ends in, where that is not 0."""


def test_the_page_can_be_followed_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("FITCHECK_RECORDS", f"sqlite:///{tmp_path / 'records.sqlite3'}")
    (tmp_path / "cases_demo").symlink_to(_ROOT / "cases_demo")
    book, told = tmp_path / "my-school", ""
    for kind, name, text in _BLOCK.findall((_ROOT / "docs" / "own-book.md").read_text(encoding="utf-8")):
        if kind == "json":
            (tmp_path / name).write_text(text, encoding="utf-8")
        elif kind == "toml":
            with (book / name).open("a", encoding="utf-8") as file:
                file.write(f"\n{text}")
        else:
            for line in text.splitlines():
                told += _run(shlex.split(line)[1:], capsys)
    made = load_rulebook(book)
    assert made.off.keys() == {"heel-seen-wide"}
    for word in ("not ready to be shown", "The pad is 9 mm thick", "The shoe is rusty", "No fault found"):
        assert word in told, word


def _run(words: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    if words[0] == "serve":
        return _served(words)
    status = main(words)
    out, err = capsys.readouterr()
    allowed = next((each for name, each in _STATUS.items() if " ".join(words).startswith(name)), (0,))
    assert status in allowed, f"{words}: {status}\n{out}{err}"
    return out


def _served(words: list[str]) -> str:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "fitcheck", *words]
    command[command.index("8750")] = str(port)
    server = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        patience = time.monotonic() + 30
        while True:
            try:
                book = httpx.get(f"http://127.0.0.1:{port}/v1/rulebook").json()
                break
            except httpx.TransportError:
                assert server.poll() is None
                assert time.monotonic() < patience
                time.sleep(0.1)
    finally:
        server.terminate()
        server.wait(timeout=20)
    own = {each["id"] for criterion in book["criteria"] for each in criterion["quantities"] if each["own"]}
    assert own == {"pad_thickness", "polish"}
    return ""
