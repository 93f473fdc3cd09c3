"""Records out of a store, one after the other, however many there are."""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Final, Literal

from fitcheck.records.exchange import portable, spreadsheet
from fitcheck.records.record import Record, RecordFilter
from fitcheck.records.store import Store

__all__ = ["Format", "chunks", "of_person"]

Format = Literal["ndjson", "csv"]

_WRITERS: Final[Mapping[Format, tuple[bytes, Callable[[Record], bytes]]]] = {
    "ndjson": (b"", portable.line_of),
    "csv": (spreadsheet.HEADING, spreadsheet.row_of),
}


def of_person(store: Store, person: str) -> Iterator[Record]:
    """Every record where ``person`` fitted or assessed, oldest first, each once."""
    fitted = store.each_record(RecordFilter(person=person))
    assessed = (record for record in store.each_record(RecordFilter(assessor=person)) if record.person != person)
    return heapq.merge(fitted, assessed, key=lambda record: record.number)


def chunks(records: Iterable[Record], form: Format) -> Iterator[bytes]:
    """The file of these records, piece by piece: in CSV the columns' names, then a piece for each record."""
    heading, write = _WRITERS[form]
    if heading:
        yield heading
    for record in records:
        yield write(record)
