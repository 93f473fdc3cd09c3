"""Assessments that were kept, as they are listed."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict

from fitcheck.assessment.models import Decision, Output
from fitcheck.fitting.models import FittedFoot
from fitcheck.marking.overrides import Override
from rules.model import Stage

__all__ = ["StoredAssessment", "StoredAssessments", "StoredOverrides", "StoredRulebook"]


class _View(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", use_attribute_docstrings=True)


class StoredRulebook(_View):
    """The rulebook by which a foot was assessed."""

    version: str
    digest: str


class StoredAssessment(_View):
    """One assessment that was kept, in short."""

    id: str
    number: int
    """Its place in the order of keeping, from 1 on; other kinds of record have numbers too."""
    created: str
    """UTC, ISO 8601."""
    foot: FittedFoot | None
    """Null, as all that tells of a person or horse, where it was erased."""
    stage: Stage | None
    decision: Decision | None
    person: str | None
    assessor: str | None
    horse: str | None
    """The yard's own name, or else the UELN or the transponder."""
    visit: str | None
    fitted: str | None
    """The day of the fitting, where it was said."""
    rulebook: StoredRulebook
    corrects: str | None
    """The id of the assessment that this one replaces."""
    superseded: bool
    """Whether another one replaces this."""
    erased: bool
    """Whether its content was erased on a person's demand; href then answers 410."""
    href: str
    """Where the assessment itself is."""


class StoredAssessments(_View):
    """A page of assessments that were kept."""

    assessments: tuple[StoredAssessment, ...]
    next: str | None
    """What to send as after for the next page; null at the end."""


class StoredOverrides(Output):
    """What assessors changed in the marks of one assessment, in the order of keeping."""

    overrides: tuple[Override, ...]
    erased: int
    """How many more there were whose content was erased on a person's demand."""
