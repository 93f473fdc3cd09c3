"""What an assessment says (JSON field names are fixed for outside clients)."""

# No annotations from __future__: pydantic would evaluate their texts, 13 ms of a cold start for all models together.

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, ConfigDict, Field

from fitcheck.documented import DayText, DocumentedModel, Instant, Uuid
from fitcheck.fitting.carrying import Carried
from fitcheck.fitting.models import FittedFoot
from fitcheck.vocabulary import Decision
from rules import Rulebook
from rules.model.figures import Status
from rules.model.records import Grade, NextStep, Order, Stage

__all__ = [
    "Assessment",
    "Conforming",
    "Decision",
    "EarlierFinding",
    "EyeUsed",
    "Finding",
    "LimitView",
    "Measured",
    "Measurement",
    "NextDue",
    "Outcome",
    "Retry",
    "RetryChange",
    "RulebookIdentity",
    "StillNeeded",
    "Unassessed",
    "Why",
]

Why = Literal["not_observed", "too_uncertain", "cannot_be_computed", "not_judged"]
"""Why nothing came of a reading."""

Outcome = Literal["clear", "minor", "major", "critical", "not_assessed"]
"""What came of one thing at one assessment: clear of findings, the gravest that there was, or nothing."""


class Output(DocumentedModel):
    """Base of the output models; each is built when the first of it is made."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, defer_build=True)


class RulebookIdentity(Output):
    """Which rulebook judged."""

    id: str
    title: str
    version: str
    digest: str
    """SHA-256 of the rulebook's files; for a book that inherits another, of that one's too."""

    @classmethod
    def of(cls, book: Rulebook) -> Self:
        """The identity of ``book``."""
        return cls(id=book.id, title=book.title, version=book.version, digest=book.digest)


class Measured(Output):
    """What was measured or seen."""

    quantity: str
    value: float | str
    """A number in ``unit``, or the word observed."""
    u: float | None
    """Standard uncertainty, in ``unit``; none for a word, nor for a range of worst cases."""
    unit: str | None
    low: float | None = Field(default=None, exclude_if=lambda end: end is None)
    """The least that it can be, of a range of worst cases alone; ``value`` is then its middle."""
    high: float | None = Field(default=None, exclude_if=lambda end: end is None)
    """The greatest that it can be."""
    where: str | None = None
    """Where at the place, in words; or for a cross-check, what was read and what was computed."""


class EyeUsed(Output):
    """Whose eye the chances of words are by."""

    person: str
    version: str
    """The version of GET /v1/people/{person}/eye."""


class LimitView(Output):
    """The range that would have been let pass."""

    low: float | None
    high: float | None
    unit: str


class Finding(Output):
    """One thing found: what, against which limit, how sure, what to do and why."""

    id: str
    """rule@place: the finding's name within this assessment."""
    rule: str
    criterion: str
    place: str
    grade: Grade
    confidence: float | None
    """Probability that the true value lies beyond the limit (JCGM 106); 1 for what was seen as a word.

    Null for a range of worst cases, and for what an eye judged or rests on that: nobody has measured how sure it is.
    """
    chance_by_eye: float | None = Field(default=None, exclude_if=lambda chance: chance is None)
    """Of a word, where the request named an eye: how probable it is that the true measure lies where the word puts it.

    By the words of that person that were measured; it changes nothing. Left out where it is not known.
    """
    measured: Measured | None
    limit: LimitView | None
    finding: str
    action: str
    amount: float | None
    """How far to go from the reading to the target, in the limit's unit; its sign says which way."""
    order: Order
    """Where the action stands in the working order."""
    blocks: bool | None = Field(default=None, exclude_if=lambda blocks: blocks is None)
    """Whether it holds the foot up; left out by a rulebook that releases at every stage."""
    caution: str
    rests_on: tuple[str, ...]
    """For a joined finding: the findings (rule@place) and readings (quantity@place) that it rests on."""
    carried: bool | None = Field(default=None, exclude_if=lambda carried: carried is None)
    """true: it rests on what was carried from an assessment before, a joined one on some of it; else not there."""
    status: Status
    """Whether the figure is published, common practice or from memory."""
    why: str
    """What is published where, and what is common practice."""
    sources: tuple[str, ...]


# Plain dataclasses: an assessment has many of them, and they hold nothing that needs validating.
@dataclass(slots=True)
class Conforming:
    """A reading on which no limit fired."""

    criterion: str
    quantity: str
    place: str


@dataclass(slots=True)
class Unassessed:
    """One reading that nothing came of."""

    field: Annotated[str, Field(description="Where it belongs in the fitting, or where it was sent.")]
    quantity: str
    place: str
    why: Annotated[
        Why,
        Field(
            description="not_observed: it was not sent. cannot_be_computed: something that it or its limit is computed "
            "from was not. too_uncertain: it may lie inside its limits or beyond. "
            "not_judged: it was sent and is kept, and no rule of the rulebook judges it here."
        ),
    ]
    how: Annotated[str, Field(description="What to look at or measure, and how; or what became of it.")]


@dataclass(slots=True)
class Measurement:
    """A number, read or computed, with its standard uncertainty."""

    quantity: str
    place: str
    value: float
    u: float
    unit: str
    where: Annotated[str | None, Field(description="Where at the place, in words.")] = None
    carried: Annotated[
        bool | None,
        Field(
            description="true: it was carried from an assessment before, or is computed from what was; else not there.",
            exclude_if=lambda carried: carried is None,
        ),
    ] = None


class EarlierFinding(Output):
    """What an assessment before found and could not be undone: told once more, and no longer judged."""

    assessment: Uuid
    """The id of the assessment that found it."""
    finding: Finding
    """As it was told then."""


class RetryChange(Output):
    """What a second try made of one thing."""

    rule: str
    """The rule that found it: now, or else before."""
    criterion: str
    quantity: str | None
    """Null for a joined finding."""
    place: str
    before: Outcome
    now: Outcome


class Retry(Output):
    """A second try of one stage held against the one before."""

    assessment: Uuid
    """The id of the assessment before."""
    better: tuple[RetryChange, ...]
    """What was found before and is clear now, or less grave."""
    worse: tuple[RetryChange, ...]
    """What was clear or less grave before."""
    left: tuple[RetryChange, ...]
    """What is as it was, was not looked at before, or not again."""


class NextDue(Output):
    """When the foot is to be shod again."""

    date: DayText
    """ISO 8601 day: the sooner of the interval's end and the day on which a heel may lose its cover."""
    reason: Literal["interval", "heel_support"]
    place: str
    """The heel that loses its cover first; foot for the interval."""
    days: int
    """Days from this fitting."""
    u: float
    """Standard uncertainty of the days."""
    say: str


class StillNeeded(Output):
    """One thing to observe before the foot can be released."""

    criterion: str
    """Of the rulebook; or stage or hoof_form, where the rulebook does not judge that of this foot."""
    field: str
    """Where it belongs in the fitting."""
    say: str
    """What to look at or measure, and how."""


def _time(text: str) -> str:
    if datetime.fromisoformat(text).tzinfo is None:
        raise ValueError("a time without its offset from UTC")
    return text


class Assessment(Output):
    """The answer to one fitting."""

    id: Uuid
    created: Annotated[Instant, AfterValidator(_time)]
    """UTC, ISO 8601."""
    foot: FittedFoot
    stage: Stage
    rulebook: RulebookIdentity
    decision: Decision
    next: NextStep | None = Field(default=None, exclude_if=lambda step: step is None)
    """With go_on: the step that follows."""
    findings: tuple[Finding, ...]
    """Gravest first, joined before single, then in working order."""
    actions: tuple[str, ...]
    """What to put right, in working order; minor findings are noted, not acted on."""
    notes: tuple[str, ...] | None = Field(default=None, exclude_if=lambda notes: notes is None)
    """The minor findings as notes, like ones in one sentence; left out by a rulebook that releases at every stage."""
    conforms: tuple[Conforming, ...]
    not_assessed: tuple[str, ...]
    """criterion, criterion.quantity or criterion.quantity@place that was not observed or could not be judged."""
    unassessed: tuple[Unassessed, ...] | None = Field(default=None, exclude_if=lambda parts: parts is None)
    """The same reading by reading, and what was sent and is not judged; left out by the first contract's rulebook."""
    carried: tuple[Carried, ...] | None = Field(default=None, exclude_if=lambda carried: carried is None)
    """What stands from the assessments before; left out where none is followed."""
    earlier_findings: tuple[EarlierFinding, ...] | None = Field(default=None, exclude_if=lambda found: found is None)
    """What the assessments before found and could not be undone; it holds nothing up. Left out where none is
    followed."""
    retry: Retry | None = Field(default=None, exclude_if=lambda retry: retry is None)
    """What became better, worse, and what is left, where the assessment before is of the same stage and visit."""
    still_needed: tuple[StillNeeded, ...]
    """What is missing of the observations that this stage requires."""
    measurements: tuple[Measurement, ...]
    next_due: NextDue | None
    """When the foot is to be shod again; null without the day of this fitting."""
    remarks: tuple[str, ...]
    """What the computations leave out, and on which side they err."""
    cautions: tuple[str, ...]
    eye: EyeUsed | None = Field(default=None, exclude_if=lambda eye: eye is None)
    """Whose eye chance_by_eye of findings is by; left out where none was asked for."""
    language: str | None = Field(default=None, exclude_if=lambda language: language is None)
    """The language of its texts (BCP 47), where another than the rulebook's own was asked for."""

    @property
    def verdict(self) -> str:
        """The decision, with the step that follows where the foot goes on: the name of the text that tells it."""
        return self.decision if self.next is None else f"{self.decision}_{self.next}"
