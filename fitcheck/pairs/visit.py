"""A visit: the feet of one horse seen on one day, each as it was last assessed, and its pairs."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any, Final, NamedTuple

from pydantic import AwareDatetime, BaseModel, ConfigDict

from fitcheck.assessment.models import Assessment, Output
from fitcheck.errors import BadInput, Problem
from fitcheck.fitting.models import FittedFoot, Fitting
from fitcheck.pairs import FEET, PairAssessment, pairs_of
from fitcheck.vocabulary import GRAVEST_FIRST, Decision, utc
from rules import Rulebook
from rules.model import STAGES, Stage

__all__ = ["Assessed", "FootOfVisit", "VisitAssessment", "visit_of"]

_NAMES: Final = 5  # of visits or horses, that a message repeats


class Assessed(NamedTuple):
    """A fitting with what was said of it: an Assessment, or its JSON object as it was kept."""

    fitting: Fitting
    assessment: Assessment | Mapping[str, Any]


class FootOfVisit(Output):
    """One foot as it was last assessed."""

    foot: FittedFoot
    stage: Stage
    decision: Decision
    assessment: str
    """The id of that assessment."""
    created: str
    """When it was made, UTC, ISO 8601."""
    earlier: tuple[str, ...]
    """The ids of earlier assessments of the foot at this visit, which no longer count; the latest of them last."""


class VisitAssessment(Output):
    """What a visit comes to.  It speaks only of the feet that were seen."""

    visit: str | None
    decision: Decision
    """The gravest of the feet and pairs: stop_and_refer, put_right, incomplete, release."""
    decided_by: tuple[str, ...]
    """The feet, and pairs as pair:fore and pair:hind, that the decision comes from; none where no foot was seen."""
    feet: tuple[FootOfVisit, ...]
    feet_missing: tuple[FittedFoot, ...]
    """The feet of the four that were not seen; nothing is said of them, neither good nor bad."""
    pairs: tuple[PairAssessment, ...]
    """The fore pair, then the hind pair; one that was not compared says why."""


class _FootSummary(BaseModel):
    """What of an assessment matters to the visit; the rest is left alone, whatever version wrote it."""

    model_config = ConfigDict(extra="ignore", from_attributes=True, frozen=True)

    id: str
    created: AwareDatetime
    foot: FittedFoot
    stage: Stage
    decision: Decision

    @property
    def when(self) -> tuple[AwareDatetime, int]:
        """Later assessments sort last; of one instant, those of the later stage."""
        return self.created, STAGES.index(self.stage)


def visit_of(assessed: Iterable[Assessed], book: Rulebook | None = None) -> VisitAssessment:
    """The visit to which all that was ``assessed`` belongs, its pairs by ``book`` (the shipped rulebook when None).

    Of several assessments of one foot the latest counts.  A visit of which no foot was seen is incomplete.

    Raises BadInput when the fittings name several visits or several horses; ValueError when an assessment is none, or
    is not of its fitting's foot and stage; and what fitcheck.pairs.assess_pair raises.
    """
    everything = [(fitting, _summary(fitting, assessment)) for fitting, assessment in assessed]
    fittings = [fitting for fitting, _ in everything]
    visits = _one_only("visit", fittings, lambda fitting: fitting.visit)
    _one_only("horse.id", fittings, lambda fitting: fitting.horse.id if fitting.horse else None)
    by_foot: dict[FittedFoot, list[tuple[Fitting, _FootSummary]]] = {}
    for each in sorted(everything, key=lambda each: each[1].when):
        by_foot.setdefault(each[0].foot, []).append(each)
    feet = tuple(_foot([summaries for _, summaries in by_foot[foot]]) for foot in FEET if foot in by_foot)
    pairs = pairs_of((each[-1][0] for each in by_foot.values()), book)
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


def _summary(fitting: Fitting, assessment: Assessment | Mapping[str, Any]) -> _FootSummary:
    summaries = _FootSummary.model_validate(assessment)
    if (summaries.foot, summaries.stage) != (fitting.foot, fitting.stage):
        raise ValueError(f"assessment {summaries.id} is not of its fitting's foot and stage")
    return summaries


def _one_only(field: str, fittings: Iterable[Fitting], name: Callable[[Fitting], str | None]) -> list[str]:
    """The one name that the fittings give, or none.  Raises BadInput when they give several."""
    names = list(dict.fromkeys(value for fitting in fittings if (value := name(fitting)) is not None))
    if len(names) > 1:
        shown = ", ".join(names[:_NAMES]) + (" and others" if len(names) > _NAMES else "")
        detail = f"These fittings are not of one visit: they name {shown}. Give each visit of each horse its own name."
        raise BadInput([Problem(field=field, value=names[1], allowed=f"{names[0]} for all of them", detail=detail)])
    return names


def _foot(summaries: list[_FootSummary]) -> FootOfVisit:
    *earlier, last = summaries
    return FootOfVisit(
        foot=last.foot,
        stage=last.stage,
        decision=last.decision,
        assessment=last.id,
        created=utc(last.created),
        earlier=tuple(each.id for each in earlier),
    )


def _holds_up(pair: PairAssessment) -> Decision | None:
    """What the findings on a pair ask for; None where nothing is to be done: a pair releases nothing."""
    grades = {finding.grade for finding in pair.findings}
    if "critical" in grades:
        return "stop_and_refer"
    return "put_right" if "major" in grades else None
