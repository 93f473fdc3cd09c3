"""From the bytes of one fitting to its assessment, or to the problem that says why there is none."""

from __future__ import annotations

from api.metrics import count_decision, count_engine_fault
from api.problem_details import ProblemError
from fitcheck.assess import assess
from fitcheck.assessment import Assessment
from fitcheck.errors import BadInput
from fitcheck.explain import explain
from fitcheck.fitting import Fitting
from fitcheck.problems import parse_fitting
from fitcheck.strict_json import loads
from rules import EngineFault, Rulebook

__all__ = ["assess_bytes"]


def assess_bytes(raw: bytes, book: Rulebook, *, explained: bool = False) -> tuple[Fitting, Assessment]:
    """Assess the fitting in the JSON document ``raw`` by ``book``; where ``explained``, it is an ExplainedAssessment.

    The assessment is told in the language of ``book``, what is wrong with the document in English.

    Raises ProblemError of kind bad-json, bad-input, or not-assessed when the rules did not run to their end.
    """
    try:
        document = loads(raw)
    except BadInput as error:
        raise ProblemError("bad-json", error.problems[0].detail, error.problems) from None
    try:
        fitting = parse_fitting(document, book.original or book)
        assessment = explain(fitting, book) if explained else assess(fitting, book)
    except BadInput as error:
        first = error.problems[0]
        many = "" if len(error.problems) == 1 else " More is wrong: see errors."
        raise ProblemError("bad-input", f"{first.field}: {first.detail}{many}", error.problems) from None
    except EngineFault as error:
        count_engine_fault()
        raise ProblemError(
            "not-assessed",
            "The rules could not be run to their end. There is no assessment of this foot, so it is not released.",
        ) from error
    count_decision(assessment.decision)
    return fitting, assessment
