"""What a new record may not contradict: one that is kept already.

Looked at inside the transaction that holds the head, so that of two requests at once only one is kept. What comes from
another store (`Draft.source`) is history and is taken as it is.
"""

from __future__ import annotations

from collections import defaultdict
from typing import Any, Final

import sqlalchemy as sa
from pydantic_core import from_json

from fitcheck.records.errors import AlreadyCorrected, VisitOfAnotherHorse
from fitcheck.records.record import Draft
from fitcheck.records.tables import CORRECTIONS, contents, records, without_index

__all__ = ["Conflicts"]

_STANDING_CORRECTIONS: Final = CORRECTIONS.join(contents, contents.c.number == records.c.number)
"""Corrections that were not erased: one that was leaves what it corrected to be corrected anew."""

_MOST_LOOKED_AT: Final = 200
_LATER: Final = records.alias()
_KIND: Final = without_index(records.c.kind)


def _of_visit(other: sa.ColumnElement[bool]) -> sa.Select[Any]:
    """The assessments that count of a visit and that go by another name of a horse."""
    return (
        sa.select(records.c.id, contents.c.received)
        .join(contents)
        .where(records.c.visit == sa.bindparam("this_visit"), _KIND == "assessment", other)
        .where(~sa.exists().where(_LATER.c.about == records.c.id, without_index(_LATER.c.kind) == "assessment"))
    )


# In two halves, so that the index on visit and horse passes over all records of this very horse.
_HORSE: Final = sa.bindparam("this_horse", type_=sa.Text())
_OTHER_HORSES: Final = sa.union_all(_of_visit(records.c.horse < _HORSE), _of_visit(records.c.horse > _HORSE)).limit(
    _MOST_LOOKED_AT
)
_NAMES: Final = ("id", "ueln", "transponder")
_Names = dict[str, str]


class Conflicts:
    """Holds drafts that are to be kept in one transaction against what is kept, and against those before them."""

    def __init__(self, connection: sa.Connection) -> None:
        self._connection = connection
        self._corrections: dict[str, str] = {}
        """The id of each draft that is to be kept, by what it corrects."""
        self._of_visit: defaultdict[str, list[tuple[str, _Names]]] = defaultdict(list)
        """The id of each draft that is to be kept and the names of its horse, by its visit."""

    def check(self, draft: Draft) -> None:
        """Note ``draft`` as one to be kept.

        Raises AlreadyCorrected where it corrects what was corrected before, and VisitOfAnotherHorse.
        """
        if draft.kind != "assessment" or draft.source is not None:
            return
        if draft.about is not None:
            self._check_correction(draft, draft.about)
        if draft.visit is not None and draft.horse is not None:
            self._check_horse(draft, draft.visit, draft.horse)

    def _check_correction(self, draft: Draft, about: str) -> None:
        there = [id_ for _, id_ in self._connection.execute(_STANDING_CORRECTIONS, {"ids": [about]})]
        if there or about in self._corrections:
            raise AlreadyCorrected(about, there[-1] if there else self._corrections[about])
        self._corrections[about] = draft.id

    def _check_horse(self, draft: Draft, visit: str, horse: str) -> None:
        """A horse may go by several names: by its first name in common with another, it is that one or not."""
        rows = self._connection.execute(_OTHER_HORSES, {"this_visit": visit, "this_horse": horse})
        others = [(row.id, _names_in(row.received)) for row in rows if row.id != draft.about] + self._of_visit[visit]
        names = _names_in(draft.received)
        for id_, theirs in others:
            common = next((name for name in _NAMES if name in names and name in theirs), None)
            if common is not None and names[common] != theirs[common]:
                raise VisitOfAnotherHorse(visit, id_, f"horse.{common}", there=theirs[common], here=names[common])
        self._of_visit[visit].append((draft.id, names))


def _names_in(received: bytes) -> _Names:
    """The names of the horse in the body of a fitting."""
    try:
        horse = from_json(received)["horse"]
        return {name: horse[name] for name in _NAMES if isinstance(horse.get(name), str)}
    except (ValueError, LookupError, TypeError, AttributeError):
        return {}
