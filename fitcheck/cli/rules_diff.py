"""``fitcheck rules diff``: what differs between two rulebooks."""

from __future__ import annotations

import argparse
import json
import shutil
import sys

from fitcheck.cli.options import add_language_option, book_in_language, named_book, paint_for
from fitcheck.report.difference_text import difference_document, difference_lines
from rules.analysis.difference import difference

__all__ = ["add_book_arguments", "configure"]


def add_book_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the two rulebooks that are held against one another."""
    parser.add_argument("before", metavar="A", help="a rulebook: its folder, or shipped")
    parser.add_argument("after", metavar="B", help="another rulebook, likewise")
    parser.add_argument("--json", action="store_true", help="print one JSON document")
    add_language_option(parser)


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    add_book_arguments(parser)
    parser.epilog = "Exit status: 0 no difference, 1 some, 64 bad usage, 65 a faulty rulebook."
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Print what changes from A to B."""
    found = difference(*(book_in_language(options, named_book(name)) for name in (options.before, options.after)))
    if options.json:
        print(json.dumps(difference_document(found), ensure_ascii=False))
    else:
        width = min(100, shutil.get_terminal_size((96, 24)).columns)
        print("\n".join(difference_lines(found, width=width, paint=paint_for(sys.stdout))))
    return 1 if found.changes else 0
