"""Rows of the desk's tables: kept assessments, and feet with their marks."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, Final, NamedTuple

from api.responses.records import StoredAssessment
from fitcheck.marking import MarkSheet, Tally
from fitcheck.records import Record, RecordFilter, Store
from fitcheck.stored import CannotMark, Unreadable, assessment_of, overrides_of, sheet_of
from fitcheck.text.catalogue import Messages, messages_of
from fitcheck.view import foot_title
from rules import Rulebook, marking_of

__all__ = ["MOST_FEET", "FootRow", "MarksTable", "listed_rows", "marks_table", "time_text"]

MOST_FEET: Final = 100
_MOST_READ: Final = 400
_NONE: Final = "-"
_SIGNS: Final = {"go_on": "→", "release": "✓", "put_right": "▲", "stop_and_refer": "■", "incomplete": "○"}
"""A sign of its own for each decision, for those who see no colours."""


def time_text(created: str) -> str:
    """A time to the minute; it is UTC."""
    return created[:16].replace("T", " ")


def listed_rows(assessments: Iterable[StoredAssessment], messages: Messages) -> Iterator[dict[str, Any]]:
    """Kept assessments as the list shows them."""
    for each in assessments:
        row: dict[str, Any] = {"id": each.id, "created": time_text(each.created), "erased": each.erased}
        if not each.erased:
            row |= {
                "foot": foot_title(each.foot, each.stage, messages) if each.foot and each.stage else "",
                "decision": messages.say(f"view.decision.{each.decision}"),
                "sign": _SIGNS.get(each.decision or "", ""),
                "horse": each.horse or "",
                "visit": each.visit,
                "person": each.person,
                "assessor": each.assessor or "",
                "superseded": each.superseded,
            }
        yield row


class FootRow(NamedTuple):
    """One foot with its marks, as they are read out."""

    id: str
    """That of its assessment."""
    foot: str
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
    messages = messages_of(book)
    try:
        sheet = sheet_of(assessment_of(record), overrides_of(store, [record.id]), book)
        whole = _whole(sheet.tool, messages)
    except CannotMark as error:
        whole = messages.say("desk.marks.cannot_mark", why=error)
    except Unreadable:
        whole = messages.say("desk.marks.unreadable")
    by_name = {} if sheet is None else {each.criterion: each.mark for each in sheet.tool.criteria if each.of}
    marks = (by_name.get(name) for name in names)
    return FootRow(
        id=record.id,
        foot=foot_title(record.foot, record.stage, messages) if record.foot and record.stage else "",
        horse=record.horse or "",
        visit=record.visit or "",
        day=record.fitted or record.created[:10],
        person=record.person or "",
        marks=tuple(_NONE if mark is None else messages.number(f"{mark:g}") for mark in marks),
        whole=whole,
        assessor="" if sheet is None or sheet.assessor is None else _whole(sheet.assessor, messages),
    )


def _whole(tally: Tally, messages: Messages) -> str:
    """The whole mark, or why there is none, in short."""
    if tally.mark is not None:
        mark, of = messages.number(f"{tally.mark:g}"), f"{tally.of:g}"
        if tally.band is None:
            return messages.say("marks.of", mark=mark, of=of)
        return messages.say("desk.marks.of_band", mark=mark, of=of, band=tally.band.title)
    return _NONE if tally.state == "whole" else messages.say(f"desk.marks.{tally.state}")
