"""What of an assessment is kept."""

from __future__ import annotations

from fitcheck.assessment import Assessment
from fitcheck.fitting import Fitting
from fitcheck.records.record import Draft

__all__ = ["draft_of"]


def draft_of(raw: bytes, fitting: Fitting, assessment: Assessment, *, corrects: str | None = None) -> Draft:
    """The draft of ``assessment``, of the fitting that came as ``raw``; ``corrects``: the id of the one it replaces.

    ``answer`` is the assessment's JSON: send just these bytes, so that what is kept is what was answered. A horse
    without the yard's own name goes by its UELN, or else by its transponder.
    """
    horse, history = fitting.horse, fitting.observations.history
    fitted = None if history is None else history.fitted
    return Draft(
        kind="assessment",
        received=raw,
        answer=assessment.model_dump_json().encode(),
        id=assessment.id,
        created=assessment.created,
        person=None if fitting.person is None else fitting.person.id,
        assessor=None if fitting.assessor is None else fitting.assessor.id,
        horse=None if horse is None else horse.id or horse.ueln or horse.transponder,
        foot=fitting.foot,
        visit=fitting.visit,
        stage=fitting.stage,
        decision=assessment.decision,
        fitted=None if fitted is None else fitted.isoformat(),
        rulebook_version=assessment.rulebook.version,
        rulebook_digest=assessment.rulebook.digest,
        about=corrects,
    )
