"""GET /v1/visits/{visit}: the feet of one horse on one day, put together from what was kept; also for other routes."""

from __future__ import annotations

from http import HTTPStatus
from typing import Final

from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import Response

from api.http.headers import JSON
from api.http.metrics import count_engine_fault
from api.http.problems import READING, ProblemError
from api.http.route_scopes import needs
from api.openapi.operation import Answer, Content, Operation, add_operation
from api.parameters.language import LanguageQuery, book_in, language_headers
from api.parameters.query import parameter
from api.routes.assessments import TAG
from api.store import AsyncStore
from fitcheck.errors import BadInput, Problem
from fitcheck.fitting.strict_json import cut
from fitcheck.fitting.validation import summary
from fitcheck.pairs.visit import VisitAssessment
from fitcheck.records import Store
from fitcheck.stored import StoredVisit, Unreadable, stored_visit
from rules import EngineFault, Rulebook

__all__ = ["VISIT_NAME", "VISIT_PROBLEMS", "add_visits", "visit_named"]

VISIT_NAME: Final = parameter("path", "visit", "The visit, as in the fittings.", example="2026-03-04-H-101")
VISIT_PROBLEMS: Final = ("not-found", "visit-in-conflict", "cannot-show", "not-assessed")
_VISIT: Final = """What a visit comes to: each foot as it was last assessed, the feet of the four that were not seen,
and left held against right, which may hold up feet that are each released. Assessments that a later one corrects are
left out. decision is the gravest of all of them, and decided_by says where it comes from; it speaks only of the feet
that were seen.

What was kept last counts, by number, whatever a clock said. Of records that were imported from another store nobody can
tell whether they are later than this store's own, since clocks differ: the gravest then counts, and in_conflict names
the others, until one that corrects them says which holds.

Nothing that was kept is assessed again: each foot has the decision that was answered. The pairs were not kept; they
are worked out now, from the fittings as they were received and by the rulebook that the service has now, which each
pair names."""


def add_visits(app: FastAPI, async_store: AsyncStore, book: Rulebook) -> None:
    """Add the route that puts the visits in ``async_store`` together, pairs by ``book``."""

    @needs("read")
    async def show_visit(request: Request) -> Response:
        localized = book_in(request, LanguageQuery.of(request).lang, book)
        visit = request.path_params["visit"]
        found = await async_store.read(lambda store: visit_named(store, visit, localized))
        return Response(found.visit.model_dump_json(), headers=language_headers(localized.language), media_type=JSON)

    # A visit's name may have slashes.
    add_operation(app, "/v1/visits/{visit:path}", show_visit, _SHOW)


_SHOW: Final = Operation(
    name="visit",
    tag=TAG,
    summary="All feet of a visit together",
    description=_VISIT,
    path=(VISIT_NAME,),
    query=LanguageQuery,
    answers={HTTPStatus.OK: Answer("The visit.", Content((VisitAssessment,)))},
    problems=(*VISIT_PROBLEMS, *READING),
)


def visit_named(store: Store, visit: str, book: Rulebook) -> StoredVisit:
    """The visit of that name, pairs by ``book``. Raises ProblemError of a kind in VISIT_PROBLEMS, and StoreError."""
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
