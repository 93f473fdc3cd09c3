"""One foot at the desk: before it is marked by hand, as it is then held against the tool, and what is kept of it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any, Final, NamedTuple

from markupsafe import Markup

from api.desk.queue import Place, QueueQuery, place_of
from api.http.problems import ProblemError
from api.routes.stored_record import assessment_record, markable, readable, stored_foot
from fitcheck.errors import BadInput
from fitcheck.marking import HandMarks, MarkSheet, hand_marks_of, parse_hand_marks
from fitcheck.marking.by_hand import marked_criteria
from fitcheck.records import Draft, Idempotency, Store, draft_of_hand_marks
from fitcheck.stored import StoredFoot, assessment_of, overrides_of, sheet_of
from fitcheck.stored.as_sent import AsSent, observations_as_sent
from fitcheck.stored.by_hand import Compared, by_hand_of, compared, waiting_for, was_shown_before
from fitcheck.text.catalogue import Messages, messages_of
from rules import Rulebook, marking_of

__all__ = [
    "REASONS",
    "MarkedFoot",
    "changes_in",
    "hand_draft",
    "has_other_marks",
    "once",
    "read_foot",
    "shown_blind",
    "shown_compared",
    "well_filled",
]

GRADE_KEYS: Final = {"good": "1", "minor": "2", "major": "3", "critical": "4", "unseen": "0"}
"""What each criterion may be marked as, and by which key."""
REASONS: Final = ("seen", "measured", "elsewhere", "several", "graver", "milder")
"""Reasons for staying with one's own mark, in the order of the keys from 1."""
_UNSEEN: Final = "unseen"
_TOOLS: Final = "tool"
_OWN: Final = "own"


class MarkedFoot(NamedTuple):
    """What is read for the page of one foot."""

    stored: StoredFoot
    by_hand: HandMarks | None
    """The assessor's own marks."""
    compared: tuple[Compared, ...]
    sheet: MarkSheet
    place: Place
    reasoned: bool
    """Whether the assessor has changed the marks that count."""
    shown_before: bool
    """Whether the assessor has seen what the tool says of it, or of what it corrects."""
    corrected: bool
    """Whether another assessment has taken the place of this one."""


def read_foot(store: Store, id_: str, marker: str, query: QueueQuery, book: Rulebook) -> MarkedFoot:
    """The foot of that assessment for that assessor. Raises ProblemError and StoreError."""
    stored = stored_foot(store, id_, book)
    with readable(id_), markable(id_):
        overrides = overrides_of(store, [id_])
        own = next(iter(by_hand_of(store, [id_], marker)), None)
        sheet = sheet_of(stored.assessment, overrides, book)
    shown_before = was_shown_before(store, stored.record, marker)
    corrected = bool(store.corrections_of([id_]))
    place = place_of(waiting_for(store, marker, query.record_filter), stored.record)
    held = () if own is None else compared(own, stored.assessment, sheet)
    reasoned = any(each.assessor.id == marker for each in overrides)
    return MarkedFoot(stored, own, held, sheet, place, reasoned, shown_before, corrected)


class BlindRow(NamedTuple):
    """One criterion to be marked, with what was observed of it as it was sent."""

    name: str
    title: str
    of: str
    observed: tuple[AsSent, ...]


class GradeChoice(NamedTuple):
    """What a criterion may be marked as."""

    value: str
    key: str
    said: str


def shown_blind(foot: MarkedFoot, book: Rulebook, marker: str) -> dict[str, Any]:
    """The parts of the page before the foot is marked: nothing of what was found."""
    messages, marks = messages_of(book), marking_of(book).marks
    observed = observations_as_sent(foot.stored.fitting, book)
    names = marked_criteria(foot.stored.assessment, book)
    rows = [
        BlindRow(name, book.criteria[name].title, f"{marks[name].marks:g}", observed.get(name, ())) for name in names
    ]
    choices = [GradeChoice(grade, key, _grade(grade, messages)) for grade, key in GRADE_KEYS.items()]
    besides = [row for name, more in observed.items() if name not in names for row in more]
    drawing = foot.stored.unjudged_drawing(book.language)
    return {
        "rows": rows,
        "choices": choices,
        "besides": besides,
        "notes": foot.stored.fitting.notes,
        "own": foot.stored.record.assessor == marker,
        "shown_before": foot.shown_before,
        "drawing": Markup(drawing),  # noqa: S704  (the drawing escapes what it is given)
    }


def _grade(grade: str | None, messages: Messages) -> str:
    return messages.say("desk.blind.unseen") if grade in {None, _UNSEEN} else messages.named("grade", grade or "")


class ComparedRow(NamedTuple):
    """One criterion by hand and by the tool, in words."""

    name: str
    title: str
    own: str
    own_mark: str
    tool: str
    tool_mark: str
    why: tuple[str, ...]
    differs: bool
    other_mark: bool
    """Whether the grade is the same and the mark is not."""


class ReasonChoice(NamedTuple):
    """What an assessor may say of a difference."""

    value: str
    key: str
    said: str


def shown_compared(foot: MarkedFoot, book: Rulebook) -> dict[str, Any]:
    """The parts of the page on which the marks by hand stand beside the tool's, differences first."""
    messages = messages_of(book)
    rows = [_compared_row(each, book) for each in foot.compared]
    reasons = {_TOOLS: "tool", **{name: name for name in REASONS}, _OWN: "own"}
    return {
        "by_hand": foot.by_hand,
        "sheet": foot.sheet,
        "reasoned": foot.reasoned,
        "differing": [row for row in rows if row.differs],
        "alike": [row for row in rows if not row.differs],
        "decision": messages.say(f"view.decision.{foot.stored.assessment.verdict}"),
        "reasons": [
            ReasonChoice(value, str(key), messages.say(f"desk.compared.reason.{name}"))
            for key, (value, name) in enumerate(reasons.items())
        ],
    }


def _compared_row(each: Compared, book: Rulebook) -> ComparedRow:
    messages, own = messages_of(book), each.by_hand
    tool = each.tool
    return ComparedRow(
        own.criterion,
        book.criteria[own.criterion].title,
        _grade(own.grade, messages),
        _mark(own.mark, own.of, messages),
        _grade(each.tool_grade, messages),
        "" if tool is None else _mark(tool.mark, tool.of, messages),
        () if tool is None else tuple(found.say for found in tool.findings),
        each.steps > 0,
        each.other_mark,
    )


def _mark(mark: float | None, of: float, messages: Messages) -> str:
    return messages.say("marks.of", mark="-" if mark is None else messages.number(f"{mark:g}"), of=f"{of:g}")


def hand_draft(store: Store, id_: str, marker: str, fields: Mapping[str, str], book: Rulebook) -> Draft | None:
    """The marks in a form as they are to be kept; None where this assessor has marked the foot before.

    Raises ProblemError and StoreError.
    """
    record = assessment_record(store, id_)
    sent: dict[str, Any] = {"about": id_, "assessor": {"id": marker}, "criteria": list(_graded(fields))}
    if comment := fields.get("comment", "").strip():
        sent["comment"] = comment
    with readable(id_), markable(id_):
        if by_hand_of(store, [id_], marker):
            return None
        changed = any(each.assessor.id == marker for each in overrides_of(store, [id_]))
        shown_before = was_shown_before(store, record, marker)
        assessment = assessment_of(record)
        sheet_of(assessment, (), book)
    with well_filled():
        asked = parse_hand_marks(sent)
        made = hand_marks_of(asked, assessment, book, blind=not (changed or shown_before))
    return draft_of_hand_marks(json.dumps(sent, ensure_ascii=False).encode(), made, record)


def has_other_marks(by_hand: HandMarks, fields: Mapping[str, str]) -> bool:
    """Whether a form has other marks, or another comment, than were kept before."""
    kept = {each.criterion: each.grade for each in by_hand.criteria}
    sent = {each["criterion"]: each["grade"] for each in _graded(fields)}
    return sent != kept or fields.get("comment", "").strip() != (by_hand.comment or "")


def _graded(fields: Mapping[str, str]) -> Iterator[dict[str, str | None]]:
    for name, grade in fields.items():
        kind, _, criterion = name.partition(".")
        if kind == "grade":
            yield {"criterion": criterion, "grade": None if grade == _UNSEEN else grade}


def changes_in(foot: MarkedFoot, fields: Mapping[str, str], messages: Messages) -> Iterator[dict[str, Any]]:
    """The changes in a form that says of each difference whose mark stands, and why. Raises ProblemError."""
    for each in foot.compared:
        if not each.steps:
            continue
        name = each.by_hand.criterion
        chosen = fields.get(f"reason.{name}", "")
        if chosen == _TOOLS:
            continue
        reason = fields.get(f"own.{name}", "").strip() if chosen == _OWN else ""
        if chosen in REASONS:
            reason = messages.say(f"desk.compared.reason.{chosen}")
        if not reason:
            detail = f'Say of "{name}" whose mark stands, and why: choose a reason, or write one.'
            raise ProblemError("bad-form", detail)
        yield {"what": "set_mark", "criterion": name, "mark": each.by_hand.mark, "reason": reason}


@contextmanager
def well_filled() -> Iterator[None]:
    """What is made in the block comes from a form: ProblemError of kind bad-form where that is not well filled in."""
    try:
        yield
    except BadInput as error:
        first = error.problems[0]
        raise ProblemError("bad-form", f"{first.field}: {first.detail}", error.problems) from None


def once(what: str, id_: str, marker: str) -> Idempotency:
    """The name of what an assessor sends once of an assessment, however often the form is sent."""
    key = f"{what} {id_}"
    return Idempotency(key, f"desk {marker}", "sha256:" + hashlib.sha256(key.encode()).hexdigest())
