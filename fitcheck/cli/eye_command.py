"""``fitcheck eye``: how good a person's eye is, by words that were kept beside measures."""

from __future__ import annotations

import argparse
import shutil
import sys
import textwrap
from collections.abc import Iterator

from fitcheck.cli import BAD_INPUT, FAILED
from fitcheck.cli.options import add_language_option, add_rulebook_option, book_in_language, chosen_book
from fitcheck.cli.record_options import add_records_option, chosen_store, parsed_time
from fitcheck.eye.eye import stored_eye
from fitcheck.eye.models import EyeView
from fitcheck.eye.sentences import Sentences
from fitcheck.records import StoreError, TooManyRecords
from fitcheck.text.catalogue import messages_of
from rules import Rulebook

__all__ = ["configure"]


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the options."""
    parser.add_argument("person", metavar="PERSON", help="the id of the person, or of an assessor")
    parser.add_argument("--until", metavar="TIME", type=parsed_time, help="kept before: a day, or UTC with Z")
    parser.add_argument("--json", action="store_true", help="print it as one JSON document")
    add_records_option(parser)
    add_rulebook_option(parser)
    add_language_option(parser)
    parser.epilog = (
        "Nothing of it decides anything. Exit status: 0 done, 1 neither words nor practice of that person were kept, "
        "64 bad usage, 65 too many records, 70 the store failed."
    )
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Print how good the person's eye is."""
    book = book_in_language(options, chosen_book(options))
    try:
        with chosen_store(options, create=False) as store:
            view = stored_eye(store, options.person, book, until=options.until)
    except TooManyRecords as error:
        print(f"fitcheck eye: {error}", file=sys.stderr)
        return BAD_INPUT
    except StoreError as error:
        print(f"fitcheck eye: {error}", file=sys.stderr)
        return FAILED
    if not view.words and view.practice is None:
        print(f"fitcheck eye: {messages_of(book).say('eye.nobody', person=options.person)}", file=sys.stderr)
        return 1
    if options.json:
        print(view.model_dump_json())
    else:
        width = min(100, shutil.get_terminal_size((96, 24)).columns)
        print("\n".join(_lines(view, book, width)))
    return 0


def _lines(view: EyeView, book: Rulebook, width: int) -> Iterator[str]:
    messages, sentences = messages_of(book), Sentences(book)
    for text in view.say:
        yield from textwrap.wrap(text, width)
    for quantity in view.quantities:
        yield ""
        yield quantity.title
        for group in quantity.groups:
            where = sentences.where(group)
            if where:
                yield f"  {where}"
            for text in group.say:
                yield from textwrap.wrap(text, width, initial_indent="  - ", subsequent_indent="    ")
        for text in (quantity.trend.say, quantity.beside_assessors.say):
            yield from textwrap.wrap(text, width, initial_indent="  ", subsequent_indent="  ")
    if view.practice is not None:
        yield ""
        yield messages.say("eye.practice")
        for exercise in view.practice.exercises:
            yield f"  {exercise.title}"
            for text in exercise.say:
                yield from textwrap.wrap(text, width, initial_indent="  - ", subsequent_indent="    ")
        yield from textwrap.wrap(view.practice.say, width, initial_indent="  ", subsequent_indent="  ")
    yield ""
    yield messages.say("eye.stamp", version=view.version, scales=view.scales)
