"""A kept visit by the name in an address."""

from __future__ import annotations

from typing import Any, Final

from api.http.metrics import count_engine_fault
from api.http.problems import ProblemError
from fitcheck.errors import BadInput, Problem
from fitcheck.fitting.strict_json import cut
from fitcheck.fitting.validation import summary
from fitcheck.records import Store
from fitcheck.stored import StoredVisit, Unreadable, stored_visit
from rules import EngineFault, Rulebook

__all__ = ["VISIT_NAME", "VISIT_PROBLEMS", "visit_named"]

VISIT_NAME: Final[dict[str, Any]] = {
    "name": "visit",
    "in": "path",
    "required": True,
    "description": "The visit, as in the fittings.",
    "schema": {"type": "string"},
    "example": "2026-03-04-H-101",
}
VISIT_PROBLEMS: Final = ("not-found", "visit-in-conflict", "cannot-show", "not-assessed")


def visit_named(store: Store, visit: str, book: Rulebook) -> StoredVisit:
    """The visit of that name. Raises ProblemError of a kind in VISIT_PROBLEMS, and StoreError."""
    try:
        found = stored_visit(store, visit, book)
    except BadInput as error:
        raise ProblemError("visit-in-conflict", error.problems[0].detail, error.problems) from error
    except Unreadable as error:
        detail = "An assessment of this visit was written in a way that this version does not read."
        raise ProblemError("cannot-show", detail) from error
    except EngineFault as error:
        count_engine_fault()
        detail = "The rules could not be run to their end on the pairs, so nothing is said of this visit."
        raise ProblemError("not-assessed", detail) from error
    if found is None:
        detail = f'Nothing was kept of a visit "{cut(visit)}". GET /v1/assessments lists visits that were.'
        fault = Problem("path.visit", summary(visit), "a visit in GET /v1/assessments", detail)
        raise ProblemError("not-found", detail, [fault])
    return found
