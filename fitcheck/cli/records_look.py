"""``fitcheck records list`` and ``records show``: what is kept, a line each, and one as it was answered."""

from __future__ import annotations

import argparse
import json
import shutil
import sys
from collections.abc import Iterator
from typing import Any, Final

from fitcheck.cli import BAD_INPUT
from fitcheck.cli.options import add_language_option, add_rulebook_option, book_in_language, chosen_book, paint_for
from fitcheck.cli.record_options import add_filters, chosen_records
from fitcheck.records import Record, Store
from fitcheck.report.terminal import render
from fitcheck.rulebooks.selection import book_of, localized_book
from fitcheck.stored.assessment import Unreadable, assessment_of
from fitcheck.text.catalogue import Messages, messages_of
from rules import Rulebook, RulebookError, shipped_rulebook

__all__ = ["configure"]

_MOST: Final = 20
_FIELDS: Final = (
    "number",
    "kind",
    "id",
    "created",
    "horse",
    "foot",
    "visit",
    "stage",
    "decision",
    "person",
    "assessor",
)


def configure(actions: Any) -> None:
    """Add the two actions."""
    listing = actions.add_parser("list", help="what is kept, the newest first, one a line")
    listing.add_argument("--most", metavar="N", type=_count, default=_MOST, help=f"at most so many (default: {_MOST})")
    listing.add_argument("--json", action="store_true", help="print each as JSON, one a line")
    add_filters(listing)
    add_language_option(listing)
    listing.set_defaults(act=_list)
    show = actions.add_parser("show", help="one kept assessment as it was answered")
    show.add_argument("id", metavar="ID", help="the assessment's id, as in the list")
    show.add_argument("--json", action="store_true", help="print the very JSON that was answered")
    show.add_argument("--all", action="store_true", help="print all of the answer, as assess --all does")
    add_rulebook_option(show)
    add_language_option(show)
    show.set_defaults(act=_show)


def _count(text: str) -> int:
    if not text.isascii() or not text.isdecimal() or not 0 < int(text) <= 1_000_000:  # noqa: PLR2004
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number from 1 to 1000000")
    return int(text)


def _list(store: Store, options: argparse.Namespace) -> int:
    messages = messages_of(book_in_language(options, shipped_rulebook()))
    records = store.records(chosen_records(options), limit=options.most)
    for record in records:
        known = {name: getattr(record, name) for name in _FIELDS}
        print(json.dumps(known, ensure_ascii=False) if options.json else "  ".join(_cells(record, messages)))
    return 0 if records else 1


def _cells(record: Record, messages: Messages) -> Iterator[str]:
    yield f"{record.number:>6}"
    yield f"{record.created[:16].replace('T', ' ')}Z"
    yield record.id
    if record.erased:
        yield messages.say("rules.kind.erased")
    elif record.kind != "assessment":
        yield messages.say(f"rules.kind.{record.kind}")
    else:
        foot = messages.named("foot", record.foot or "-")
        stage = messages.named("rules.stage", record.stage or "-")
        decision = messages.named("rules.decision", record.decision or "-")
        yield "  ".join(((record.horse or "-").replace("_", " "), foot, stage, decision))


def _show(store: Store, options: argparse.Namespace) -> int:
    record = store.record(options.id)
    if record is None or record.erased or record.kind != "assessment":
        why = "is not kept here" if record is None else "was erased" if record.erased else "is no assessment"
        print(f"fitcheck records show: {options.id} {why}. 'fitcheck records list' has what is.", file=sys.stderr)
        return 1
    if options.json:
        sys.stdout.write(f"{record.answer.decode().rstrip()}\n")
        return 0
    try:
        assessment = assessment_of(record)
    except Unreadable as error:
        print(f"fitcheck records show: {error}", file=sys.stderr)
        return BAD_INPUT
    book = _localized(book_of(assessment.rulebook.digest, chosen_book(options)), assessment.language, options)
    width = min(100, shutil.get_terminal_size((96, 24)).columns)
    title, paint = record.horse or record.id, paint_for(sys.stdout)
    print(render(assessment, book, title=title, width=width, paint=paint, whole=options.all), end="")
    return 0


def _localized(book: Rulebook, answered: str | None, options: argparse.Namespace) -> Rulebook:
    """The book in the language that was asked for, else in that of the answer."""
    if options.language is not None or answered is None:
        return book_in_language(options, book)
    try:
        return localized_book(book, answered)
    except RulebookError:
        return book
