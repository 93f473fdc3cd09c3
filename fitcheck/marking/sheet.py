"""What a sheet of marks says; marks are numbers with at most two decimals, computed exactly."""

from __future__ import annotations

from typing import Literal

from fitcheck.assessment.models import Decision, Output, RulebookIdentity
from fitcheck.documented import Instant, Uuid
from fitcheck.fitting.models import FittedFoot
from rules.model.records import Foot, Grade, Stage

__all__ = [
    "BandView",
    "ChangeView",
    "CriterionMark",
    "FindingMark",
    "MarkSheet",
    "Missing",
    "PairMarks",
    "Standing",
    "State",
    "Tally",
    "VisitSheet",
    "VisitTally",
]

State = Literal["whole", "incomplete", "stopped"]
"""``stopped``: a critical finding leaves no mark.  ``incomplete``: something that is required was not observed."""

Standing = Literal["assessed", "missing", "set", "unmarked"]
"""``set``: an assessor set the mark.  ``unmarked``: no marks hang on it, or the stage does not require it."""


class BandView(Output):
    """What a mark is called."""

    name: str
    title: str
    meaning: str


class FindingMark(Output):
    """One finding and what it takes off."""

    finding: str
    """rule@place."""
    grade: Grade
    """As it is counted here."""
    grade_found: Grade | None
    """As the tool found it; null where an assessor added it."""
    say: str
    counted: bool
    takes: float
    """Marks that it takes off, before the criterion has none left; 0 where it is not counted."""
    why: str


class CriterionMark(Output):
    """One criterion: its marks, what was taken off and why."""

    criterion: str
    title: str
    standing: Standing
    of: float
    """The marks that it has at this stage; 0 where none hang on it."""
    mark: float | None
    """What is left; null where it was not assessed, is not marked, or a critical finding stops the mark."""
    taken_off: float
    findings: tuple[FindingMark, ...]
    why: str


class Missing(Output):
    """Something that the stage requires and that was not observed."""

    criterion: str
    field: str | None
    """Where it belongs in the fitting; null where the sheet's rulebook requires what the assessment's did not."""


class Tally(Output):
    """One reckoning of a foot, or of a pair of feet."""

    state: State
    mark: float | None
    """The whole mark; null where there is none."""
    of: float
    """The marks that could be had at this stage."""
    percent: float | None
    """``mark`` as a share of ``of``, to a tenth of a percent."""
    band: BandView | None
    so_far: float | None
    """Where something is missing: the marks left of ``so_far_of``."""
    so_far_of: float | None
    """The marks of what was observed."""
    stopped_by: tuple[str, ...]
    """The critical findings (rule@place)."""
    missing: tuple[Missing, ...]
    criteria: tuple[CriterionMark, ...]
    say: str


class ChangeView(Output):
    """One change that an assessor made, and whether it bears on the marks."""

    override: Uuid
    assessor: str
    created: Instant
    what: str
    about: str
    """The finding (rule@place), or the criterion whose mark was set."""
    reason: str
    applied: bool
    say: str


class MarkSheet(Output):
    """The marks of one assessment: the tool's reckoning, and an assessor's beside it where there is one."""

    assessment: Uuid
    """The id of the assessment."""
    created: Instant
    """When the foot was assessed, UTC, ISO 8601."""
    foot: FittedFoot
    stage: Stage
    decision: Decision
    """The decision on the foot; no mark and no override changes it."""
    judged_by: RulebookIdentity
    """The rulebook of the assessment."""
    marked_by: RulebookIdentity
    """The rulebook whose scheme marks it."""
    tool: Tally
    assessor: Tally | None
    """The reckoning with the changes that assessors made; null where they made none."""
    changes: tuple[ChangeView, ...]
    """Every change, in the order in which they were made."""
    says: tuple[str, ...]

    @property
    def counts(self) -> Tally:
        """The tally that counts: an assessor's where there is one."""
        return self.assessor or self.tool


class PairMarks(Output):
    """The marks of two feet held together; null where they were not compared."""

    pair: Foot
    tally: Tally | None
    say: str


class VisitTally(Output):
    """The feet that were seen, and the pairs that were compared, added up."""

    state: State
    mark: float | None
    of: float
    percent: float | None
    band: BandView | None
    stopped_by: tuple[str, ...]
    """The feet, and pairs as pair:fore and pair:hind, that have no mark because of a critical finding."""
    incomplete: tuple[str, ...]
    """The feet of which something is missing."""
    say: str


class VisitSheet(Output):
    """The marks of a visit; of its feet and pairs each as it was last assessed."""

    visit: str | None
    decision: Decision
    feet: tuple[MarkSheet, ...]
    pairs: tuple[PairMarks, ...]
    feet_missing: tuple[FittedFoot, ...]
    """Feet that were not seen: they count neither way."""
    tally: VisitTally
    """Of the reckoning that counts for each foot."""
    says: tuple[str, ...]
