"""Checks the shipped book whole and writes its digest into ``checked``: ``python -m rules.loading.write_checked``."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from rules.loading.checks import check
from rules.loading.loader import shipped_rulebook
from rules.rulebook import Rulebook

__all__ = ["FILE", "module"]

FILE: Final = Path(__file__).with_name("checked.py")
_TEXT: Final = '''\
"""The digest of the shipped book as it was checked; ``python -m rules.loading.write_checked`` makes this file."""

from typing import Final

__all__ = ["CHECKED"]

CHECKED: Final = "{digest}"
'''


def module(book: Rulebook) -> str:
    """The text of the file.  Raises RulebookError for a fault of the book."""
    check(book)
    return _TEXT.format(digest=book.digest)


if __name__ == "__main__":
    FILE.write_text(module(shipped_rulebook()), encoding="utf-8", newline="\n")
