"""Which texts a language leaves out that claims to have them all."""

from __future__ import annotations

from collections.abc import Iterator

from rules.analysis.fault import Fault
from rules.loading.translation import gaps, own_languages
from rules.rulebook import Rulebook

__all__ = ["not_translated"]


def not_translated(book: Rulebook) -> Iterator[Fault]:
    """A fault for each gap of each language of the book's own that is ``complete``.  Raises RulebookError."""
    for own in own_languages(book):
        for gap in gaps(book, own.language) if own.complete else ():
            yield Fault(
                f"languages/{own.language}/{gap.file}",
                gap.key,
                "not-translated",
                f"{own.title} claims to be complete, and this text is not translated: {gap.text!r}",
                "Translate it, or write complete = false in language.toml",
            )
