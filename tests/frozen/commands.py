"""What the commands print, run in this process: their output, what they say besides, and their exit status."""

from __future__ import annotations

import io
import os
import tempfile
from collections.abc import Iterator
from contextlib import chdir, redirect_stderr, redirect_stdout
from typing import Final
from unittest.mock import patch

from fitcheck.cli import main
from fitcheck.records import open_store
from fitcheck.records.backup import restore
from tests.frozen.normal import normal
from tests.frozen.requests import KEPT
from tests.support.paths import ROOT

__all__ = ["command_outputs"]

_DEMO: Final = "cases_demo/"
_COMMANDS: Final = (
    f"assess {_DEMO}high-nail.json {_DEMO}good-draught-fore.json",
    f"assess --json {_DEMO}traced-crooked.json",
    f"assess --explain {_DEMO}heel-uncovered.json",
    f"assess --explain --language de {_DEMO}tight-heels-good-toe.json",
    f"assess --rulebook {_DEMO}yard_book {_DEMO}full-heels-late.json",
    "assess no-such-file.json",
    "assess pyproject.toml",
    "assess --colour bay",
    f"marks {_DEMO}full-heels-late.json",
    f"marks --json --language de {_DEMO}flinch.json",
    "rules check",
    f"rules check {_DEMO}yard_book",
    "rules check --json tests/faulty_books",
    "rules list",
    "rules show heel-width-tight",
    "rules show heels-both-tight",
    "rules show no-such-rule",
    "rules page",
    f"rules page --rulebook {_DEMO}yard_book",
    f"rules diff shipped {_DEMO}yard_book",
    f"rules diff --json shipped {_DEMO}yard_book",
    f"rules compare shipped {_DEMO}yard_book {_DEMO}full-heels-late.json {_DEMO}good-draught-fore.json",
    f"rules compare --json shipped {_DEMO}yard_book {_DEMO}full-heels-late.json",
    f"report {_DEMO}traced-pinch.json",
    "report --visit 2026-03-04-H-301",
    "report b9af361c-2eb2-4ccd-85ae-22c92a9811ab",
    "report c58c2e4c-ffe5-4424-93ee-e3513b54efde",
    "agreement S-11 tool",
    "agreement S-11 S-12 --json",
    "records verify",
    "records head",
    "records person A-21",
    "records person A-21 --export -",
    "records export",
    "records export --format csv",
    "records erase nobody --reason gone --yes",
    f"regrade --rulebook {_DEMO}yard_book",
    f"regrade --rulebook {_DEMO}yard_book --json",
    "keys list",
    "--help",
    "assess --help",
    "marks --help",
    "agreement --help",
    "report --help",
    "serve --help",
    "keys --help",
    "records --help",
    "records import --help",
    "regrade --help",
    "rules --help",
    "demo --help",
    "demo --list",
)


def command_outputs() -> Iterator[tuple[str, str]]:
    """What each command gives, on a store of release 0.1."""
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{folder}/records.sqlite3"
        with open_store(url) as store:
            restore(KEPT, store)
            ids = frozenset(record.id for record in store.following(0, 100))
        settings = {"FITCHECK_RECORDS": url, "COLUMNS": "100", "NO_COLOR": "1"}
        with chdir(ROOT), patch.dict(os.environ, settings):
            for command in _COMMANDS:
                yield f"fitcheck {command}", normal(_run(command).replace(folder, "<folder>"), keep_ids=ids)


def _run(command: str) -> str:
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding="utf-8", write_through=True) for _ in range(2))
    with redirect_stdout(out), redirect_stderr(err):
        try:
            status: object = main(command.split())
        except SystemExit as leave:
            status = leave.code
    texts = [stream.buffer.getvalue().decode() for stream in (out, err)]
    return f"{texts[0]}\n-- beside it\n{texts[1]}\n-- status {status}\n"
