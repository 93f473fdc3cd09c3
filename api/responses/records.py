"""What was kept, as it is listed and as it is told in events."""

from __future__ import annotations

from typing import Any, Final, Literal

from pydantic import BaseModel, ConfigDict, Field

from fitcheck.assessment.models import Decision, Output
from fitcheck.documented import DayText, Instant, Uuid
from fitcheck.fitting.models import FittedFoot
from fitcheck.marking.by_hand import HandMarks
from fitcheck.marking.overrides import Override
from fitcheck.records.feed import DATA_TYPE, TYPES, sequence_of
from rules.model.records import Stage

__all__ = [
    "EVENT_EXAMPLES",
    "Event",
    "EventData",
    "RecordView",
    "StoredAssessment",
    "StoredAssessments",
    "StoredHandMarks",
    "StoredOverrides",
    "StoredRulebook",
]

_ID: Final = "6f1c2f0e-8a55-4f0e-9a3e-2d1f0c5b7a10"
_SOURCE: Final = "urn:uuid:2c26b46b-68ff-8c68-bff9-9b453c1d3041"
_NAMES: Final = (
    "person",
    "assessor",
    "horse",
    "foot",
    "visit",
    "stage",
    "decision",
    "fitted",
    "external_system",
    "external_id",
)


class _View(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", use_attribute_docstrings=True)


class StoredRulebook(_View):
    """The rulebook by which a foot was assessed."""

    version: str
    digest: str


class StoredAssessment(_View):
    """One assessment that was kept, in short."""

    id: Uuid
    number: int
    """Its place in the order of keeping, from 1 on; other kinds of record have numbers too."""
    created: Instant
    """UTC, ISO 8601."""
    foot: FittedFoot | None
    """Null, as all that tells of a person or horse, where it was erased."""
    stage: Stage | None
    decision: Decision | None
    person: str | None
    assessor: str | None
    horse: str | None
    """The yard's own name, or else the UELN or the transponder."""
    visit: str | None
    fitted: DayText | None
    """The day of the fitting, where it was said."""
    external_system: str | None = None
    external_id: str | None = None
    """The key that another system has for it."""
    rulebook: StoredRulebook
    corrects: Uuid | None
    """The id of the assessment that this one replaces."""
    superseded: bool
    """Whether another one replaces this."""
    erased: bool
    """Whether its content was erased on a person's demand; href then answers 410."""
    href: str
    """Where the assessment itself is."""


class StoredAssessments(_View):
    """A page of assessments that were kept."""

    assessments: tuple[StoredAssessment, ...]
    next: str | None
    """What to send as after for the next page; null at the end."""
    total: int | None = Field(default=None, exclude_if=lambda total: total is None)
    """How many the filters leave in all, where total=true asks for it."""


class StoredOverrides(Output):
    """What assessors changed in the marks of one assessment, in the order of keeping."""

    overrides: tuple[Override, ...]
    erased: int
    """How many more there were whose content was erased on a person's demand."""


class StoredHandMarks(Output):
    """What assessors marked by hand of one assessment, in the order of keeping."""

    hand_marks: tuple[HandMarks, ...]
    erased: int
    """How many more there were whose content was erased on a person's demand."""


class RecordView(_View):
    """The record that an event tells of. Names and what stands beside them are null once they were erased."""

    number: int
    """1, 2, 3 and so on, without gaps, in the order of keeping."""
    kind: Literal["assessment", "override", "hand_marks", "erasure"]
    digest: str
    """Seals the record and, by previous, all before it."""
    previous: str
    """The digest of the record of the number before; sha256: and 64 noughts in record 1."""
    content_digest: str
    about: str | None
    """The id of the assessment that this one corrects, or that the override or the marks by hand are about."""
    source: str | None
    """The digest that the record has in the store that it was imported from."""
    rulebook_version: str
    rulebook_digest: str
    person: str | None
    assessor: str | None
    horse: str | None
    foot: str | None
    visit: str | None
    stage: str | None
    decision: str | None
    fitted: str | None
    external_system: str | None = None
    external_id: str | None = None


class EventData(_View):
    """What an event says: the record, and what was kept with it, under the name of the record's kind."""

    record: RecordView
    erased: bool
    """Whether the content was erased since; then only the record stands here."""
    assessment: dict[str, Any] | None = None
    """The assessment just as it was kept: see Assessment. What an earlier version of the service answered stays so."""
    override: dict[str, Any] | None = None
    """The override just as it was kept."""
    hand_marks: dict[str, Any] | None = None
    """The marks by hand just as they were kept: see HandMarks."""
    erasure: dict[str, Any] | None = None
    """erased: the numbers of the records whose content and names are gone; reason: why. Erase yours of them too."""


class Event(_View):
    """A CloudEvent, version 1.0 of the specification, of one kept record."""

    specversion: Literal["1.0"]
    id: str
    """The record's id. An event that comes again has the same source and id; take it once."""
    source: str
    """The record store: a URN that stays the same, and that no other store has."""
    type: str
    """fitcheck.assessment.kept.v1, fitcheck.assessment.kept.v2, fitcheck.override.kept.v1,
    fitcheck.hand-marks.kept.v1 or fitcheck.records.erased.v1. v1 of an assessment: as the first contract has it; v2:
    with what the second adds. One that was erased has v1. Pass over those that your program does not know."""
    subject: str | None = None
    """The id of the assessment that was kept, or that the override or the marks by hand are about; none of an
    erasure."""
    time: str
    """When it was kept: RFC 3339, UTC. For the order go by sequence."""
    datacontenttype: Literal["application/json"]
    sequence: str
    """The record's number with noughts before it, so that it orders as text."""
    data: EventData


def _event(number: int, **changes: Any) -> dict[str, Any]:
    record: dict[str, Any] = {
        "number": number,
        "kind": "assessment",
        "digest": "sha256:" + f"{number:x}" * 64,
        "previous": "sha256:" + f"{number - 1:x}" * 64,
        "content_digest": "sha256:" + "c" * 64,
        "about": None,
        "source": None,
        "rulebook_version": "1.2.0",
        "rulebook_digest": "sha256:" + "b" * 64,
        **dict.fromkeys(_NAMES),
    }
    event: dict[str, Any] = {
        "specversion": "1.0",
        "id": _ID,
        "source": _SOURCE,
        "type": TYPES["assessment"][-1],
        "time": "2026-03-04T10:00:00.000Z",
        "datacontenttype": DATA_TYPE,
        "sequence": sequence_of(number),
    }
    data = {"record": record | changes.pop("record", {}), "erased": False} | changes.pop("data")
    return event | changes | {"data": data}


EVENT_EXAMPLES: Final[dict[str, Any]] = {
    "kept": {
        "summary": "An assessment; most of what it says is left out here",
        "value": [
            _event(
                1,
                subject=_ID,
                record={
                    "person": "A-1",
                    "assessor": "S-1",
                    "horse": "H-101",
                    "foot": "left_fore",
                    "visit": "2026-03-04-H-101",
                    "stage": "hot_fit",
                    "decision": "go_on",
                },
                data={"assessment": {"id": _ID, "decision": "go_on"}},
            )
        ],
    },
    "erased": {
        "summary": "The same after its person was erased, and the erasure",
        "value": [
            _event(1, subject=_ID, type=TYPES["assessment"][0], data={"erased": True}),
            _event(
                2,
                id="0b8d8f0a-3f3c-4c55-9d1b-5a4f9a0e7c21",
                type=TYPES["erasure"][0],
                time="2026-04-01T08:30:00.000Z",
                record={"kind": "erasure", "rulebook_version": "", "rulebook_digest": ""},
                data={"erasure": {"erased": [1], "reason": "The apprentice has left and asked for it."}},
            ),
        ],
    },
    "nothing_new": {"summary": "Nothing new: ask again from the next cursor", "value": []},
}
"""Named examples of an answer."""
