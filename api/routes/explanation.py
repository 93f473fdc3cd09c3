"""GET /v1/assessments/{id}/explanation: why a kept foot was judged as it was."""

from __future__ import annotations

from contextlib import suppress
from http import HTTPStatus
from typing import Any, Final

from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import Response

from api.assessing import explained_anew
from api.http.headers import CONTENT_POLICY, JSON
from api.http.problems import READING
from api.http.route_scopes import needs
from api.http.worker import Worker
from api.openapi.examples import EXAMPLES
from api.openapi.operation import Answer, Content, Operation, add_operation
from api.parameters.query import Query
from api.routes.assessments import LIST, TAG
from api.routes.stored_record import ASSESSMENT_ID, TAGGED, answered, assessment_record
from api.store import AsyncStore
from fitcheck.errors import BadInput
from fitcheck.explanation.explain import explain
from fitcheck.explanation.models import Explanation
from fitcheck.fitting.validation import parse_fitting
from rules import Rulebook

__all__ = ["add_explanation"]

_DOC: Final = """For each criterion the readings, the limits on each and why they apply, what fired, what stayed silent
and by how much, and how the decision comes: what explain=true adds to an answer. It is worked out anew from what was
sent, by the rulebook that judged; where that is not at hand, or this version of the tool no longer comes to the same
decision and findings, there is none (cannot-explain). It is in the language in which the foot was answered."""


def add_explanation(app: FastAPI, async_store: AsyncStore, book: Rulebook, worker: Worker) -> None:
    """Add the route that explains what is in ``async_store``, in ``worker``; ``book`` is the service's rulebook."""

    @needs("read")
    async def show_explanation(request: Request) -> Response:
        Query.of(request)
        id_ = request.path_params["id"]
        record = await async_store.read(lambda store: assessment_record(store, id_))
        explanation = await worker.run(lambda: explained_anew(record, book).model_dump_json())
        return answered(request, explanation, JSON, CONTENT_POLICY)

    add_operation(app, f"{LIST}/{{id:assessment}}/explanation", show_explanation, _EXPLAIN)


def _example(book: Rulebook) -> dict[str, Any]:
    shown: dict[str, Any] = {}
    # A book with narrower ranges may not take it.
    with suppress(BadInput):
        last = EXAMPLES[-1]
        value = explain(parse_fitting(last.fitting, book), book).explanation.model_dump(mode="json")
        shown[last.name] = {"summary": last.summary, "value": value}
    return shown


_EXPLAIN: Final = Operation(
    name="explanation",
    tag=TAG,
    summary="Why a foot was judged as it was",
    description=_DOC,
    path=(ASSESSMENT_ID,),
    query=Query,
    answers={HTTPStatus.OK: Answer("The explanation.", Content((Explanation,), examples=_example), TAGGED)},
    problems=("not-found", "gone", "cannot-explain", "busy", *READING),
)
