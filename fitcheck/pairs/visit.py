"""A visit: the feet of one horse seen on one day, each as it was last assessed, and its pairs."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import UTC, datetime
from typing import Final, NamedTuple

from pydantic import Field

from fitcheck.assessment.models import Assessment, Output
from fitcheck.documented import Instant, Uuid
from fitcheck.errors import BadInput, Problem
from fitcheck.fitting.models import FittedFoot, Fitting
from fitcheck.pairs import FEET, PairAssessment, pairs_of
from fitcheck.vocabulary import GRAVEST_FIRST, Decision, utc
from rules import Rulebook
from rules.model.records import STAGES, NextStep, Stage

__all__ = ["Assessed", "FootOfVisit", "VisitAssessment", "visit_of"]

_NAMES: Final = 5  # of visits or horses, that a message repeats


class Assessed(NamedTuple):
    """A fitting with what was said of it; where it is kept, the number of its record and where that comes from."""

    fitting: Fitting
    assessment: Assessment
    number: int | None = None
    origin: str = ""
    """Numbers tell the order of records of one origin, and nothing of those of two."""

    @property
    def created(self) -> datetime:
        """When it was assessed, UTC."""
        return datetime.fromisoformat(self.assessment.created).astimezone(UTC)

    @property
    def order(self) -> tuple[int, datetime, int]:
        """Later assessments of one origin sort last: by number, whatever the clock said.

        Without a number by time, and of one instant those of the later stage.
        """
        if self.number is not None:
            return self.number, datetime.min.replace(tzinfo=UTC), 0
        return 0, self.created, STAGES.index(self.assessment.stage)


class FootOfVisit(Output):
    """One foot as it was last assessed."""

    foot: FittedFoot
    stage: Stage
    decision: Decision
    next: NextStep | None = Field(default=None, exclude_if=lambda step: step is None)
    """With go_on: the step that follows."""
    assessment: Uuid
    """The id of that assessment."""
    created: Instant
    """When it was made, UTC, ISO 8601."""
    earlier: tuple[Uuid, ...]
    """The ids of earlier assessments of the foot at this visit, which no longer count; the latest of them last."""
    in_conflict: tuple[Uuid, ...] = ()
    """The ids of assessments that another store kept, of which nobody can tell whether they are later: clocks differ.
    The gravest of them all counts until one that corrects the others says which holds."""


class VisitAssessment(Output):
    """What a visit comes to.  It speaks only of the feet that were seen."""

    visit: str | None
    decision: Decision
    """The gravest of the feet and pairs: stop_and_refer, put_right, incomplete, go_on, release."""
    decided_by: tuple[str, ...]
    """The feet, and pairs as pair:fore and pair:hind, that the decision comes from; none where no foot was seen."""
    feet: tuple[FootOfVisit, ...]
    feet_missing: tuple[FittedFoot, ...]
    """The feet of the four that were not seen; nothing is said of them, neither good nor bad."""
    pairs: tuple[PairAssessment, ...]
    """The fore pair, then the hind pair; one that was not compared says why."""


def visit_of(assessed: Iterable[Assessed], book: Rulebook | None = None) -> VisitAssessment:
    """The visit to which all that was ``assessed`` belongs, its pairs by ``book`` (the shipped rulebook when None).

    Of several assessments of one foot the latest counts, by number where they are kept; of those of several origins the
    gravest of the latest.  A visit of which no foot was seen is incomplete.

    Raises BadInput when the fittings name several visits or several horses; ValueError when an assessment is not of its
    fitting's foot and stage; and what fitcheck.pairs.assess_pair raises.
    """
    everything = list(assessed)
    for fitting, assessment, *_ in everything:
        if (assessment.foot, assessment.stage) != (fitting.foot, fitting.stage):
            raise ValueError(f"assessment {assessment.id} is not of its fitting's foot and stage")
    fittings = [each.fitting for each in everything]
    visits = _one_only("visit", fittings, lambda fitting: fitting.visit)
    _one_only("horse.id", fittings, lambda fitting: fitting.horse.id if fitting.horse else None)
    by_foot: dict[FittedFoot, list[Assessed]] = {}
    for each in sorted(everything, key=lambda each: each.order):
        by_foot.setdefault(each.fitting.foot, []).append(each)
    counting = {foot: _counting(every) for foot, every in by_foot.items()}
    feet = tuple(_foot(counting[foot], by_foot[foot]) for foot in FEET if foot in by_foot)
    pairs = pairs_of((counting[foot].fitting for foot in by_foot), book)
    decisions: dict[str, Decision] = {foot.foot: foot.decision for foot in feet}
    decisions |= {f"pair:{pair.pair}": decision for pair in pairs if (decision := _holds_up(pair)) is not None}
    decision = min(decisions.values(), key=GRAVEST_FIRST.index, default="incomplete")
    return VisitAssessment(
        visit=next(iter(visits), None),
        decision=decision,
        decided_by=tuple(name for name, one in decisions.items() if one == decision),
        feet=feet,
        feet_missing=tuple(foot for foot in FEET if foot not in by_foot),
        pairs=pairs,
    )


def _one_only(field: str, fittings: Iterable[Fitting], name: Callable[[Fitting], str | None]) -> list[str]:
    """The one name that the fittings give, or none.  Raises BadInput when they give several."""
    names = list(dict.fromkeys(value for fitting in fittings if (value := name(fitting)) is not None))
    if len(names) > 1:
        shown = ", ".join(names[:_NAMES]) + (" and others" if len(names) > _NAMES else "")
        detail = f"These fittings are not of one visit: they name {shown}. Give each visit of each horse its own name."
        raise BadInput([Problem(field=field, value=names[1], allowed=f"{names[0]} for all of them", detail=detail)])
    return names


def _latest(assessed: Iterable[Assessed]) -> list[Assessed]:
    """The latest of each origin, of assessments of one foot in their order."""
    return list({each.origin: each for each in assessed}.values())


def _counting(assessed: list[Assessed]) -> Assessed:
    """The latest; where nobody can tell which that is, the gravest of those that may be it."""
    return min(_latest(assessed), key=lambda each: GRAVEST_FIRST.index(each.assessment.decision))


def _foot(counting: Assessed, assessed: list[Assessed]) -> FootOfVisit:
    latest = [each.assessment.id for each in _latest(assessed)]
    return FootOfVisit(
        foot=counting.assessment.foot,
        stage=counting.assessment.stage,
        decision=counting.assessment.decision,
        next=counting.assessment.next,
        assessment=counting.assessment.id,
        created=utc(counting.created),
        earlier=tuple(each.assessment.id for each in assessed if each.assessment.id not in latest),
        in_conflict=tuple(id_ for id_ in latest if id_ != counting.assessment.id),
    )


def _holds_up(pair: PairAssessment) -> Decision | None:
    """What the findings on a pair ask for; None where nothing is to be done: a pair releases nothing."""
    grades = {finding.grade for finding in pair.findings if finding.blocks is not False}
    if "critical" in grades:
        return "stop_and_refer"
    return "put_right" if "major" in grades else None
