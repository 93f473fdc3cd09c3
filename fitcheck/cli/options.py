"""The option ``--rulebook`` and what it names."""

from __future__ import annotations

import argparse
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TextIO

from fitcheck.cli import BadBook
from fitcheck.report.terminal import Paint, plain, strong
from fitcheck.rulebooks.selection import BUILT_IN, FIRST, LANGUAGE_SETTING, SETTING, SHIPPED, book_named, localized_book
from rules import Rulebook, RulebookError, RulesError, evaluator_for

__all__ = [
    "add_language_option",
    "add_rulebook_option",
    "book_in_language",
    "chosen_book",
    "named_book",
    "paint_for",
    "rulebook_name",
    "set_for_service",
]


def add_rulebook_option(parser: argparse.ArgumentParser) -> None:
    """Add ``--rulebook DIR``."""
    parser.add_argument(
        "--rulebook",
        metavar="DIR",
        help=f"folder of the rulebook to judge by, {SHIPPED}, or {FIRST} for that of the first contract "
        f"(default: what {SETTING} names, else {SHIPPED})",
    )


def chosen_book(options: argparse.Namespace, *, judging: bool = False) -> Rulebook:
    """The rulebook that the option or the setting names; one of a yard's own is compiled where it is for ``judging``.

    Raises BadBook where it does not load or compile.
    """
    return named_book(options.rulebook, judging=judging)


def rulebook_name(options: argparse.Namespace) -> str:
    """What the option or the setting names, else the shipped rulebook; a folder by its whole path."""
    name = options.rulebook or os.environ.get(SETTING) or SHIPPED
    return name if name in BUILT_IN else str(Path(name).absolute())


def named_book(name: str | None, *, judging: bool = False) -> Rulebook:
    """The rulebook of that name; without one, of the setting: see :func:`chosen_book`."""
    named = name or os.environ.get(SETTING) or SHIPPED
    try:
        book = book_named(named)
        if judging and named not in BUILT_IN:
            evaluator_for(book).compile()
    except RulesError as error:
        others = error.others if isinstance(error, RulebookError) else ()
        raise BadBook("\n".join(f"{named}: {each}" for each in (error, *others))) from error
    return book


@contextmanager
def set_for_service(options: argparse.Namespace) -> Iterator[None]:
    """For as long as the block runs, the setting names what the option does: server processes read it."""
    before = os.environ.get(SETTING)
    if options.rulebook is not None:
        name = options.rulebook
        os.environ[SETTING] = name if name in BUILT_IN else str(Path(name).absolute())
    try:
        yield
    finally:
        if options.rulebook is not None:
            os.environ.pop(SETTING)
            if before is not None:
                os.environ[SETTING] = before


def add_language_option(parser: argparse.ArgumentParser) -> None:
    """Add ``--language LANGUAGE``."""
    parser.add_argument(
        "--language",
        metavar="LANGUAGE",
        help=f"language of what is told, such as de (default: what {LANGUAGE_SETTING} names, else en); "
        "faults of the input are told in English",
    )


def book_in_language(options: argparse.Namespace, book: Rulebook) -> Rulebook:
    """``book`` in the language that the option or the setting names.

    Raises BadBook for a language that it does not have, or whose files are faulty.
    """
    try:
        return localized_book(book, options.language)
    except RulebookError as error:
        raise BadBook(str(error)) from error


def paint_for(stream: TextIO) -> Paint:
    """How headings are painted on ``stream``; NO_COLOR and a dumb terminal are honoured."""
    bold = stream.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"
    return strong if bold else plain
