"""``fitcheck report``: one foot or a visit as an HTML page to be read, printed and signed."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from fitcheck.assessment.assess import assess
from fitcheck.cli import BAD_INPUT, BAD_USAGE, FAILED
from fitcheck.cli.fitting_files import add_follows_option, fitting_in, whole
from fitcheck.cli.options import add_language_option, add_rulebook_option, book_in_language, chosen_book
from fitcheck.cli.record_options import add_records_option, chosen_store
from fitcheck.errors import BadInput, Problem
from fitcheck.records import Store, StoreError
from fitcheck.report.html import FootToReport, foot_report
from fitcheck.report.paper import pdf_of
from fitcheck.stored import Unreadable, foot_of, overrides_of, report_of_foot, report_of_visit, stored_visit
from rules import EngineFault, Rulebook

__all__ = ["configure"]

_FOOT = '<section class="foot"'


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    parser.add_argument(
        "what",
        metavar="FILE|ID",
        nargs="?",
        help="a fitting as JSON, which is assessed and not kept (- for standard input); or the id of a kept assessment",
    )
    parser.add_argument("--visit", metavar="VISIT", help="the kept visit of that name, instead of one foot")
    parser.add_argument("--output", metavar="OUT", help="the file to write, replaced if it is there")
    parser.add_argument(
        "--pdf",
        action="store_true",
        help="write PDF to the --output: a foot is one A4 page, a visit one more than it has feet (extra pdf)",
    )
    parser.add_argument(
        "--annex", action="store_true", help="with --pdf: also all readings, what conforms, and sources"
    )
    add_follows_option(parser)
    add_records_option(parser)
    add_rulebook_option(parser)
    add_language_option(parser)
    parser.epilog = (
        "Without --output the page goes to standard output. Without --language a kept foot, or a visit whose feet were "
        "all answered in one language, is reported in that one. Exit status: 0 written, 64 bad usage, 65 bad input or "
        "nothing of that name kept, 70 the rules, the store or a file failed."
    )
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Write the report; returns the exit status."""
    if (options.what is None) == (options.visit is None):
        return _report_failure(
            BAD_USAGE, "Name either a fitting's FILE or a kept assessment's ID, or a visit with --visit."
        )
    if (options.pdf and options.output is None) or (options.annex and not options.pdf):
        return _report_failure(BAD_USAGE, "--pdf needs the --output to write, and --annex goes with --pdf.")
    book = book_in_language(options, chosen_book(options, judging=True))
    try:
        page = _page(options, book)
    except (BadInput, Unreadable) as error:
        return _report_failure(BAD_INPUT, str(error))
    except StoreError as error:
        # A path with a slip in it is looked for among the records.
        what = "" if options.what is None else f"{json.dumps(options.what)} is no file here, and as an id: "
        return _report_failure(FAILED, f"{what}{error}")
    except EngineFault as error:
        return _report_failure(FAILED, str(error))
    return _printed(page, options) if options.pdf else _written(page, options)


def _printed(page: str, options: argparse.Namespace) -> int:
    """Write the report as PDF."""
    pages = 1 if options.visit is None else 1 + page.count(_FOOT)
    try:
        document = pdf_of(page, pages=pages, annex=options.annex)
        Path(options.output).write_bytes(document)
    except ModuleNotFoundError as error:
        return _report_failure(BAD_USAGE, f"{error.name} is not installed: pip install 'fitcheck[pdf]'.")
    except OSError as error:
        return _report_failure(
            FAILED, f"{options.output}: the report cannot be written: {error.strerror or 'no such place'}."
        )
    return 0


def _written(page: str, options: argparse.Namespace) -> int:
    if options.output is None:
        print(page, end="")
        return 0
    try:
        Path(options.output).write_text(page, encoding="utf-8")
    except OSError as error:
        return _report_failure(
            FAILED, f"{options.output}: the report cannot be written: {error.strerror or 'no such place'}."
        )
    return 0


def _page(options: argparse.Namespace, book: Rulebook) -> str:
    if options.what is not None and _is_file(options.what):
        to_assess = fitting_in(options.what, book, options.follows)
        return foot_report(
            FootToReport(fitting=whole(to_assess), assessment=assess(to_assess, book), book=book), paper=options.pdf
        )
    with chosen_store(options, create=False) as store:
        return _stored_foot(store, options, book) if options.visit is None else _visit(store, options, book)


def _is_file(what: str) -> bool:
    try:
        return what == "-" or Path(what).is_file()
    except (OSError, ValueError):
        return False


def _stored_foot(store: Store, options: argparse.Namespace, book: Rulebook) -> str:
    id_ = options.what
    record = store.record(id_)
    if record is None or record.kind != "assessment":
        detail = "There is no such file, and no such assessment was kept."
        raise BadInput([Problem("FILE|ID", id_, "a fitting's file or the id of a kept assessment", detail)])
    if record.erased:
        raise BadInput([Problem("FILE|ID", id_, "an assessment that was not erased", "This one was erased.")])
    corrected_by = store.corrections_of([id_]).get(id_, [])
    foot = foot_of(record, book)
    return report_of_foot(
        foot, overrides_of(store, [id_]), corrected_by, book, options.language or foot.language, paper=options.pdf
    )


def _visit(store: Store, options: argparse.Namespace, book: Rulebook) -> str:
    found = stored_visit(store, options.visit, book)
    if found is None:
        raise BadInput([Problem("--visit", options.visit, "a visit that was kept", "Nothing was kept of it.")])
    return report_of_visit(found, book, options.language or found.language or book.language, paper=options.pdf)


def _report_failure(status: int, message: str) -> int:
    print(f"fitcheck report: {message}", file=sys.stderr)
    return status
