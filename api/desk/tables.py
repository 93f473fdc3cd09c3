"""Rows of the desk's tables: kept assessments, and feet with their marks."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, Final, NamedTuple

from api.desk.addresses import desk_address, drawing_address, report_address, sheet_address, visit_report_address
from api.responses.records import StoredAssessment
from fitcheck.drawing import shipped_words
from fitcheck.marking import MarkSheet, Tally
from fitcheck.records import Record, RecordFilter, Store
from fitcheck.stored import CannotMark, Unreadable, assessment_of, overrides_of, sheet_of
from rules import Rulebook, marking_of

__all__ = ["MOST_FEET", "FootRow", "MarksTable", "listed_rows", "marks_table", "time_text"]

MOST_FEET: Final = 100
_MOST_READ: Final = 400
_NONE: Final = "-"
_LABELS: Final = shipped_words().say


def time_text(created: str) -> str:
    """A time to the minute; it is UTC."""
    return created[:16].replace("T", " ")


def listed_rows(assessments: Iterable[StoredAssessment]) -> Iterator[dict[str, Any]]:
    """Kept assessments as the list shows them."""
    for each in assessments:
        row: dict[str, Any] = {"created": time_text(each.created), "erased": each.erased}
        if not each.erased:
            row |= {
                "foot": _LABELS(f"foot.{each.foot}"),
                "stage": _LABELS(f"stage.{each.stage}"),
                "decision": _LABELS(f"decision.{each.decision}"),
                "horse": each.horse or "",
                "visit": each.visit,
                "visit_report": visit_report_address(each.visit or ""),
                "visit_marks": desk_address("marks", visit=each.visit),
                "person": each.person,
                "progress": desk_address("progress", person=each.person),
                "assessor": each.assessor or "",
                "superseded": each.superseded,
                "report": report_address(each.id),
                "drawing": drawing_address(each.id),
                "sheet": sheet_address(each.id),
            }
        yield row


class FootRow(NamedTuple):
    """One foot with its marks, as they are read out."""

    sheet: str
    foot: str
    stage: str
    horse: str
    visit: str
    day: str
    person: str
    marks: tuple[str, ...]
    whole: str
    assessor: str


class MarksTable(NamedTuple):
    """Feet with their marks by criterion."""

    columns: tuple[str, ...]
    rows: tuple[FootRow, ...]
    left_out: bool
    """Whether there are older ones that are not shown."""


def marks_table(store: Store, record_filter: RecordFilter, book: Rulebook) -> MarksTable:
    """The marks of the newest feet wanted, each as it was last assessed at its visit. Raises StoreError."""
    records = store.records(record_filter, limit=_MOST_READ + 1)
    latest: dict[tuple[str | None, ...], Record] = {}
    for record in records[:_MOST_READ]:
        if not record.erased:
            # Without a visit each stands alone.
            key = (record.id,) if record.visit is None else (record.horse, record.visit, record.foot)
            latest.setdefault(key, record)
    shown = list(latest.values())[:MOST_FEET]
    names = [name for name, marks in marking_of(book).marks.items() if marks.marks and book.criteria[name].of == "foot"]
    return MarksTable(
        tuple(book.criteria[name].title for name in names),
        tuple(_row(store, record, names, book) for record in shown),
        len(latest) > MOST_FEET or len(records) > _MOST_READ,
    )


def _row(store: Store, record: Record, names: Iterable[str], book: Rulebook) -> FootRow:
    sheet: MarkSheet | None = None
    try:
        sheet = sheet_of(assessment_of(record), overrides_of(store, [record.id]), book)
        whole = _whole(sheet.tool)
    except CannotMark as error:
        whole = f"Cannot be marked: {error}"
    except Unreadable:
        whole = "Cannot be read by this version."
    by_name = {} if sheet is None else {each.criterion: each.mark for each in sheet.tool.criteria if each.of}
    marks = (by_name.get(name) for name in names)
    return FootRow(
        sheet=sheet_address(record.id),
        foot=_LABELS(f"foot.{record.foot}"),
        stage=_LABELS(f"stage.{record.stage}"),
        horse=record.horse or "",
        visit=record.visit or "",
        day=record.fitted or record.created[:10],
        person=record.person or "",
        marks=tuple(_NONE if mark is None else f"{mark:g}" for mark in marks),
        whole=whole,
        assessor="" if sheet is None or sheet.assessor is None else _whole(sheet.assessor),
    )


def _whole(tally: Tally) -> str:
    """The whole mark, or why there is none, in short."""
    if tally.mark is not None:
        return f"{tally.mark:g} of {tally.of:g}{f', {tally.band.title}' if tally.band else ''}"
    return {"stopped": "stopped, no mark", "incomplete": "something missing"}.get(tally.state, _NONE)
