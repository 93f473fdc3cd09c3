"""Many records read at once, as far as one request may go."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice

from fitcheck.errors import FitcheckError
from fitcheck.records import Record, RecordFilter, Store
from fitcheck.records.exchange.exporting import filtered_records

__all__ = ["TooManyRecords", "at_most"]


class TooManyRecords(FitcheckError):
    """More records than are gone through at once."""

    def __init__(self, most: int) -> None:
        super().__init__(f"There are more than {most} records. Ask for fewer days.")
        self.most = most


def at_most(store: Store, record_filter: RecordFilter, most: int) -> Iterator[Record]:
    """The records wanted, oldest first, a few at a time in memory; erased ones are left out.

    Raises TooManyRecords once there are more than ``most``, and StoreError.
    """
    records = filtered_records(store, record_filter)
    yield from (record for record in islice(records, most) if not record.erased)
    if next(records, None) is not None:
        raise TooManyRecords(most)
