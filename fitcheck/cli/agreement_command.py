"""``fitcheck agreement``: how far two raters agree over kept records."""

from __future__ import annotations

import argparse
import shutil
import sys
import textwrap
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

from fitcheck.cli import BAD_INPUT, FAILED
from fitcheck.cli.options import add_language_option, add_rulebook_option, book_in_language, chosen_book
from fitcheck.cli.record_options import add_records_option, chosen_store, parsed_time
from fitcheck.errors import BadInput
from fitcheck.records import Store, StoreError, TooManyRecords, open_store
from fitcheck.records.exchange.importing import Importer
from fitcheck.stored import followed
from fitcheck.stored.rater_report import Agreement, rater_report
from fitcheck.text.catalogue import Messages, messages_of
from rules import Rulebook

__all__ = ["configure"]


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    for name in ("first", "second"):
        parser.add_argument(name, metavar=name.upper(), help="a rater: an assessor's id, or tool")
    parser.add_argument(
        "--from",
        dest="files",
        metavar="FILE",
        nargs="+",
        help="compare over these exports of records (NDJSON) instead of a store",
    )
    parser.add_argument("--since", metavar="TIME", type=parsed_time, help="kept then or later: a day, or UTC with Z")
    parser.add_argument(
        "--until", metavar="TIME", type=parsed_time, help="kept before: a day, of which nothing counts, or UTC"
    )
    parser.add_argument("--json", action="store_true", help="print the figures as JSON, as the HTTP service does")
    add_records_option(parser)
    add_rulebook_option(parser)
    add_language_option(parser)
    parser.epilog = (
        "An assessor judges by an assessment that names them, by marks by hand, or by an override; the latest of each "
        "foot counts. "
        "Exit status: 0 compared, 1 no foot in common, 64 bad usage, 65 bad input, 70 the store or a file failed."
    )
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Compare the two; returns the exit status."""
    book = book_in_language(options, chosen_book(options))
    try:
        with _store(options, book) as store:
            found = rater_report(store, options.first, options.second, book, since=options.since, until=options.until)
    except (BadInput, TooManyRecords) as error:
        return _report_failure(BAD_INPUT, str(error))
    except StoreError as error:
        return _report_failure(FAILED, str(error))
    except OSError as error:
        return _report_failure(FAILED, f"{error.filename or 'a file'}: {error.strerror or 'it failed'}.")
    print(
        found.model_dump_json() if options.json else _text(found, messages_of(book)), end="\n" if options.json else ""
    )
    return 0 if found.feet else 1


@contextmanager
def _store(options: argparse.Namespace, book: Rulebook) -> Iterator[Store]:
    """The store that the options name, or one of the files' records that is gone afterwards."""
    if options.files is None:
        with chosen_store(options, create=False) as store:
            yield store
        return
    with TemporaryDirectory(prefix="fitcheck-") as folder, open_store(f"sqlite:///{folder}/records.sqlite3") as store:
        importer = Importer(store, lambda: book, lambda id_: followed(store, id_, book))
        for name in options.files:
            with Path(name).open("rb") as stream:
                for bad_lines in importer.take(stream, "ndjson"):
                    print(f"{name}: {bad_lines}", file=sys.stderr)
        yield store


def _text(found: Agreement, messages: Messages) -> str:
    width = min(100, shutil.get_terminal_size((96, 24)).columns)
    lines = [line for say in found.says for line in textwrap.wrap(say, width)]
    if found.differences:
        lines += ["", messages.say("agreement.list.differ", first=found.first, second=found.second)]
    for each in found.differences:
        entry = messages.say(
            "agreement.list.entry",
            horse=each.horse,
            foot=messages.named("foot", each.foot),
            visit=each.visit,
            stage=messages.named("word", each.stage),
            title=messages.within(each.title),
            first=messages.named("grade", each.first.grade),
            second=messages.named("grade", each.second.grade),
        )
        lines += textwrap.wrap(entry, width, initial_indent="  - ", subsequent_indent="    ")
    if found.differing > len(found.differences):
        lines.append(messages.say("agreement.list.more", count=found.differing - len(found.differences)))
    for count, name in ((found.nameless, "nameless"), (found.unread, "unread")):
        if count:
            lines.append(messages.say(f"desk.agreement.{name}", count=count))
    return "\n".join(lines) + "\n"


def _report_failure(status: int, message: str) -> int:
    print(f"fitcheck agreement: {message}", file=sys.stderr)
    return status
