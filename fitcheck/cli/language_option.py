"""The option ``--language`` and what it names."""

from __future__ import annotations

import argparse

from fitcheck.books import LANGUAGE_SETTING, book_told
from fitcheck.cli import BadBook
from rules import Rulebook, RulebookError

__all__ = ["add_language_option", "told_book"]


def add_language_option(parser: argparse.ArgumentParser) -> None:
    """Add ``--language LANGUAGE``."""
    parser.add_argument(
        "--language",
        metavar="LANGUAGE",
        help=f"language of what is told, such as de (default: what {LANGUAGE_SETTING} names, else en); "
        "faults of the input are told in English",
    )


def told_book(options: argparse.Namespace, book: Rulebook) -> Rulebook:
    """``book`` in the language that the option or the setting names.

    Raises BadBook for a language that it does not have, or whose files are faulty.
    """
    try:
        return book_told(book, options.language)
    except RulebookError as error:
        raise BadBook(str(error)) from error
