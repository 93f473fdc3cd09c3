"""What is kept of an assessment, an override and marks by hand, what comes back, and how records are asked for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from fitcheck.assessment.models import Assessment
from fitcheck.fitting.models import Fitting
from fitcheck.marking.by_hand import HandMarks
from fitcheck.marking.overrides import Override

__all__ = [
    "EMPTY",
    "GENESIS",
    "Draft",
    "Head",
    "Idempotency",
    "Kind",
    "Record",
    "RecordFilter",
    "StoredRecord",
    "draft_of",
    "draft_of_hand_marks",
    "draft_of_override",
]

Kind = Literal["assessment", "override", "hand_marks", "erasure"]

GENESIS: Final = "sha256:" + "0" * 64
"""What stands as ``previous`` in the record of number 1."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """What is to be kept, before the store gives it its number."""

    kind: Kind
    received: bytes
    """The body exactly as it was received; none for an erasure."""
    answer: bytes
    """The answer's JSON exactly as it was sent."""
    id: str
    """The id of the assessment, of the override or of the marks by hand."""
    created: str
    """RFC 3339, UTC, with milliseconds and Z."""
    person: str | None = None
    assessor: str | None = None
    horse: str | None = None
    foot: str | None = None
    visit: str | None = None
    stage: str | None = None
    decision: str | None = None
    fitted: str | None = None
    """The day of the fitting, ISO 8601."""
    external_system: str | None = None
    external_id: str | None = None
    """The key that another system has for it."""
    rulebook_version: str
    rulebook_digest: str
    about: str | None = None
    """The id of the assessment that this one corrects, or that the override or the marks by hand are about."""
    source: str | None = None
    """The digest that the record has in the store from which it was imported."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Record(Draft):
    """A record as it stands in the store."""

    number: int
    """1, 2, 3 and so on, without gaps, in the order of keeping."""
    salt: str | None
    """16 random bytes, hex, sealed with the content; None where it was erased."""
    content_digest: str
    previous: str
    """The digest of the record before it."""
    digest: str
    erased: bool
    """Whether content and names were erased; ``received`` and ``answer`` are then empty."""


@dataclass(frozen=True, slots=True)
class Idempotency:
    """The name that a client gave to one request, so that sending it again keeps nothing twice."""

    key: str
    scope: str
    """Whose key it is: the id of the access key, or "" where there is none."""
    body_digest: str
    """Digest of the body and of whatever else of the request bears on the answer."""


@dataclass(frozen=True, slots=True)
class StoredRecord:
    """What came of keeping: ``fresh`` is False where an earlier request of the same key had kept it."""

    record: Record
    fresh: bool


@dataclass(frozen=True, slots=True)
class Head:
    """The number and digest of the last record; with it noted, anyone can prove later that none before was changed."""

    number: int
    digest: str


EMPTY: Final = Head(0, GENESIS)
"""The head of a store without records."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordFilter:
    """Which records are asked for: those for which every field given is equal."""

    person: str | None = None
    assessor: str | None = None
    horse: str | None = None
    foot: str | None = None
    visit: str | None = None
    stage: str | None = None
    decision: str | None = None
    external_system: str | None = None
    external_id: str | None = None
    kind: Kind | None = None
    since: str | None = None
    """Created at this UTC time or later: RFC 3339, or a day, from its begin."""
    until: str | None = None
    """Created before this UTC time: RFC 3339, or a day, of which nothing counts."""
    first_day: str | None = None
    """Fitted on this day (ISO 8601) or later; what does not say so, created then (UTC)."""
    last_day: str | None = None
    """Fitted on this day or earlier; what does not say so, created then (UTC)."""
    part_of_horse: str | None = None
    """Of a horse in whose id this text stands, in capital or small letters of ASCII."""
    superseded: bool = True
    """Also those that a later assessment corrects."""
    current: bool = False
    """Only what counts: of each foot at a visit the latest, of each store that records come from; never a corrected
    one."""
    grade: str | None = None
    """With a finding of this grade."""
    rule: str | None = None
    """With a finding by this rule; with a grade, of that one."""


def draft_of(raw: bytes, fitting: Fitting, assessment: Assessment, *, corrects: str | None = None) -> Draft:
    """The draft of ``assessment``, of the fitting that came as ``raw``; ``corrects``: the id of the one it replaces.

    ``answer`` is the assessment's JSON: send just these bytes, so that what is kept is what was answered. A horse
    without the yard's own name goes by its UELN, or else by its transponder.
    """
    horse, history, external = fitting.horse, fitting.observations.history, fitting.external
    fitted = None if history is None else history.fitted
    return Draft(
        kind="assessment",
        received=raw,
        answer=assessment.model_dump_json().encode(),
        id=assessment.id,
        created=assessment.created,
        person=None if fitting.person is None else fitting.person.id,
        assessor=None if fitting.assessor is None else fitting.assessor.id,
        horse=None if horse is None else horse.id or horse.ueln or horse.transponder,
        foot=fitting.foot,
        visit=fitting.visit,
        stage=fitting.stage,
        decision=assessment.decision,
        fitted=None if fitted is None else fitted.isoformat(),
        external_system=None if external is None else external.system,
        external_id=None if external is None else external.id,
        rulebook_version=assessment.rulebook.version,
        rulebook_digest=assessment.rulebook.digest,
        about=corrects,
    )


def draft_of_override(raw: bytes, override: Override, about: Record) -> Draft:
    """The draft of ``override``, which came as ``raw``, of the marks of the assessment that is kept as ``about``.

    It bears the names of that assessment, so that it is found with it and erased with it, and no decision: it makes
    none.  ``answer`` is the override's JSON: send just these bytes.

    Raises ValueError when ``about`` is not the assessment that the override is about.
    """
    if about.kind != "assessment" or about.id != override.about:
        raise ValueError(f"override {override.id} is about assessment {override.about}, not {about.kind} {about.id}")
    return _about(raw, "override", override, about)


def draft_of_hand_marks(raw: bytes, by_hand: HandMarks, about: Record) -> Draft:
    """The draft of marks by hand, which came as ``raw``, of the assessment that is kept as ``about``.

    It bears the names of that assessment, as an override does.  Raises ValueError when ``about`` is another one.
    """
    if about.kind != "assessment" or about.id != by_hand.about:
        raise ValueError(f"marks {by_hand.id} are about assessment {by_hand.about}, not {about.kind} {about.id}")
    return _about(raw, "hand_marks", by_hand, about)


def _about(raw: bytes, kind: Kind, made: Override | HandMarks, about: Record) -> Draft:
    return Draft(
        kind=kind,
        received=raw,
        answer=made.model_dump_json().encode(),
        id=made.id,
        created=made.created,
        person=about.person,
        assessor=made.assessor.id,
        horse=about.horse,
        foot=about.foot,
        visit=about.visit,
        stage=about.stage,
        decision=None,
        fitted=about.fitted,
        external_system=about.external_system,
        external_id=about.external_id,
        rulebook_version=made.rulebook.version,
        rulebook_digest=made.rulebook.digest,
        about=about.id,
    )
