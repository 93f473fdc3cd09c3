"""GET …/marks: the tool's marks of stored work, and an assessor's beside them."""

from __future__ import annotations

from collections.abc import Sequence
from http import HTTPStatus
from typing import Any, Final, NamedTuple

from fastapi import FastAPI
from pydantic import BaseModel
from starlette.requests import Request
from starlette.responses import Response

from api.http.headers import CONTENT_POLICY, JSON
from api.http.problems import READING
from api.http.route_scopes import needs
from api.openapi.document import answer, media, problems
from api.parameters.query import known_only
from api.routes.assessment_list import LIST
from api.routes.overrides import MARKS_TAG
from api.routes.stored_record import (
    ASSESSMENT_ID,
    IF_NONE_MATCH,
    NOT_MODIFIED,
    TAGGED,
    answered,
    assessment_record,
    markable,
    readable,
)
from api.routes.visits import VISIT_NAME, VISIT_PROBLEMS, visit_named
from api.store import AsyncStore
from fitcheck.marking import MarkSheet, VisitSheet
from fitcheck.records import Store
from fitcheck.stored import assessment_of, overrides_of, sheet_of
from rules import Rulebook

__all__ = ["DECIDES_NOTHING", "OperationDoc", "add_marks", "as_json", "operation", "visit_sheet"]

DECIDES_NOTHING: Final = "Marks are for practice and decide nothing: the decision on the foot stands as it is."
_FOOT: Final = f"""The sheet of marks of one kept assessment by the marking scheme of the service's rulebook: each
criterion with what was taken off and why, the whole mark, and its band. Where assessors made overrides, assessor has
the reckoning with them beside the tool's own, and changes has every change with its reason. A critical finding leaves
no mark, whoever strikes it. {DECIDES_NOTHING}"""
_VISIT: Final = f"""The sheets of the feet that count at a visit, the marks of the pairs, and all of it added up.
{DECIDES_NOTHING}"""


class OperationDoc(NamedTuple):
    """What the document says of an operation."""

    name: str
    summary: str
    description: str
    parameters: Sequence[dict[str, Any]]
    problems: Sequence[str]


def operation(doc: OperationDoc, tag: str, content: dict[str, Any]) -> dict[str, Any]:
    """The arguments of ``add_api_route`` for a GET whose answer has ``content`` and an ETag."""
    return {
        "methods": ["GET"],
        "operation_id": doc.name,
        "tags": [tag],
        "summary": doc.summary,
        "description": doc.description,
        "response_class": Response,
        "responses": {
            HTTPStatus.OK.value: {**answer(f"{doc.summary}.", content), "headers": TAGGED},
            **NOT_MODIFIED,
            **problems("bad-query", *doc.problems, *READING),
        },
        "openapi_extra": {"parameters": [*doc.parameters, IF_NONE_MATCH]},
    }


def as_json(request: Request, found: BaseModel) -> Response:
    """The model as JSON, or 304 where the client has it."""
    return answered(request, found.model_dump_json(), JSON, CONTENT_POLICY)


def add_marks(app: FastAPI, async_store: AsyncStore, book: Rulebook) -> None:
    """Add the routes that mark what is in ``async_store`` by the scheme of ``book``."""

    @needs("read")
    async def show_foot(request: Request) -> Response:
        known_only(request)
        id_ = request.path_params["id"]
        return as_json(request, await async_store.read(lambda store: _foot_sheet(store, id_, book)))

    @needs("read")
    async def show_visit(request: Request) -> Response:
        known_only(request)
        visit = request.path_params["visit"]
        return as_json(request, await async_store.read(lambda store: visit_sheet(store, visit, book)))

    foot = OperationDoc(
        "marks",
        "The marks of one assessment",
        _FOOT,
        [ASSESSMENT_ID],
        ("not-found", "gone", "cannot-show", "cannot-mark"),
    )
    visit = OperationDoc("visit_marks", "The marks of a visit", _VISIT, [VISIT_NAME], (*VISIT_PROBLEMS, "cannot-mark"))
    app.add_api_route(f"{LIST}/{{id:assessment}}/marks", show_foot, **operation(foot, MARKS_TAG, media(MarkSheet)))
    app.add_api_route("/v1/visits/{visit:path}/marks", show_visit, **operation(visit, MARKS_TAG, media(VisitSheet)))


def _foot_sheet(store: Store, id_: str, book: Rulebook) -> MarkSheet:
    record = assessment_record(store, id_)
    with readable(id_), markable(id_):
        return sheet_of(assessment_of(record), overrides_of(store, [id_]), book)


def visit_sheet(store: Store, visit: str, book: Rulebook) -> VisitSheet:
    """The marks of that visit. Raises ProblemError and StoreError."""
    found = visit_named(store, visit, book)
    with markable(visit):
        return found.sheet(book)
