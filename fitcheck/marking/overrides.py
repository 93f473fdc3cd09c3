"""Where an assessor marks a foot otherwise than the tool: each change with its reason, kept beside what the tool says.

The body (JSON)::

    {"about": "<id of the assessment>", "assessor": {"id": "S-1"}, "changes": [
      {"what": "strike",  "finding": "heel-width-close@medial_heel", "reason": "The rule slipped; it is 2 mm."},
      {"what": "regrade", "finding": "toe-full@toe", "grade": "major", "reason": "Taken off the clip side only."},
      {"what": "add",     "finding": "clinch-proud-medial@nail:medial:2", "reason": "Felt with the thumb."},
      {"what": "set_mark", "criterion": "finish", "mark": 4.5, "reason": "Rasp marks all along the lateral wall."}]}

An override changes marks only.  A critical finding that is struck or regraded still stops the foot: the tool's decision
to stop and refer stays.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Final, Literal

from pydantic import AfterValidator, Field, model_validator
from pydantic_core import PydanticCustomError

from fitcheck.assessment.models import Decision, Output, RulebookIdentity
from fitcheck.documented import Instant, Uuid
from fitcheck.fitting.identity import Identifier
from fitcheck.fitting.model_base import Model
from fitcheck.fitting.models import Assessor
from fitcheck.fitting.validation import parsed_as
from rules.model.records import Grade

__all__ = ["Change", "Override", "OverrideRequest", "parse_override"]

_LONGEST_REASON: Final = 500
_MOST_CHANGES: Final = 50
_LONGEST_FINDING: Final = 120
_MOST_MARKS: Final = 10_000


def _not_blank(reason: str) -> str:
    if not reason.strip():
        allowed = f"text of 1 to {_LONGEST_REASON} characters, not only blanks"
        context = {"detail": "There is no reason here. Say in a sentence why.", "allowed": allowed}
        raise PydanticCustomError("reason", "{detail}", context)
    return reason


Reason = Annotated[str, Field(min_length=1, max_length=_LONGEST_REASON), AfterValidator(_not_blank)]

_TAKES: Final[Mapping[str, tuple[frozenset[str], frozenset[str]]]] = {
    "strike": (frozenset({"finding"}), frozenset()),
    "regrade": (frozenset({"finding", "grade"}), frozenset()),
    "add": (frozenset({"finding"}), frozenset({"grade"})),
    "set_mark": (frozenset({"criterion", "mark"}), frozenset()),
}
"""The keys that each kind of change must have, and those that it may have."""

_KEYS: Final = ("finding", "grade", "criterion", "mark")


class Change(Model):
    """One thing that the assessor marks otherwise."""

    what: Literal["strike", "regrade", "add", "set_mark"]
    """strike: the finding does not count; regrade: it counts under another grade; add: one that the tool does not have;
    set_mark: the criterion has this mark, whatever was found."""
    finding: Annotated[str, Field(min_length=1, max_length=_LONGEST_FINDING)] | None = None
    """rule@place, as findings are named in an assessment."""
    grade: Grade | None = None
    """For a finding that is added: the rule's own grade where none is given."""
    criterion: Annotated[str, Field(min_length=1, max_length=64)] | None = None
    mark: Annotated[float, Field(allow_inf_nan=False, ge=0, le=_MOST_MARKS)] | None = None
    """Marks out of those that the criterion has, with at most two decimals."""
    reason: Reason

    @model_validator(mode="after")
    def _keys_fit(self) -> Change:
        needed, allowed = _TAKES[self.what]
        for key in _KEYS:
            present = getattr(self, key) is not None
            if key in needed and not present:
                raise _contradiction(key, f"{self.what} needs {key}.", f"{' and '.join(sorted(needed))} with a reason")
            if present and key not in needed | allowed:
                raise _contradiction(key, f"{key} does not belong to {self.what}.", "leave it out")
        return self

    @property
    def target(self) -> str:
        """The finding or the criterion that it is about."""
        return self.finding or self.criterion or ""


class OverrideRequest(Model):
    """The body of an override, as an assessor sends it."""

    about: Identifier
    """The id of the assessment."""
    assessor: Assessor
    changes: Annotated[list[Change], Field(min_length=1, max_length=_MOST_CHANGES)]

    @model_validator(mode="after")
    def _each_once(self) -> OverrideRequest:
        seen: set[str] = set()
        for number, change in enumerate(self.changes):
            if change.target in seen:
                key = "finding" if change.finding else "criterion"
                raise _contradiction(f"changes.{number}.{key}", "This stands here twice.", "each finding and mark once")
            seen.add(change.target)
        return self


class Override(Output):
    """An override as it is kept and answered."""

    id: Uuid
    created: Instant
    """UTC, ISO 8601."""
    about: Uuid
    assessor: Assessor
    changes: tuple[Change, ...]
    rulebook: RulebookIdentity
    """The rulebook whose scheme marks."""
    decision: Decision
    """The tool's decision on the foot, which stays."""
    says: tuple[str, ...]


def parse_override(raw: object) -> OverrideRequest:
    """The override that ``raw``, a parsed JSON document, describes.  Raises BadInput."""
    return parsed_as(OverrideRequest, raw)


def _contradiction(field: str, detail: str, allowed: str) -> PydanticCustomError:
    context = {"detail": f"{detail[0].upper()}{detail[1:]}", "allowed": allowed, "field": field}
    return PydanticCustomError("contradiction", "{detail}", context)
