"""Overrides as they were kept, and marks of kept feet with them."""

from __future__ import annotations

from collections.abc import Iterable

from pydantic import ValidationError

from fitcheck.desk.kept_foot import KeptFoot, Unreadable
from fitcheck.errors import BadInput
from fitcheck.marking import MarkSheet, mark_of
from fitcheck.marking.overrides import Override
from fitcheck.marking.sheet import ChangeShown
from fitcheck.records import Record, Store
from fitcheck.records.overrides import overrides_about
from rules import Rulebook

__all__ = ["changes_of", "override_in", "overrides_of", "sheet_of_foot"]


def overrides_of(store: Store, ids: Iterable[str]) -> list[Override]:
    """All overrides of these assessments that were not erased. Raises Unreadable and StoreError."""
    return [override_in(record) for record in overrides_about(store, ids) if not record.erased]


def override_in(record: Record) -> Override:
    """The override kept as ``record``. Raises Unreadable."""
    try:
        return Override.model_validate_json(record.answer)
    except ValidationError as error:
        raise Unreadable(f"The override kept as {record.id} is not one that this version reads.") from error


def sheet_of_foot(foot: KeptFoot, overrides: Iterable[Override], book: Rulebook) -> MarkSheet:
    """The marks of a kept foot by the scheme of ``book``. Raises BadInput where ``book`` cannot mark it."""
    return mark_of(foot.assessment, book, overrides)


def changes_of(foot: KeptFoot, overrides: Iterable[Override], book: Rulebook) -> tuple[ChangeShown, ...]:
    """Every change that assessors made in the marks of a foot, and what came of it.

    What ``book`` cannot mark is told as it was asked for.
    """
    given = list(overrides)
    if not given:
        return ()
    try:
        return sheet_of_foot(foot, given, book).changes
    except BadInput as error:
        return tuple(
            ChangeShown(
                override=each.id,
                assessor=each.assessor.id,
                created=each.created,
                what=change.what,
                about=change.target,
                reason=change.reason,
                applied=False,
                say=f"Not reckoned: {error.problems[0].detail}",
            )
            for each in given
            for change in each.changes
        )
