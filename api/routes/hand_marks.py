"""GET /v1/assessments/{id}/hand-marks: what assessors marked at the desk before they saw the tool's marks."""

from __future__ import annotations

from http import HTTPStatus
from typing import Final

from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import Response

from api.http.problems import READING
from api.http.route_scopes import needs
from api.openapi.operation import Answer, Content, Operation, add_operation
from api.parameters.query import Query
from api.responses.records import StoredHandMarks
from api.routes.assessments import LIST
from api.routes.marks import as_json
from api.routes.overrides import MARKS_TAG
from api.routes.stored_record import ASSESSMENT_ID, TAGGED, assessment_record, readable
from api.store import AsyncStore
from fitcheck.records import Store
from fitcheck.stored.by_hand import by_hand_in

__all__ = ["add_hand_marks"]

_DOC: Final = """What assessors marked by hand of the assessment, in the order of keeping: a grade for each criterion
that has marks, the mark that the scheme leaves for it, and a comment for whoever fitted the shoe. Each assessor marks
an assessment once, at /desk/queue, and blind says whether the service had shown them nothing of it before.

Marks by hand change nothing: neither the assessment nor the marks that count. Where assessors stay with their own after
they have seen the tool's, an override says so, with its reason. They bear the names of the assessment and of the
assessor, and are erased with any of these people."""
_SHOW: Final = Operation(
    name="hand_marks",
    tag=MARKS_TAG,
    summary="The marks by hand of one assessment",
    description=_DOC,
    path=(ASSESSMENT_ID,),
    query=Query,
    answers={HTTPStatus.OK: Answer("The marks by hand.", Content((StoredHandMarks,)), TAGGED)},
    problems=("not-found", "gone", "cannot-show", *READING),
)


def add_hand_marks(app: FastAPI, async_store: AsyncStore) -> None:
    """Add the route that shows the marks by hand in ``async_store``."""

    @needs("read")
    async def show(request: Request) -> Response:
        Query.of(request)
        id_ = request.path_params["id"]
        return as_json(request, await async_store.read(lambda store: _listed(store, id_)))

    add_operation(app, f"{LIST}/{{id:assessment}}/hand-marks", show, _SHOW)


def _listed(store: Store, id_: str) -> StoredHandMarks:
    assessment_record(store, id_)
    found = store.hand_marks_about([id_])
    with readable(id_):
        there = tuple(by_hand_in(record) for record in found if not record.erased)
    return StoredHandMarks(hand_marks=there, erased=len(found) - len(there))
