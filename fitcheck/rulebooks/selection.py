"""Which rulebook judges, the shipped one or a folder that is named or set, and in which language it tells."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Final

import rules
from rules import Rulebook, RulebookError, load_rulebook, shipped_rulebook

__all__ = ["LANGUAGE_SETTING", "SETTING", "SHIPPED", "book_as_stored", "book_named", "localized_book"]

SETTING: Final = "FITCHECK_RULEBOOK"
"""The environment setting that names the folder of the rulebook where nothing else does."""

LANGUAGE_SETTING: Final = "FITCHECK_LANGUAGE"
"""The environment setting that names the language of texts where nothing else does."""

SHIPPED: Final = "shipped"
"""Names the shipped rulebook where a folder may be named."""


def book_named(name: str | None = None) -> Rulebook:
    """The rulebook in the folder ``name``; without one that of the setting, and without that the shipped one.

    Raises rules.RulebookError where it does not load.
    """
    name = name or os.environ.get(SETTING) or SHIPPED
    return shipped_rulebook() if name == SHIPPED else load_rulebook(Path(name))


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
