"""What of an assessment is kept, and of an override of its marks."""

from __future__ import annotations

from fitcheck.assessment.models import Assessment
from fitcheck.fitting.models import Fitting
from fitcheck.marking.overrides import Override
from fitcheck.records.record import Draft, Record

__all__ = ["draft_of", "draft_of_override"]


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


def draft_of_override(raw: bytes, override: Override, about: Record) -> Draft:
    """The draft of ``override``, which came as ``raw``, of the marks of the assessment that is kept as ``about``.

    It bears the names of that assessment, so that it is found with it and erased with it, and no decision: it makes
    none.  ``answer`` is the override's JSON: send just these bytes.

    Raises ValueError when ``about`` is not the assessment that the override is about.
    """
    if about.kind != "assessment" or about.id != override.about:
        raise ValueError(f"override {override.id} is about assessment {override.about}, not {about.kind} {about.id}")
    return Draft(
        kind="override",
        received=raw,
        answer=override.model_dump_json().encode(),
        id=override.id,
        created=override.created,
        person=about.person,
        assessor=override.assessor.id,
        horse=about.horse,
        foot=about.foot,
        visit=about.visit,
        stage=about.stage,
        decision=None,
        fitted=about.fitted,
        rulebook_version=override.rulebook.version,
        rulebook_digest=override.rulebook.digest,
        about=about.id,
    )
