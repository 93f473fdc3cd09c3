"""The reader of kept answers of the first shape. It stays as it is, whatever becomes of assessments.

Its models are those of release 1.0.0, written out here, so that a change of the models of today cannot change what is
read of a record from then.
"""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict

from fitcheck.assessment import models as today

__all__ = ["read_first"]


def _time(text: str) -> str:
    if datetime.fromisoformat(text).tzinfo is None:
        raise ValueError("a time without its offset from UTC")
    return text


class _Stored(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class _Rulebook(_Stored):
    id: str
    title: str
    version: str
    digest: str


class _Measured(_Stored):
    quantity: str
    value: float | str
    u: float | None
    unit: str | None
    where: str | None = None


class _Limit(_Stored):
    low: float | None
    high: float | None
    unit: str


class _Finding(_Stored):
    id: str
    rule: str
    criterion: str
    place: str
    grade: Literal["minor", "major", "critical"]
    confidence: float
    measured: _Measured | None
    limit: _Limit | None
    finding: str
    action: str
    amount: float | None
    order: Literal["welfare", "iron", "foot", "nails", "finish"]
    caution: str
    rests_on: tuple[str, ...]
    status: Literal["published", "common practice", "from memory"]
    why: str
    sources: tuple[str, ...]


class _Conforming(_Stored):
    criterion: str
    quantity: str
    place: str


class _Measurement(_Stored):
    quantity: str
    place: str
    value: float
    u: float
    unit: str
    where: str | None = None


class _NextDue(_Stored):
    date: str
    reason: Literal["interval", "heel_support"]
    place: str
    days: int
    u: float
    say: str


class _StillNeeded(_Stored):
    criterion: str
    field: str
    say: str


class _Answer(_Stored):
    id: str
    created: Annotated[str, AfterValidator(_time)]
    foot: Literal["left_fore", "right_fore", "left_hind", "right_hind"]
    # dressed: since 1.1 the rulebook of the first contract is asked of it too, and finds it incomplete.
    stage: Literal["dressed", "hot_fit", "nailed", "finished"]
    rulebook: _Rulebook
    decision: Literal["release", "put_right", "stop_and_refer", "incomplete"]
    findings: tuple[_Finding, ...]
    actions: tuple[str, ...]
    conforms: tuple[_Conforming, ...]
    not_assessed: tuple[str, ...]
    still_needed: tuple[_StillNeeded, ...]
    measurements: tuple[_Measurement, ...]
    next_due: _NextDue | None
    remarks: tuple[str, ...]
    cautions: tuple[str, ...]
    language: str | None = None


def read_first(answer: bytes) -> today.Assessment:
    """The assessment in the JSON of ``answer``, which is of the first shape. Raises pydantic.ValidationError."""
    stored = _Answer.model_validate_json(answer)
    found = dict(stored) | {
        "rulebook": today.RulebookIdentity(**dict(stored.rulebook)),
        "findings": tuple(_finding(each) for each in stored.findings),
        "conforms": tuple(today.Conforming(**dict(each)) for each in stored.conforms),
        "still_needed": tuple(today.StillNeeded(**dict(each)) for each in stored.still_needed),
        "measurements": tuple(today.Measurement(**dict(each)) for each in stored.measurements),
        "next_due": None if stored.next_due is None else today.NextDue(**dict(stored.next_due)),
    }
    return today.Assessment(**found)


def _finding(stored: _Finding) -> today.Finding:
    measured = None if stored.measured is None else today.Measured(**dict(stored.measured))
    limit = None if stored.limit is None else today.LimitView(**dict(stored.limit))
    return today.Finding(**dict(stored) | {"measured": measured, "limit": limit})
