"""Kept assessments as rows of a table, one a finding or one a reading, for spreadsheets and statistics (RFC 4180)."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Iterator
from typing import Any, Final

from fitcheck.assessment.models import Assessment
from fitcheck.records import Record
from fitcheck.records.exchange.spreadsheet import safe_cell
from fitcheck.stored.assessment import assessment_of
from fitcheck.vocabulary import UCUM

__all__ = ["FINDING_COLUMNS", "READING_COLUMNS", "table_by_finding", "table_by_reading"]

_RECORD: Final = (
    "id",
    "number",
    "created",
    "fitted",
    "visit",
    "horse",
    "foot",
    "stage",
    "person",
    "assessor",
    "decision",
    "external_system",
    "external_id",
)
_ASSESSMENT: Final = ("assessment", *_RECORD[1:])
FINDING_COLUMNS: Final = (
    *_ASSESSMENT,
    "rule",
    "criterion",
    "place",
    "grade",
    "confidence",
    "blocks",
    "quantity",
    "value",
    "u",
    "unit",
    "ucum",
    "limit_low",
    "limit_high",
    "finding",
    "action",
    "caution",
)
READING_COLUMNS: Final = (*_ASSESSMENT, "quantity", "place", "value", "u", "unit", "ucum", "where", "carried")


def table_by_finding(records: Iterable[Record]) -> str:
    """A row for each finding. Raises Unreadable."""
    return _table(FINDING_COLUMNS, records, _findings)


def table_by_reading(records: Iterable[Record]) -> str:
    """A row for each number that was read or computed. Raises Unreadable."""
    return _table(READING_COLUMNS, records, _readings)


def _findings(assessment: Assessment) -> Iterator[tuple[object, ...]]:
    for each in assessment.findings:
        measured, limit = each.measured, each.limit
        unit = None if measured is None else measured.unit
        yield (
            *(each.rule, each.criterion, each.place, each.grade, each.confidence, each.blocks),
            *((None, None, None) if measured is None else (measured.quantity, measured.value, measured.u)),
            *(unit, UCUM.get(unit or "")),
            *((None, None) if limit is None else (limit.low, limit.high)),
            *(each.finding, each.action, each.caution),
        )


def _readings(assessment: Assessment) -> Iterator[tuple[object, ...]]:
    for each in assessment.measurements:
        ucum = UCUM.get(each.unit)
        yield (each.quantity, each.place, each.value, each.u, each.unit, ucum, each.where, each.carried)


def _table(
    columns: Iterable[str], records: Iterable[Record], rows: Callable[[Assessment], Iterator[tuple[object, ...]]]
) -> str:
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(columns)
    for record in records:
        # Of what was erased there is nothing left to tell.
        if not record.erased:
            about = [getattr(record, name) for name in _RECORD]
            writer.writerows([_cell(each) for each in (*about, *row)] for row in rows(assessment_of(record)))
    return out.getvalue()


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        return safe_cell(value)
    # A number is no formula, whatever its sign.
    return str(value).lower() if isinstance(value, bool) else f"{value}"
