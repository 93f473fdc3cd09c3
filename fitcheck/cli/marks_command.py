"""``fitcheck marks``: fittings from files, each assessed and marked for practice."""

from __future__ import annotations

import argparse
import shutil
import sys
from pathlib import Path
from typing import Final

from fitcheck.assessment.assess import assess
from fitcheck.cli import BAD_INPUT, FAILED
from fitcheck.cli.assess_command import STATUS
from fitcheck.cli.fitting_files import fitting_in
from fitcheck.cli.options import add_language_option, add_rulebook_option, book_in_language, chosen_book, paint_for
from fitcheck.errors import BadInput
from fitcheck.marking.marks import mark_of
from fitcheck.report.marks_text import render_marks
from rules import EngineFault, Rulebook

__all__ = ["configure"]

_GRAVEST_FIRST: Final = (FAILED, BAD_INPUT, 2, 1, 3, 4, 0)


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    parser.add_argument("files", metavar="FILE", nargs="+", help="a fitting as JSON; - for standard input")
    parser.add_argument("--json", action="store_true", help="print each sheet of marks as JSON, one a line")
    add_rulebook_option(parser)
    add_language_option(parser)
    parser.epilog = (
        "Marks are for practice and decide nothing. Exit status as of 'fitcheck assess': 0 release, 1 put right, "
        "2 stop and refer, 3 incomplete, 4 go on, 64 bad usage, 65 bad input; of several files the gravest."
    )
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Assess and mark each file; returns the gravest status."""
    book = book_in_language(options, chosen_book(options, judging=True))
    statuses = {_one(name, book, options, first=number == 0) for number, name in enumerate(options.files)}
    return next(status for status in _GRAVEST_FIRST if status in statuses)


def _one(name: str, book: Rulebook, options: argparse.Namespace, *, first: bool) -> int:
    try:
        assessment = assess(fitting_in(name, book), book)
    except BadInput as error:
        for problem in error.problems:
            print(f"{name}: {problem}", file=sys.stderr)
        return BAD_INPUT
    except EngineFault as error:
        print(f"{name}: this fitting could not be assessed: {error}. It has no mark.", file=sys.stderr)
        return FAILED
    sheet = mark_of(assessment, book)
    if options.json:
        print(sheet.model_dump_json())
    else:
        title = "standard input" if name == "-" else Path(name).name
        width = min(100, shutil.get_terminal_size((96, 24)).columns)
        text = render_marks(sheet, title=title, width=width, paint=paint_for(sys.stdout), language=book.language)
        print(("" if first else "\n") + text, end="")
    return STATUS[assessment.decision]
