"""GET /problems/{name}: what a kind of problem means and what to do about it."""

from __future__ import annotations

from http import HTTPStatus
from typing import Final

from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from api.http.problem_kinds import KINDS
from api.http.problems import ProblemError
from api.http.route_scopes import open_to_all
from api.openapi.operation import Answer, Content, Operation, add_operation
from api.parameters.query import parameter

__all__ = ["add_problem_pages"]

TAG: Final = "problems"


def add_problem_pages(app: FastAPI) -> None:
    """Add the route that explains the problem types."""

    @open_to_all
    async def explain(request: Request) -> Response:
        kind = KINDS.get(request.path_params["name"])
        if kind is None:
            raise ProblemError("not-found", f"There is no such kind of problem. There are: {', '.join(KINDS)}.")
        return PlainTextResponse(f"{kind.title} (HTTP status {int(kind.status)})\n\n{kind.meaning}\n")

    add_operation(app, "/problems/{name}", explain, _EXPLAIN)


_EXPLAIN: Final = Operation(
    name="explain_problem",
    tag=TAG,
    summary="What a kind of problem means",
    description="The address in the member type of a problem leads here.",
    path=(
        parameter(
            "path", "name", "The last part of a problem's type.", schema={"enum": list(KINDS)}, example="bad-input"
        ),
    ),
    answers={HTTPStatus.OK: Answer("A short explanation.", Content(media_type="text/plain"))},
    problems=("not-found",),
)
