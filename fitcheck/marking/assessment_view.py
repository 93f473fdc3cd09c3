"""What of an assessment matters to its marks, whether it comes as a model or as the JSON that was kept of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from pydantic import BaseModel, ConfigDict, ValidationError

from fitcheck.assessment.models import Assessment, Decision, Finding, RulebookIdentity
from fitcheck.errors import BadInput, Problem
from fitcheck.fitting.models import FittedFoot
from rules import Rulebook
from rules.model import Grade, Stage

__all__ = ["AssessmentView", "FindingView", "Found", "assessment_view", "found_among", "found_in", "required_of"]


class _Part(BaseModel):
    """A part of an assessment; what is not asked for is left alone, whatever version wrote it."""

    model_config = ConfigDict(extra="ignore", from_attributes=True, frozen=True)


class FindingView(_Part):
    """A finding, as far as it is marked."""

    id: str
    rule: str
    criterion: str
    place: str
    grade: Grade
    finding: str
    rests_on: tuple[str, ...]


class _Conforming(_Part):
    criterion: str


class _Needed(_Part):
    criterion: str
    field: str


class AssessmentView(_Part):
    """An assessment as far as it is marked."""

    id: str
    created: str
    foot: FittedFoot
    stage: Stage
    decision: Decision
    rulebook: RulebookIdentity
    findings: tuple[FindingView, ...]
    conforms: tuple[_Conforming, ...]
    still_needed: tuple[_Needed, ...]

    @property
    def criteria_seen(self) -> frozenset[str]:
        """The criteria of which something was judged."""
        return frozenset([each.criterion for each in self.findings] + [each.criterion for each in self.conforms])


@dataclass(frozen=True, slots=True)
class Found:
    """One finding as it is to be counted.

    ``grade_found`` is None where an assessor added it; ``parts`` are the findings that are one fault with it.
    """

    id: str
    rule: str
    criterion: str
    grade: Grade
    grade_found: Grade | None
    say: str
    parts: frozenset[str] = frozenset()

    def graded(self, grade: Grade) -> Found:
        """The same finding under another grade."""
        return replace(self, grade=grade)


def assessment_view(assessment: Assessment | Mapping[str, Any]) -> AssessmentView:
    """Raises BadInput when ``assessment`` is not one as the tool gives it."""
    try:
        return AssessmentView.model_validate(assessment)
    except ValidationError as error:
        field = ".".join(map(str, error.errors(include_url=False)[0]["loc"])) or "(document)"
        problem = Problem(field, None, "an assessment as the tool gives it", "Give the assessment whole and unchanged.")
        raise BadInput([problem]) from None


def found_in(view: AssessmentView, book: Rulebook) -> dict[str, Found]:
    """The findings of an assessment: see :func:`found_among`."""
    return found_among(view.findings, book)


def found_among(findings: Sequence[FindingView | Finding], book: Rulebook) -> dict[str, Found]:
    """``findings`` by id, in their order, with what is one fault with each.

    Raises BadInput when one belongs to a criterion that ``book`` does not have.
    """
    return {each.id: _found(each, findings, book) for each in findings}


def _found(each: FindingView | Finding, among: Sequence[FindingView | Finding], book: Rulebook) -> Found:
    if each.criterion not in book.criteria:
        allowed = f"a finding on one of {', '.join(book.criteria)}"
        raise BadInput([Problem("findings", each.id, allowed, "Mark it by a rulebook that has this criterion.")])
    parts = frozenset[str]()
    if each.rests_on:
        joined = book.joined.get(each.rule)
        replaced = set(joined.replaces) if joined is not None and joined.replaces_actions else set[str]()
        parts = frozenset(
            other.id for other in among if other.id != each.id and (other.id in each.rests_on or other.rule in replaced)
        )
    return Found(each.id, each.rule, each.criterion, each.grade, each.grade, each.finding, parts)


def required_of(view: AssessmentView, book: Rulebook) -> tuple[str, ...]:
    """The criteria that the stage requires of this foot.

    Whether the shoe was hot does not stand in an assessment: what is required of a hot one only is so where some of it
    was observed or asked for.
    """
    required = book.required[view.stage]
    if view.stage == "finished":
        touched = view.criteria_seen | {each.criterion for each in view.still_needed}
        required += tuple(name for name in book.required_when_hot_fitted if name in touched and name not in required)
    return tuple(name for name in book.criteria if name in required)
