"""JSON schemas of everything that the service reads and writes."""

from __future__ import annotations

from typing import Any, Final

from pydantic import BaseModel, ConfigDict, Field
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

__all__ = ["BatchAnswerLine", "Health", "KeyedFitting", "component_schemas", "reference"]


class KeyedFitting(BaseModel):
    """A line of a batch with a key of its own, so that sending it again keeps nothing twice."""

    model_config = ConfigDict(extra="forbid", use_attribute_docstrings=True)

    key: str = Field(min_length=1, max_length=255, pattern="^[!-~]+$")
    """Your own name for this line: 1 to 255 visible ASCII characters, such as a random UUID."""
    fitting: Fitting


class BatchAnswerLine(BaseModel):
    """The answer to one line of a batch: either an assessment or a problem."""

    model_config = ConfigDict(extra="forbid", use_attribute_docstrings=True)

    line: int
    """The line of the request, counted from 1 over all lines, blank ones too."""
    location: str | None = None
    """Where the assessment was kept, with keep=true."""
    replayed: bool | None = None
    """true: this is the answer to an earlier line with the same key; else not there."""
    assessment: Assessment | None = None
    problem: ProblemDetails | None = None


class Health(BaseModel):
    """How the service is."""

    model_config = ConfigDict(extra="forbid", use_attribute_docstrings=True)

    status: str
    """alive or ready."""


_MODELS: Final[tuple[tuple[type[BaseModel], JsonSchemaMode], ...]] = (
    (Fitting, "validation"),
    (KeyedFitting, "validation"),
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
