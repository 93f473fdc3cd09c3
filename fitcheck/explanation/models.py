"""What an explanation says: every reading against every limit, and how the decision comes of it."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from fitcheck.assessment.models import Assessment, Decision, Output, StillNeeded
from rules.model.figures import Status
from rules.model.records import Fires, Foot, Grade, HoofForm, Stage, Stance, Work, Yes

__all__ = [
    "ClauseExplained",
    "CriterionExplained",
    "DecisionExplained",
    "ExplainedAssessment",
    "Explanation",
    "JoinedExplained",
    "LimitElsewhere",
    "LimitExplained",
    "Outcome",
    "ReadingExplained",
    "ReplacedInput",
    "SituationExplained",
]

Outcome = Literal["fired", "silent", "silenced", "unmet", "not_judged"]
"""What came of one limit on one reading.

``fired``: it is a finding.  ``silent``: the reading lies within.  ``silenced``: it lies past this limit and past that
of a graver rule, which speaks instead.  ``unmet``: it lies past, but a word that the rule asks for besides is another.
``not_judged``: something that the limit needs was not observed.
"""


class SituationExplained(Output):
    """What holds for the whole foot, and so says which limits apply."""

    foot: Foot
    stage: Stage
    work: Work
    hoof_form: HoofForm
    stance: Stance | None = Field(default=None, exclude_if=lambda stance: stance is None)
    """Left out by a rulebook that takes a stance for a form of the hoof."""
    hot_fitted: Yes
    hot_fitted_assumed: bool
    """Whether the fitting does not say, so that the shoe was taken as hot."""


class LimitExplained(Output):
    """One limit that applies to one reading, what came of it, and by how much."""

    rule: str
    grade: Grade
    outcome: Outcome
    finding: str | None
    """The finding (rule@place) where it fired."""
    low: float | None
    """Least value that is let pass, worked out for this foot, in ``unit``."""
    high: float | None
    """Greatest value that is let pass."""
    unit: str | None
    words: tuple[str, ...]
    """The words on which it fires, for what is seen and not measured."""
    only_with: dict[str, tuple[str, ...]]
    """Words that other quantities at the same place must have besides."""
    follows: str | None
    """How low or high comes of a size of hoof or shoe."""
    printed: str | None
    """The figure as the source prints it."""
    fires: Fires
    """simple: past the limit; guarded: already where there is a small chance that the true value lies past it."""
    edge_fires: bool
    """Whether it fires on the limit itself too."""
    applies: str
    """The context that admitted it; everywhere where it has none."""
    status: Status
    sources: tuple[str, ...]
    margin: float | None
    """How far the reading lies inside the limit, in ``unit``; negative: past it.  None for words or what is unknown."""
    u: float | None
    """Standard uncertainty of the margin: of the reading, and of the size that the limit follows."""
    margin_in_u: float | None
    """The margin in standard uncertainties; None where there is no uncertainty."""
    until_fires: float | None
    """How far the reading could still go before the rule fires, in ``unit``; negative: it is past that.

    The margin itself, less the guard where the rule is guarded.
    """
    probability: float | None
    """Probability that the true value lies past the limit (JCGM 106); 1 or 0 for a word; None where unknown."""
    silenced_by: tuple[str, ...]
    """The graver rules that speak instead."""
    why: str


class LimitElsewhere(Output):
    """A limit on the same quantity that does not apply to this reading."""

    rule: str
    grade: Grade
    why: str


class ReplacedInput(Output):
    """The reading that was given where a computed one stands in its place."""

    value: float | str
    u: float | None
    method: str | None


class ReadingExplained(Output):
    """One reading, where it comes from, and each limit on it."""

    quantity: str
    title: str
    place: str
    value: float | str
    u: float | None
    """Standard uncertainty, in ``unit``; none for a word."""
    unit: str | None
    origin: Literal["given", "computed"]
    method: str | None
    """How it was read, and so where its uncertainty comes from."""
    where: str | None
    """Where at the place, in words; or for a cross-check, what was read and what was computed."""
    given: ReplacedInput | None
    """What was given, where a computed reading stands instead."""
    limits: tuple[LimitExplained, ...]
    elsewhere: tuple[LimitElsewhere, ...]


class ClauseExplained(Output):
    """One of the things that must hold together in a joined rule."""

    say: str
    holds: bool
    by: tuple[str, ...]
    """The findings (rule@place) or the reading (quantity@place) by which it holds."""
    margin: float | None
    """For a reading that must lie past a limit: how far inside it lies; negative: past it."""
    margin_in_u: float | None
    probability: float | None
    """Probability that the true value lies past that limit."""
    why: str


class JoinedExplained(Output):
    """One joined rule: which of its clauses held."""

    rule: str
    grade: Grade
    outcome: Literal["fired", "silent"]
    findings: tuple[str, ...]
    """The findings (rule@place) where it fired."""
    confidences: tuple[float | None, ...]
    """How sure each of them is."""
    applies: str
    status: Status
    sources: tuple[str, ...]
    clauses: tuple[ClauseExplained, ...]
    why: str


class CriterionExplained(Output):
    """Everything considered under one criterion."""

    criterion: str
    title: str
    observable: bool
    """Whether it can be observed at this stage at all."""
    required: bool
    """Whether this stage requires it before a release."""
    readings: tuple[ReadingExplained, ...]
    joined: tuple[JoinedExplained, ...]
    not_assessed: tuple[str, ...]
    """What of it was not observed or could not be judged, as in the assessment."""
    still_needed: tuple[StillNeeded, ...]


class DecisionExplained(Output):
    """How the decision comes of the findings and of what is missing."""

    decision: Decision
    say: str
    decided_by: tuple[str, ...]
    """The findings (rule@place) of the grade that decides."""
    other_findings: tuple[str, ...]
    """The findings that do not decide."""
    still_needed: tuple[str, ...]
    """Fields of the fitting without which the foot cannot be released."""


class Explanation(Output):
    """Why a fitting was judged as it was: each criterion in turn, then the decision."""

    situation: SituationExplained
    levels: dict[Fires, float]
    """The probability of lying past its limit at which a simple and a guarded rule fire."""
    criteria: tuple[CriterionExplained, ...]
    sizes: tuple[ReadingExplained, ...]
    """Sizes of hoof and shoe, which limits follow and joined rules look at."""
    kept: tuple[ReadingExplained, ...] = Field(default=(), exclude_if=lambda readings: not readings)
    """What was read and kept, and no rule of the book judges; left out where there is none."""
    decision: DecisionExplained


class ExplainedAssessment(Assessment):
    """An assessment with its explanation."""

    explanation: Explanation
