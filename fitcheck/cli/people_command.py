"""``fitcheck people progress``: how a person's kept work goes over time, by the marking scheme."""

from __future__ import annotations

import argparse
import shutil
import sys
import textwrap
from collections.abc import Iterator

from fitcheck.cli import BAD_INPUT, FAILED
from fitcheck.cli.options import add_language_option, add_rulebook_option, book_in_language, chosen_book
from fitcheck.cli.progress import add_progress_option, progress
from fitcheck.cli.record_options import add_records_option, chosen_store, parsed_time
from fitcheck.marking.progress import Progress, mark_text, progress_of
from fitcheck.records import RecordFilter, StoreError, TooManyRecords
from fitcheck.stored.assessment import Unreadable
from fitcheck.stored.marks import CannotMark, dated_sheets
from fitcheck.text.catalogue import Messages, messages_of

__all__ = ["configure"]


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the action and its options."""
    actions = parser.add_subparsers(dest="action", required=True)
    action = actions.add_parser("progress", help="marks over time, where the work holds, what to practise next")
    action.add_argument("person", metavar="PERSON", help="the person's id")
    action.add_argument("--since", metavar="TIME", type=parsed_time, help="kept then or later: a day, or UTC with Z")
    action.add_argument("--until", metavar="TIME", type=parsed_time, help="kept before: a day, or UTC with Z")
    action.add_argument("--json", action="store_true", help="print it as one JSON document")
    add_records_option(action)
    add_rulebook_option(action)
    add_language_option(action)
    add_progress_option(action)
    action.epilog = (
        "Marks are for practice and decide nothing. Exit status: 0 done, 1 no work of that person in those days, "
        "64 bad usage, 65 a faulty rulebook, or what was kept cannot be marked, 70 the store failed."
    )
    action.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Print the person's progress."""
    book = book_in_language(options, chosen_book(options))
    wanted = RecordFilter(
        person=options.person, kind="assessment", since=options.since, until=options.until, superseded=False
    )
    try:
        with (
            chosen_store(options, create=False) as store,
            progress(options, "feet", store.count(wanted)) as reporter,
        ):
            feet = list(reporter.over(dated_sheets(store, wanted, book)))
    except (CannotMark, TooManyRecords, Unreadable) as error:
        print(f"fitcheck people progress: {error}", file=sys.stderr)
        return BAD_INPUT
    except StoreError as error:
        print(f"fitcheck people progress: {error}", file=sys.stderr)
        return FAILED
    if not feet:
        print(f"fitcheck people progress: no work of {options.person} was kept in these days.", file=sys.stderr)
        return 1
    found = progress_of(feet, book)
    if options.json:
        print(found.model_dump_json())
    else:
        width = min(100, shutil.get_terminal_size((96, 24)).columns)
        print("\n".join(_lines(found, messages_of(book), width)))
    return 0


def _lines(progress: Progress, messages: Messages, width: int) -> Iterator[str]:
    yield from textwrap.wrap(progress.say, width)
    yield from textwrap.wrap(progress.trend.say, width)
    yield ""
    for criterion in progress.criteria:
        yield from textwrap.wrap(criterion.say, width, initial_indent="  - ", subsequent_indent="    ")
    yield ""
    for point in progress.marks:
        foot = messages.named("foot", point.foot)
        yield f"  {point.day}  {foot}: {mark_text(point, messages)}"
