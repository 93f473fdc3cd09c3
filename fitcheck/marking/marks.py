"""The marks of one assessed foot: the tool's reckoning, and beside it the one that assessors made of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from fitcheck.assessment import Assessment
from fitcheck.marking.applying import Applied, shown_book
from fitcheck.marking.overrides import Override
from fitcheck.marking.reckoning import Share, tally_of
from fitcheck.marking.said import Said, required_of, said_of
from fitcheck.marking.sheet import MarkSheet, Missing, Tally
from rules import Rulebook, marking_of

__all__ = ["mark_of"]


def mark_of(
    assessment: Assessment | Mapping[str, Any], book: Rulebook, overrides: Iterable[Override] = ()
) -> MarkSheet:
    """The sheet of ``assessment`` (a model, or its JSON object) by the scheme of ``book``, with its ``overrides``.

    The same arguments give the same sheet, whatever the order of findings and overrides.  Raises BadInput when
    ``assessment`` is not one as the tool gives it, or has findings on a criterion that ``book`` lacks; ValueError when
    an override is about another assessment.
    """
    said = said_of(assessment)
    own = _tally(said, Applied(said, book, ()), book)
    applied = Applied(said, book, overrides)
    other = _tally(said, applied, book) if applied.changes else None
    return MarkSheet(
        assessment=said.id,
        created=said.created,
        foot=said.foot,
        stage=said.stage,
        decision=said.decision,
        judged_by=said.rulebook,
        marked_by=shown_book(book),
        tool=own,
        assessor=other,
        changes=tuple(applied.changes),
        says=tuple(_says(said, other, book)),
    )


def _tally(said: Said, applied: Applied, book: Rulebook) -> Tally:
    required = required_of(said, book)
    missing = list(_missing(said, required))
    lacking = {each.criterion for each in missing}
    seen = {*required, *said.observed, *(found.criterion for found in applied.findings.values())}
    shares = [
        Share(
            criterion=name,
            marks=marking_of(book).marks[name].marks if name in required else 0,
            findings=[found for found in applied.findings.values() if found.criterion == name],
            missing=name in lacking,
            set=applied.set.get(name),
        )
        for name in book.criteria
        if name in seen
    ]
    return tally_of(shares, missing, book)


def _missing(said: Said, required: Iterable[str]) -> Iterator[Missing]:
    """What the assessment still needs, and what this book requires of which nothing was observed."""
    for each in said.still_needed:
        yield Missing(criterion=each.criterion, field=each.field)
    told = {each.criterion for each in said.still_needed}
    for name in required:
        if name not in said.observed and name not in told:
            yield Missing(criterion=name, field=None)


def _says(said: Said, other: Tally | None, book: Rulebook) -> Iterator[str]:
    says = marking_of(book).says
    if said.decision == "stop_and_refer":
        yield says["stop_stays"].text
    elif other is not None and other.state == "stopped":
        yield says["stop_added"].text
    if other is not None:
        yield says["overridden"].text
    yield says["decides_nothing"].text
