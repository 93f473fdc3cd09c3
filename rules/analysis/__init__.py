"""Analysis of a whole rulebook, beyond strict loading: every fault at once, each with a foot that shows it.

What can be observed is told by the caller, since this layer does not know how a fitting is written down.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from rules.analysis.amounts import amounts
from rules.analysis.fault import Example, Fault
from rules.analysis.gaps import gaps
from rules.analysis.intervals import interval_sets
from rules.analysis.joined_rules import never_joined
from rules.analysis.overlaps import bands
from rules.analysis.unfed_limits import known, unfed_limits
from rules.analysis.unreachable import reach
from rules.analysis.untranslated import not_translated
from rules.analysis.unused import unused
from rules.loading.loader import shipped_rulebook
from rules.rulebook import Rulebook
from rules.situation import Observable, Observables

__all__ = ["Example", "Fault", "Observable", "Observables", "analyse"]


def analyse(
    book: Rulebook,
    observables: Observables,
    stated: Mapping[str, str],
    *,
    on_progress: Callable[[int, int], None] = lambda _done, _total: None,
) -> list[Fault]:
    """Every fault of ``book``, which was loaded without one.

    ``observables`` says what can be read where; ``stated`` are the quantities, with their units, that only enter
    computations and are never read.  Limits are taken without uncertainty, guarded ones too.  In the order of the
    book's files, those of its languages last.  ``on_progress`` is told how many questions were looked
    into, and of how many.  Raises RulebookError for a language whose files are faulty.
    """
    inherited = None if book.inherits is None else shipped_rulebook()
    looked_at = tuple(interval_sets(book, observables))
    questions: tuple[Callable[[], Iterable[Fault]], ...] = (
        lambda: known(book, observables, stated),
        lambda: unfed_limits(book, observables),
        lambda: bands(book, looked_at),
        lambda: gaps(book, observables, inherited),
        lambda: reach(book, observables, looked_at),
        lambda: amounts(book, looked_at),
        lambda: never_joined(book, observables),
        lambda: unused(book, observables, stated, inherited),
        lambda: not_translated(book),
    )
    faults: list[Fault] = []
    for done, question in enumerate(questions, 1):
        faults += question()
        on_progress(done, len(questions))
    files = list(dict.fromkeys(book.files.values()))
    return sorted(faults, key=lambda fault: files.index(fault.file) if fault.file in files else len(files))
