"""An assessment in short: what was decided, what was found in one sentence each, and what to do.

It has the same decision, findings and steps as the whole one, and none of the rest is computed for it.
"""

# No annotations from __future__: as in ``models``.

import uuid
from collections.abc import Collection, Iterable, Iterator
from typing import Annotated, Final

from pydantic import Field

from fitcheck.assessment.actions import working_order
from fitcheck.assessment.assess import cautions_of, findings_of, held_up, missing_of, unless_missing
from fitcheck.assessment.examine import examine
from fitcheck.assessment.following import Following
from fitcheck.assessment.models import Assessment, Finding, Output, StillNeeded
from fitcheck.documented import Instant, Uuid
from fitcheck.fitting.models import FittedFoot, Fitting
from fitcheck.vocabulary import Decision, now
from rules import Rulebook
from rules.model.records import Grade, NextStep, Stage

__all__ = ["BriefAssessment", "BriefFinding", "assess_briefly", "belonging", "brief_of"]

_NO_DIAGNOSIS: Final = "no_diagnosis"
"""The standing caution that is told with every assessment, however short."""


class BriefFinding(Output):
    """One thing found, in one sentence."""

    rule: str
    place: str
    grade: Grade
    say: str
    """What was found."""


class BriefAssessment(Output):
    """The answer to one fitting in short; whatever is not here stands in the whole assessment."""

    id: Uuid
    created: Annotated[Instant, Field(description="UTC, ISO 8601.")]
    foot: FittedFoot
    stage: Stage
    decision: Decision
    next: NextStep | None = Field(default=None, exclude_if=lambda step: step is None)
    """With go_on: the step that follows."""
    findings: tuple[BriefFinding, ...]
    """Gravest first."""
    steps: tuple[str, ...]
    """What to do now, in working order; of an incomplete foot what to observe, and how."""
    cautions: tuple[str, ...]
    """Those of what was found, and that nothing here is a diagnosis: show them with the findings."""
    language: str | None = Field(default=None, exclude_if=lambda language: language is None)
    """The language of its texts (BCP 47), where another than the rulebook's own was asked for."""


def assess_briefly(fitting: Fitting | Following, book: Rulebook) -> BriefAssessment:
    """Assess ``fitting`` by ``book`` in short. Raises what :func:`fitcheck.assessment.assess.assess` does."""
    examined = examine(fitting, book)
    stage = examined.fitting.stage
    findings, _ = findings_of(examined)
    decision = held_up(findings, book)
    needed: tuple[StillNeeded, ...] = ()
    if decision is None:
        # What is missing tells nothing where the foot is held up anyway.
        _, _, needed = missing_of(examined)
        decision = unless_missing(needed, stage, book)
    return BriefAssessment(
        id=str(uuid.uuid4()),
        created=now(),
        foot=examined.fitting.foot,
        stage=stage,
        decision=decision,
        next=book.decisions[stage] if decision == "go_on" else None,
        findings=_in_short(findings),
        steps=_steps(working_order(findings, stage, book), decision, needed),
        cautions=tuple(belonging(cautions_of(findings, book), findings, book)),
        language=None if book.original is None else book.language,
    )


def brief_of(assessment: Assessment, book: Rulebook) -> BriefAssessment:
    """``assessment`` in short; ``book`` judged it, in the language of the assessment."""
    return BriefAssessment(
        id=assessment.id,
        created=assessment.created,
        foot=assessment.foot,
        stage=assessment.stage,
        decision=assessment.decision,
        next=assessment.next,
        findings=_in_short(assessment.findings),
        steps=_steps(assessment.actions, assessment.decision, assessment.still_needed),
        cautions=tuple(belonging(assessment.cautions, assessment.findings, book)),
        language=assessment.language,
    )


def _in_short(findings: Iterable[Finding]) -> tuple[BriefFinding, ...]:
    return tuple(
        BriefFinding(rule=each.rule, place=each.place, grade=each.grade, say=each.finding) for each in findings
    )


def _steps(actions: tuple[str, ...], decision: Decision, needed: Iterable[StillNeeded]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(each.say for each in needed)) if decision == "incomplete" else actions


def belonging(cautions: Collection[str], findings: Iterable[Finding], book: Rulebook) -> Iterator[str]:
    """Of the ``cautions`` those of what was found, and that nothing is a diagnosis; all, where ``book`` has no such."""
    always = book.standing.get(_NO_DIAGNOSIS)
    if always is None or always.text not in cautions:
        yield from cautions
        return
    own = {always.text, *(each.caution for each in findings)}
    yield from (each for each in cautions if each in own)
