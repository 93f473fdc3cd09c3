"""Which rulebook judges, the shipped one or a folder that is named or set, and in which language it tells."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Final

import rules
from rules import Rulebook, RulebookError, first_rulebook, load_rulebook, shipped_rulebook

__all__ = [
    "BUILT_IN",
    "FIRST",
    "LANGUAGE_SETTING",
    "SETTING",
    "SHIPPED",
    "book_as_stored",
    "book_named",
    "book_of",
    "localized_book",
]

SETTING: Final = "FITCHECK_RULEBOOK"
"""The environment setting that names the folder of the rulebook where nothing else does."""

LANGUAGE_SETTING: Final = "FITCHECK_LANGUAGE"
"""The environment setting that names the language of texts where nothing else does."""

SHIPPED: Final = "shipped"
"""Names the shipped rulebook where a folder may be named."""

FIRST: Final = "1.3.0"
"""Names the rulebook of the first contract where a folder may be named; a folder of that name is ``./1.3.0``."""

BUILT_IN: Final[Mapping[str, Callable[[], Rulebook]]] = {SHIPPED: shipped_rulebook, FIRST: first_rulebook}
"""The rulebooks that come with the tool, by name."""


def book_named(name: str | None = None) -> Rulebook:
    """The rulebook BUILT_IN as ``name``, or in that folder; without one that of the setting, else the shipped one.

    Raises rules.RulebookError where it does not load.
    """
    name = name or os.environ.get(SETTING) or SHIPPED
    return BUILT_IN[name]() if name in BUILT_IN else load_rulebook(Path(name))


def book_of(digest: str, otherwise: Rulebook) -> Rulebook:
    """The rulebook that comes with the tool and has that digest; ``otherwise`` where none has."""
    return next((book for built_in in BUILT_IN.values() if (book := built_in()).digest == digest), otherwise)


def localized_book(book: Rulebook, language: str | None = None) -> Rulebook:
    """``book`` with its texts in ``language``; without one in that of the setting, and without that in its own.

    It judges alike in every language.  Raises rules.RulebookError for a language that the book does not have.
    """
    language = language or os.environ.get(LANGUAGE_SETTING)
    return rules.localized(book, language) if language else book


def book_as_stored(book: Rulebook, language: str | None) -> Rulebook:
    """``book`` in the language in which an assessment was kept; as it is where it does not have that one."""
    try:
        return book if language is None else rules.localized(book, language)
    except RulebookError:
        return book
