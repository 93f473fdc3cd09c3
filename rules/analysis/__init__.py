"""Analysis of a whole rulebook, beyond strict loading: every fault at once, each with a foot that shows it.

What can be observed is told by the caller, since this layer does not know how a fitting is written down.
"""

from __future__ import annotations

from collections.abc import Mapping

from rules.analysis.amounts import amounts
from rules.analysis.fault import Example, Fault
from rules.analysis.gaps import gaps
from rules.analysis.intervals import lanes
from rules.analysis.joined_rules import joining
from rules.analysis.overlaps import bands
from rules.analysis.unfed_limits import fed, known
from rules.analysis.unreachable import reach
from rules.analysis.untranslated import not_translated
from rules.analysis.unused import unused
from rules.loading.loader import shipped_rulebook
from rules.rulebook import Rulebook
from rules.situation import Feed, Feeds

__all__ = ["Example", "Fault", "Feed", "Feeds", "analyse"]


def analyse(book: Rulebook, feeds: Feeds, stated: Mapping[str, str]) -> list[Fault]:
    """Every fault of ``book``, which was loaded without one.

    ``feeds`` says what can be read where; ``stated`` are the quantities, with their units, that are only reckoned with
    and never read themselves.  Limits are taken without uncertainty, guarded ones too.  In the order of the book's
    files, those of its languages last.  Raises RulebookError for a language whose files are faulty.
    """
    looked_at = tuple(lanes(book, feeds))
    inherited = None if book.inherits is None else shipped_rulebook()
    faults = [
        *known(book, feeds, stated),
        *fed(book, feeds),
        *bands(book, looked_at),
        *gaps(book, feeds, inherited),
        *reach(book, feeds, looked_at),
        *amounts(book, looked_at),
        *joining(book, feeds),
        *unused(book, feeds, stated, inherited),
        *not_translated(book),
    ]
    files = list(dict.fromkeys(book.files.values()))
    return sorted(faults, key=lambda fault: files.index(fault.file) if fault.file in files else len(files))
