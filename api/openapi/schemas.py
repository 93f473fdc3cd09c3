"""JSON schemas of everything that the service reads and writes."""

from __future__ import annotations

from typing import Any, Final

from pydantic import BaseModel, ConfigDict
from pydantic.json_schema import JsonSchemaMode, models_json_schema

from api.http.problems import ProblemDetails
from api.responses.assessments import StoredAssessments, StoredOverrides
from api.responses.events import Event
from api.responses.rulebook import RulebookDocument, RuleView
from fitcheck.assessment.models import Assessment
from fitcheck.explanation.models import ExplainedAssessment
from fitcheck.fitting.models import Fitting
from fitcheck.marking import MarkSheet, VisitSheet
from fitcheck.marking.overrides import Override, OverrideRequest
from fitcheck.marking.progress import Progress
from fitcheck.pairs.visit import VisitAssessment
from fitcheck.stored.rater_report import Agreement

__all__ = ["BatchAnswerLine", "Health", "component_schemas", "reference"]


class BatchAnswerLine(BaseModel):
    """The answer to one line of a batch: either an assessment or a problem."""

    model_config = ConfigDict(extra="forbid", use_attribute_docstrings=True)

    line: int
    """The line of the request, counted from 1 over all lines, blank ones too."""
    location: str | None = None
    """Where the assessment was kept, with keep=true."""
    assessment: Assessment | None = None
    problem: ProblemDetails | None = None


class Health(BaseModel):
    """How the service is."""

    model_config = ConfigDict(extra="forbid", use_attribute_docstrings=True)

    status: str
    """alive or ready."""


_MODELS: Final[tuple[tuple[type[BaseModel], JsonSchemaMode], ...]] = (
    (Fitting, "validation"),
    (Assessment, "serialization"),
    (ExplainedAssessment, "serialization"),
    (StoredAssessments, "serialization"),
    (VisitAssessment, "serialization"),
    (OverrideRequest, "validation"),
    (Override, "serialization"),
    (StoredOverrides, "serialization"),
    (MarkSheet, "serialization"),
    (VisitSheet, "serialization"),
    (Progress, "serialization"),
    (Agreement, "serialization"),
    (BatchAnswerLine, "validation"),
    (Event, "serialization"),
    (Health, "serialization"),
    (ProblemDetails, "serialization"),
    (RulebookDocument, "serialization"),
    (RuleView, "serialization"),
)


def component_schemas() -> dict[str, Any]:
    """Every schema by its name, as OpenAPI components."""
    _, document = models_json_schema(_MODELS, ref_template="#/components/schemas/{model}")
    schemas: dict[str, Any] = document["$defs"]
    return dict(sorted(schemas.items()))


def reference(model: type[BaseModel]) -> dict[str, str]:
    """A reference to the schema of ``model`` among the components."""
    return {"$ref": f"#/components/schemas/{model.__name__}"}
