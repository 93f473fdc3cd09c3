"""GET /v1/visits/{visit}: the feet of one horse on one day, put together from what was kept."""

from __future__ import annotations

import json
from http import HTTPStatus
from typing import Final

from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import Response

from api.http.headers import JSON
from api.http.metrics import count_engine_fault
from api.http.problems import READING, ProblemError
from api.http.route_scopes import needs
from api.openapi.document import answer, media, problems
from api.parameters.language import LANG, LANGUAGE_PARAMETERS, book_in, language_headers
from api.parameters.query import known_only
from api.routes.assessments import TAG
from api.store import AsyncStore
from fitcheck.errors import BadInput, Problem
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.strict_json import cut, loads
from fitcheck.fitting.validation import parse_fitting, summary
from fitcheck.pairs.visit import Assessed, VisitAssessment, visit_of
from fitcheck.records import Record, RecordFilter
from rules import EngineFault, Rulebook, shipped_rulebook

__all__ = ["add_visits"]

_MOST: Final = 200
"""Assessments of one visit; four feet at three stages, each corrected again and again, are far fewer."""
_VISIT: Final = """What a visit comes to: each foot as it was last assessed, the feet of the four that were not seen,
and left held against right, which may hold up feet that are each released. Assessments that a later one corrects are
left out. decision is the gravest of all of them, and decided_by says where it comes from; it speaks only of the feet
that were seen.

Nothing that was kept is assessed again: each foot has the decision that was answered. The pairs were not kept; they
are worked out now, from the fittings as they were received and by the rulebook that the service has now, which each
pair names."""


def add_visits(app: FastAPI, async_store: AsyncStore, book: Rulebook) -> None:
    """Add the route that puts the visits in ``async_store`` together, pairs by ``book``."""

    @needs("read")
    async def show_visit(request: Request) -> Response:
        known_only(request, (LANG,))
        localized = book_in(request, book)
        visit = request.path_params["visit"]
        record_filter = RecordFilter(visit=visit, kind="assessment", superseded=False)
        records = await async_store.read(
            lambda store: store.records(record_filter, newest_first=False, limit=_MOST + 1)
        )
        if not records:
            detail = f'Nothing was kept of a visit "{cut(visit)}". GET /v1/assessments lists visits that were.'
            fault = Problem("path.visit", summary(visit), "a visit in GET /v1/assessments", detail)
            raise ProblemError("not-found", detail, [fault])
        return Response(
            _together(records, book, localized).model_dump_json(),
            headers=language_headers(localized.language),
            media_type=JSON,
        )

    app.add_api_route(
        # A visit's name may have slashes.
        "/v1/visits/{visit:path}",
        show_visit,
        methods=["GET"],
        operation_id="visit",
        tags=[TAG],
        summary="All feet of a visit together",
        description=_VISIT,
        response_class=Response,
        responses={
            HTTPStatus.OK.value: answer("The visit.", media(VisitAssessment)),
            **problems("bad-query", "not-found", "visit-in-conflict", "not-assessed", *READING),
        },
        openapi_extra={
            "parameters": [
                {
                    "name": "visit",
                    "in": "path",
                    "required": True,
                    "description": "The visit, as in the fittings.",
                    "schema": {"type": "string"},
                    "example": "2026-03-04-H-101",
                },
                *LANGUAGE_PARAMETERS,
            ]
        },
    )


def _together(records: list[Record], book: Rulebook, localized: Rulebook) -> VisitAssessment:
    if len(records) > _MOST:
        raise _conflict(f"There are more than {_MOST} assessments of this visit.")
    try:
        return visit_of([Assessed(_fitting(record, book), json.loads(record.answer)) for record in records], localized)
    except BadInput as error:
        raise _conflict(error.problems[0].detail, error) from error
    except EngineFault as error:
        count_engine_fault()
        raise ProblemError(
            "not-assessed", "The rules could not be run to their end on the pairs, so nothing is said of this visit."
        ) from error


def _fitting(record: Record, book: Rulebook) -> Fitting:
    """The fitting as it was received.

    It was taken when it was kept; a rulebook with narrower ranges since then must not make it unreadable.
    """
    document = loads(record.received)
    try:
        return parse_fitting(document, book)
    except BadInput:
        return parse_fitting(document, shipped_rulebook())


def _conflict(detail: str, error: BadInput | None = None) -> ProblemError:
    return ProblemError("visit-in-conflict", detail, () if error is None else error.problems)
