"""A person's work as it was kept, marked: one sheet for each assessment that no later one corrects."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import date
from itertools import islice
from typing import Final

from fitcheck.desk.bounded import at_most
from fitcheck.desk.marked import overrides_of, sheet_of
from fitcheck.marking.progress import MarkedFoot
from fitcheck.records import Record, Store, Wanted
from rules import Rulebook

__all__ = ["MOST_SHEETS", "marked_feet"]

MOST_SHEETS: Final = 2000
_AT_ONCE: Final = 100


def marked_feet(store: Store, wanted: Wanted, book: Rulebook, most: int = MOST_SHEETS) -> Iterator[MarkedFoot]:
    """Sheets of the assessments ``wanted``, marked by ``book``, in the order of keeping.

    Raises TooMany, Unreadable, CannotMark and StoreError.
    """
    records = at_most(store, wanted, most)
    while group := list(islice(records, _AT_ONCE)):
        overrides = overrides_of(store, [record.id for record in group])
        for record in group:
            sheet = sheet_of(record, [each for each in overrides if each.about == record.id], book)
            yield MarkedFoot(_day(record), _visit(record), sheet)


def _day(record: Record) -> date:
    """The day of the fitting, or else the one on which it was assessed."""
    return date.fromisoformat(record.fitted or record.created[:10])


def _visit(record: Record) -> str | None:
    """A name for the visit that no other horse's visit has."""
    return None if record.visit is None else json.dumps([record.horse, record.visit])
