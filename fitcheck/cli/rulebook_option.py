"""The option ``--rulebook`` and what it names."""

from __future__ import annotations

import argparse
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from fitcheck.books import SETTING, SHIPPED, book_named
from fitcheck.cli import BadBook
from rules import Rulebook, RulesError, evaluator_for

__all__ = ["add_rulebook_option", "chosen_book", "named_book", "set_for_service"]


def add_rulebook_option(parser: argparse.ArgumentParser) -> None:
    """Add ``--rulebook DIR``."""
    parser.add_argument(
        "--rulebook",
        metavar="DIR",
        help=f"folder of the rulebook to judge by, or {SHIPPED} (default: what {SETTING} names, else {SHIPPED})",
    )


def chosen_book(options: argparse.Namespace, *, judging: bool = False) -> Rulebook:
    """The rulebook that the option or the setting names, compiled already where it is for ``judging``.

    Raises BadBook where it does not load or compile.
    """
    return named_book(options.rulebook, judging=judging)


def named_book(name: str | None, *, judging: bool = False) -> Rulebook:
    """The rulebook of that name; without one, of the setting: see :func:`chosen_book`."""
    try:
        book = book_named(name)
        if judging:
            evaluator_for(book)
    except RulesError as error:
        raise BadBook(f"{name or os.environ.get(SETTING) or SHIPPED}: {error}") from error
    return book


@contextmanager
def set_for_service(options: argparse.Namespace) -> Iterator[None]:
    """For as long as the block runs, the setting names what the option does: server processes read it."""
    before = os.environ.get(SETTING)
    if options.rulebook is not None:
        name = options.rulebook
        os.environ[SETTING] = name if name == SHIPPED else str(Path(name).absolute())
    try:
        yield
    finally:
        if options.rulebook is not None:
            os.environ.pop(SETTING)
            if before is not None:
                os.environ[SETTING] = before
