"""``fitcheck demo``: a demo fitting through the real HTTP service, started for it on this machine."""

from __future__ import annotations

import argparse
import json
import os
import shutil
import sys
import tempfile
import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from importlib.resources.abc import Traversable

import httpx
import uvicorn

from fitcheck.assessment.models import Assessment
from fitcheck.cli import BAD_USAGE, FAILED
from fitcheck.cli.options import (
    add_language_option,
    add_rulebook_option,
    book_in_language,
    chosen_book,
    paint_for,
    set_for_service,
)
from fitcheck.cli.serve_command import APPLICATION
from fitcheck.records import SETTING
from fitcheck.report.terminal import render
from fitcheck.rulebooks.cases import cases_folder
from fitcheck.text.catalogue import Messages, messages_of
from fitcheck.view import foot_title

__all__ = ["configure"]

_DEFAULT = "tight-heels-good-toe"
_STARTS_WITHIN_S = 20.0


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    parser.add_argument("case", metavar="CASE", nargs="?", default=_DEFAULT, help=f"a demo case (default: {_DEFAULT})")
    parser.add_argument("--all", action="store_true", help="print all of the answer, as assess --all does")
    parser.add_argument("--list", action="store_true", help="list the demo cases, and what each shows")
    add_rulebook_option(parser)
    add_language_option(parser)
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Post one case to a server of our own and show request and answer."""
    cases = {
        entry.name.removesuffix(".json"): entry
        for entry in cases_folder().iterdir()
        if entry.name.endswith(".json") and not entry.name.endswith(".answer.json")
    }
    if options.list:
        print("\n".join(_listed(cases, messages_of(book_in_language(options, chosen_book(options))))))
        return 0
    if options.case not in cases:
        print(f"fitcheck demo: no case {options.case!r}. There are: {', '.join(sorted(cases))}.", file=sys.stderr)
        return BAD_USAGE
    book = book_in_language(options, chosen_book(options))
    body = cases[options.case].read_bytes()
    try:
        with set_for_service(options), _records_apart(), _served() as address:
            answer = httpx.post(
                f"{address}/v1/assessments?keep=false",
                content=body,
                headers={"content-type": "application/json", "accept-language": book.language},
            )
    except _NotStarted:
        print("fitcheck demo: the HTTP service did not start; its own message stands above", file=sys.stderr)
        return FAILED
    if answer.status_code >= httpx.codes.BAD_REQUEST:
        print(f"fitcheck demo: the service answered {answer.status_code}: {answer.text}", file=sys.stderr)
        return FAILED
    notes = json.loads(body).get("notes") or ""
    assessment = Assessment.model_validate_json(answer.content)
    print(f"POST {address}/v1/assessments?keep=false with cases_demo/{options.case}.json: {answer.status_code}")
    print(f"{notes}\n")
    width = min(100, shutil.get_terminal_size((96, 24)).columns)
    paint = paint_for(sys.stdout)
    print(render(assessment, book, title=options.case, width=width, paint=paint, whole=options.all), end="")
    return 0


def _listed(cases: Mapping[str, Traversable], messages: Messages) -> Iterator[str]:
    """Each case in a line: its name, the foot with its stage, and what was written of it, as it was."""
    width = max(map(len, cases))
    for name, entry in sorted(cases.items()):
        fitting = json.loads(entry.read_bytes())
        foot = foot_title(fitting["foot"], fitting["stage"], messages)
        yield f"{name:<{width}}  {foot}. {fitting.get('notes') or ''}".rstrip()


class _NotStarted(Exception):
    """The HTTP service did not start."""


@contextmanager
def _records_apart() -> Iterator[None]:
    """For as long as the block runs, records lie in a folder of their own: the demo is none of the user's business."""
    before = os.environ.get(SETTING)
    with tempfile.TemporaryDirectory(prefix="fitcheck-demo-") as folder:
        os.environ[SETTING] = f"sqlite:///{folder}/records.sqlite3"
        try:
            yield
        finally:
            del os.environ[SETTING]
            if before is not None:
                os.environ[SETTING] = before


@contextmanager
def _served() -> Iterator[str]:
    """A real server on a free port of this machine, for as long as the block runs."""
    server = uvicorn.Server(uvicorn.Config(APPLICATION, factory=True, host="127.0.0.1", port=0, log_level="error"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    patience = time.monotonic() + _STARTS_WITHIN_S
    while not server.started:
        if not thread.is_alive() or time.monotonic() > patience:
            raise _NotStarted
        time.sleep(0.01)
    try:
        host, port = server.servers[0].sockets[0].getsockname()[:2]
        yield f"http://{host}:{port}"
    finally:
        server.should_exit = True
        thread.join()
