"""The marking scheme of a rulebook, read when it is first asked for, and what must hold in it.

Every criterion has its marks, they add up, and the bands leave no gap.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import pairwise
from typing import Final

from rules.loading.marking_records import Band, Chosen, CriterionMarks, Deduction, Marking, ProgressFigure, Scheme
from rules.loading.record_checks import check_sourced, check_text, fail, known
from rules.loading.records import record_of, records_of, section_of
from rules.model.records import RANK, Stage, Standing
from rules.rulebook import Rulebook

__all__ = ["OF_VISITS", "PROGRESS", "SENTENCES", "check_marking", "marking_of"]

_FILE: Final = "marking.toml"
_DERIVED: Final = "marking"
_DEDUCTIONS: Final = ("minor", "major")
PROGRESS: Final = ("fewest_feet",)
"""The figures that progress is computed from."""

OF_VISITS: Final = "fewest_visits"
"""A figure of schemes that tell a trend by visits; one without tells it by feet."""

SENTENCES: Final = ("stopped", "incomplete", "decides_nothing", "overridden", "stop_stays", "stop_added")
"""The sentences that a sheet has."""


def marking_of(book: Rulebook) -> Marking:
    """The marking scheme of ``book``, checked against its criteria and kept with the book.

    Raises RulebookError as :func:`rules.load_rulebook` does.
    """
    known: Marking | None = book.derived.get(_DERIVED)
    if known is not None:
        return known
    table = book.marking_table
    marking = Marking(
        scheme=record_of(_FILE, "scheme", section_of(_FILE, table, "scheme"), Scheme),
        marks=records_of(_FILE, table, "marks", CriterionMarks)[0],
        deductions=records_of(_FILE, table, "deductions", Deduction)[0],
        bands=records_of(_FILE, table, "bands", Band)[0],
        progress=records_of(_FILE, table, "progress", ProgressFigure)[0],
        says=records_of(_FILE, table, "says", Standing)[0],
    )
    check_marking(book, marking)
    book.derived[_DERIVED] = marking
    return marking


def check_marking(book: Rulebook, marking: Marking) -> None:
    """Check the scheme of ``book`` within itself and against the criteria.

    Raises RulebookError for the first fault found.
    """
    _check_deductions(marking)
    _just("marks", marking.marks, book.criteria)
    _just("progress", marking.progress, PROGRESS, (OF_VISITS,))
    _just("says", marking.says, SENTENCES)
    tables: tuple[tuple[str, Mapping[str, Chosen]], ...] = (
        ("marks", marking.marks),
        ("deductions", marking.deductions),
        ("bands", marking.bands),
        ("progress", marking.progress),
    )
    check_sourced(book, _FILE, "scheme", marking.scheme)
    for table, records in tables:
        for name, record in records.items():
            check_sourced(book, _FILE, f"{table}.{name}", record)
    for name, say in marking.says.items():
        check_text(_FILE, f"says.{name}.text", say.text, ())
    _check_total(book, marking)
    _check_bands(marking)


def _just(table: str, present: Iterable[str], expected: Iterable[str], besides: Iterable[str] = ()) -> None:
    """The records are those expected, and at most some of ``besides``."""
    names, required = list(present), list(expected)
    for name in required:
        if name not in names:
            fail(_FILE, f"{table}.{name}", "this table is missing", f"Add [{table}.{name}]")
    for name in names:
        known(_FILE, f"{table}.{name}", f"name in {table}", name, [*required, *besides])


def _check_deductions(marking: Marking) -> None:
    deductions = marking.deductions
    if "critical" in deductions:
        problem = "a critical finding takes nothing off: it leaves no mark at all"
        fail(_FILE, "deductions.critical", problem, "Take this table out")
    _just("deductions", deductions, _DEDUCTIONS)
    if deductions["major"].percent < deductions["minor"].percent:
        problem = "a major finding would take less off than a minor one"
        fail(_FILE, "deductions.major.percent", problem, f"Write {deductions['minor'].percent} or more")


def _check_total(book: Rulebook, marking: Marking) -> None:
    """A foot's marks add up, and at each stage there is something to mark."""
    marks, total = marking.marks, marking.scheme.total
    of_foot = [name for name, criterion in book.criteria.items() if criterion.of == "foot"]
    found = sum(marks[name].marks for name in of_foot)
    if found != total:
        problem = f"the criteria of one foot have {found} marks together, not {total}"
        fail(_FILE, "scheme.total", problem, f"Write {found}, or change marks until they add up")
    stages: tuple[Stage, ...] = book.judges.stages
    for stage in stages:
        if not any(marks[name].marks for name in book.required[stage]):
            problem = f"nothing that the stage {stage} requires has marks"
            fail(_FILE, "marks", problem, f"Give marks to one of {', '.join(book.required[stage]) or 'its criteria'}")


def _check_bands(marking: Marking) -> None:
    """From the best band down, each begins lower and is no stricter; the last takes whatever is left."""
    bands = marking.best_first
    if not bands:
        fail(_FILE, "bands", "there is no band", "Add one that begins at 0")
    for (above, higher), (name, band) in pairwise(bands):
        if band.from_ == higher.from_:
            fail(_FILE, f"bands.{name}.from", f"it begins where {above} begins", "Begin each band elsewhere")
        if RANK[band.worst] < RANK[higher.worst]:
            problem = f"it is stricter than {above}, which is the better band"
            fail(_FILE, f"bands.{name}.worst", problem, f'Write "{higher.worst}"')
    name, last = bands[-1]
    if last.from_ != 0:
        fail(_FILE, f"bands.{name}.from", "marks below the lowest band have no name", "Write 0")
    if last.worst != "major":
        fail(_FILE, f"bands.{name}.worst", "work with a major finding would have no name", 'Write "major"')
    titles = [band.title for _, band in bands]
    for number, (other, band) in enumerate(bands):
        if band.title in titles[:number]:
            fail(_FILE, f"bands.{other}.title", f"two bands are called {band.title!r}", "Give each a name of its own")
