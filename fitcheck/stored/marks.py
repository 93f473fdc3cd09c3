"""Overrides as they were kept, and marks of kept assessments with them."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from datetime import date
from itertools import islice
from typing import Any, Final

from pydantic import ValidationError
from pydantic_core import from_json

from fitcheck.errors import BadInput, FitcheckError
from fitcheck.marking import MarkSheet, mark_of
from fitcheck.marking.overrides import Override
from fitcheck.marking.progress import DatedSheet
from fitcheck.marking.sheet import ChangeView
from fitcheck.records import Record, RecordFilter, Store
from fitcheck.records.limited import at_most
from fitcheck.records.queries import overrides_about
from fitcheck.stored.assessment import Unreadable
from fitcheck.text.catalogue import messages_of
from rules import Rulebook

__all__ = [
    "MOST_SHEETS",
    "CannotMark",
    "answer_of",
    "changes_of",
    "dated_sheets",
    "override_in",
    "overrides_of",
    "sheet_of",
]


class CannotMark(FitcheckError):
    """The scheme of the rulebook at hand does not fit what was kept; the text says why."""


def overrides_of(store: Store, ids: Iterable[str]) -> list[Override]:
    """All overrides of these assessments that were not erased. Raises Unreadable and StoreError."""
    return [override_in(record) for record in overrides_about(store, ids) if not record.erased]


def override_in(record: Record) -> Override:
    """The override kept as ``record``. Raises Unreadable."""
    try:
        return Override.model_validate_json(record.answer)
    except ValidationError as error:
        raise Unreadable(f"The override kept as {record.id} is not one that this version reads.") from error


def answer_of(record: Record) -> dict[str, Any]:
    """What was answered, as the JSON object that it is. Raises Unreadable."""
    try:
        answer = from_json(record.answer, allow_inf_nan=False)
    except ValueError:
        answer = None
    if not isinstance(answer, dict):
        raise Unreadable(f"The answer kept as {record.id} is not one that this version reads.")
    return answer


def sheet_of(record: Record, overrides: Iterable[Override], book: Rulebook) -> MarkSheet:
    """The marks of a kept assessment by the scheme of ``book``. Raises Unreadable and CannotMark."""
    answer = answer_of(record)
    try:
        return mark_of(answer, book, overrides)
    except BadInput as error:
        raise CannotMark(error.problems[0].detail) from error


def changes_of(record: Record, overrides: Iterable[Override], book: Rulebook) -> tuple[ChangeView, ...]:
    """Every change that assessors made in the marks of a kept assessment, and what came of it.

    Where ``book`` cannot mark it, each is told as it was asked for.
    """
    every_override = list(overrides)
    if not every_override:
        return ()
    try:
        return sheet_of(record, every_override, book).changes
    except CannotMark as error:
        return tuple(
            ChangeView(
                override=each.id,
                assessor=each.assessor.id,
                created=each.created,
                what=change.what,
                about=change.target,
                reason=change.reason,
                applied=False,
                say=messages_of(book).say("marks.not_applied", why=error),
            )
            for each in every_override
            for change in each.changes
        )


MOST_SHEETS: Final = 2000
_AT_ONCE: Final = 100


def dated_sheets(
    store: Store, record_filter: RecordFilter, book: Rulebook, most: int = MOST_SHEETS
) -> Iterator[DatedSheet]:
    """Sheets of the assessments that ``record_filter`` asks for, marked by ``book``, in the order of keeping.

    Raises TooManyRecords, Unreadable, CannotMark and StoreError.
    """
    records = at_most(store, record_filter, most)
    while group := list(islice(records, _AT_ONCE)):
        overrides = overrides_of(store, [record.id for record in group])
        for record in group:
            sheet = sheet_of(record, [each for each in overrides if each.about == record.id], book)
            yield DatedSheet(_day(record), _visit(record), sheet)


def _day(record: Record) -> date:
    """The day of the fitting, or else the one on which it was assessed."""
    return date.fromisoformat(record.fitted or record.created[:10])


def _visit(record: Record) -> str | None:
    """A name for the visit that no other horse's visit has."""
    return None if record.visit is None else json.dumps([record.horse, record.visit])
