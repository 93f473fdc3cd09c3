"""What is said of a pair of feet."""

from __future__ import annotations

from typing import Literal

from fitcheck.assessment.models import Conforming, Finding, Measurement, Output, RulebookIdentity
from fitcheck.fitting.models import FittedFoot
from rules.model.records import Foot, Stage

__all__ = ["NotCompared", "PairAssessment", "Reason"]

Reason = Literal[
    "not_seen",
    "one_foot",
    "horse",
    "visit",
    "stage",
    "work",
    "hoof_form",
    "no_limits",
    "not_read",
    "too_uncertain",
    "no_hole_in_common",
]


class NotCompared(Output):
    """One thing that was not compared, and why not."""

    what: str
    """pair, for all of it; or criterion.quantity@place."""
    reason: Reason
    feet: tuple[FittedFoot, ...]
    """The feet that stand in the way: not seen, not read, or not alike."""
    say: str
    """Why not, and what to do about it."""


class PairAssessment(Output):
    """Left held against right.  It releases nothing: the decision is made of each foot, and of the visit."""

    pair: Foot
    feet: tuple[FittedFoot, ...]
    """The feet of the pair that were seen."""
    stage: Stage | None
    """The stage of both feet; null where they were not compared."""
    rulebook: RulebookIdentity
    compared: bool
    """Whether the two feet were held together at all."""
    findings: tuple[Finding, ...]
    """Gravest first, joined before single, then in working order."""
    actions: tuple[str, ...]
    """What to put right, in working order; minor findings are noted, not acted on."""
    conforms: tuple[Conforming, ...]
    not_assessed: tuple[str, ...]
    """What was not compared, by name; ``not_compared`` says why."""
    not_compared: tuple[NotCompared, ...]
    measurements: tuple[Measurement, ...]
    """Left less right, each with its combined standard uncertainty; ``where`` has what was read on either foot."""
    cautions: tuple[str, ...]
