"""How exceptions become problem details."""

from __future__ import annotations

import logging
from collections.abc import Callable
from http import HTTPStatus

from fastapi import FastAPI
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from api.methods import methods_at
from api.metrics import count_store_error
from api.problem_details import ProblemError, instance_of, problem_response
from api.problem_kinds import kind_of_status
from api.store_problems import store_problem
from fitcheck.records.errors import StoreError

__all__ = ["PageFor", "handle_faults"]

_logger = logging.getLogger(__name__)
PageFor = Callable[[Request, ProblemError], Response | None]
"""Makes a page of a problem for whoever asks for pages; None for everybody else."""


def _no_page(_request: Request, _problem: ProblemError) -> None:
    return None


def handle_faults(app: FastAPI, page_for: PageFor = _no_page) -> None:
    """Have ``app`` answer foreseen exceptions with problem details, or with a page where ``page_for`` makes one."""

    async def foreseen(request: Request, error: Exception) -> Response:
        if not isinstance(error, ProblemError):
            raise error
        if error.kind.status >= HTTPStatus.INTERNAL_SERVER_ERROR:
            _logger.error("request %s: %s", instance_of(request.scope), error.kind.name, exc_info=error)
        return page_for(request, error) or problem_response(error, request.scope)

    async def by_status(request: Request, error: Exception) -> Response:
        if not isinstance(error, HTTPException):
            raise error
        if error.status_code == HTTPStatus.METHOD_NOT_ALLOWED:
            return _wrong_method(app, request)
        problem = _of_status(error)
        return page_for(request, problem) or problem_response(problem, request.scope)

    async def of_store(request: Request, error: Exception) -> Response:
        if not isinstance(error, StoreError):
            raise error
        count_store_error(type(error).__name__)
        _logger.error("request %s: %s", instance_of(request.scope), type(error).__name__, exc_info=error)
        problem = store_problem(error)
        return page_for(request, problem) or problem_response(problem, request.scope)

    app.add_exception_handler(ProblemError, foreseen)
    app.add_exception_handler(StoreError, of_store)
    app.add_exception_handler(HTTPException, by_status)


def _wrong_method(app: FastAPI, request: Request) -> Response:
    methods = methods_at(app, request.scope)
    headers = {"allow": ", ".join(methods)}
    if request.method == "OPTIONS":
        return Response(status_code=HTTPStatus.NO_CONTENT, headers=headers)
    problem = ProblemError("method-not-allowed", f"This address takes {' and '.join(methods)} only.", headers=headers)
    return problem_response(problem, request.scope)


def _of_status(error: HTTPException) -> ProblemError:
    if error.status_code == HTTPStatus.NOT_FOUND:
        return ProblemError("not-found", "There is nothing at this address. /docs lists all addresses.")
    kind = kind_of_status(error.status_code)
    return ProblemError(kind, f"{kind.title}.", headers=error.headers)
