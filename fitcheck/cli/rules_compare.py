"""``fitcheck rules compare``: the same fittings under two rulebooks, and what changes."""

from __future__ import annotations

import argparse
import json
import shutil
import sys
from pathlib import Path

from fitcheck.cli import BAD_INPUT, FAILED
from fitcheck.cli.fitting_files import read_file
from fitcheck.cli.options import book_in_language, named_book, paint_for
from fitcheck.cli.progress import add_progress_option, progress
from fitcheck.cli.rules_diff import add_book_arguments
from fitcheck.errors import BadInput
from fitcheck.fitting.strict_json import loads
from fitcheck.report.comparison_text import case_lines, heading_lines, summary, summary_document
from fitcheck.rulebooks.compare import CaseCompared, Comparing
from rules import EngineFault

__all__ = ["configure"]


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    add_book_arguments(parser)
    parser.add_argument("cases", metavar="FILE", nargs="+", help="a fitting as JSON; - for standard input")
    add_progress_option(parser)
    parser.epilog = (
        "Exit status: 0 no decision changes, 1 some do, 64 bad usage, 65 a faulty rulebook, or a fitting that neither "
        "takes, 70 the rules did not run to their end."
    )
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Assess each case under both rulebooks and print what changes."""
    books = (named_book(name, judging=True) for name in (options.before, options.after))
    comparing = Comparing(*(book_in_language(options, book) for book in books))
    cases: list[CaseCompared] = []
    worst = 0
    with progress(options, "fittings", len(options.cases)) as reporter:
        for name in reporter.over(options.cases):
            try:
                cases.append(comparing.compare(Path(name).name, loads(read_file(name))))
            except BadInput as error:
                with reporter.aside():
                    for problem in error.problems:
                        print(f"{name}: {problem}", file=sys.stderr)
                worst = max(worst, BAD_INPUT)
            except EngineFault as error:
                with reporter.aside():
                    print(
                        f"{name}: this fitting could not be assessed: {error}. Nothing can be said of it.",
                        file=sys.stderr,
                    )
                worst = FAILED
    found = comparing.difference
    if options.json:
        print(json.dumps(summary_document(cases, found), ensure_ascii=False))
    else:
        width, paint = min(100, shutil.get_terminal_size((96, 24)).columns), paint_for(sys.stdout)
        print("\n".join(heading_lines(found, width)), end="\n\n")
        for case in cases:
            print("\n".join(case_lines(case, found, width=width, paint=paint)))
        print(f"\n{summary(cases, found.after.language)}")
    return worst or int(any(case.decision_changes for case in cases))
