"""Problem details (RFC 9457): the one shape of every error."""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from http import HTTPStatus
from typing import Final
from uuid import UUID

from fastapi import FastAPI
from pydantic import BaseModel, ConfigDict
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.types import Scope

from api.http.methods import methods_at
from api.http.metrics import count_store_error
from api.http.problem_kinds import KINDS, Kind, kind_of_status
from api.http.request_notes import REQUEST_ID
from fitcheck.errors import FitcheckError, Problem
from fitcheck.fitting.validation import summary
from fitcheck.records.errors import (
    NotAStore,
    RequestErased,
    StoreDamaged,
    StoreError,
    StoreFull,
    StoreReadOnly,
    StoreReplaced,
    StoreTooNew,
    StoreUnavailable,
)

__all__ = [
    "MEDIA_TYPE",
    "READING",
    "WRITING",
    "FieldProblem",
    "PageFor",
    "ProblemDetails",
    "ProblemError",
    "details",
    "handle_faults",
    "instance_of",
    "problem_response",
    "store_problem",
]

_logger = logging.getLogger(__name__)
MEDIA_TYPE: Final = "application/problem+json"


class _View(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", use_attribute_docstrings=True)


class FieldProblem(_View):
    """One fault in what was sent."""

    field: str
    """Where, as a dotted path such as observations.heel_fit.medial.width; (document) for the whole of it."""
    value: str | float | int | bool | None
    """What stands there; long texts are cut, lists and objects only described."""
    allowed: str
    """What may stand there."""
    detail: str
    """What is wrong and what to do."""


class ProblemDetails(_View):
    """An error, as RFC 9457 problem details."""

    type: str
    """Which kind of problem, as an address of this service that explains it."""
    title: str
    """The kind in a few words."""
    status: int
    """The HTTP status."""
    detail: str
    """This problem in a sentence."""
    instance: str
    """This very occurrence, by the request's id: urn:uuid: and our id, or /requests/ and the X-Request-Id that you
    sent; give it to those who run the service."""
    errors: tuple[FieldProblem, ...]
    """Each fault in what was sent; empty where there is none to name."""


class ProblemError(FitcheckError):
    """Ends a request with the problem of a kind, named as in ``KINDS``."""

    def __init__(
        self,
        kind: str | Kind,
        detail: str,
        problems: Sequence[Problem] = (),
        headers: Mapping[str, str] | None = None,
    ) -> None:
        self.kind = kind if isinstance(kind, Kind) else KINDS[kind]
        self.detail = detail
        self.problems = tuple(problems)
        self.headers = dict(headers or {})
        super().__init__(detail)


def instance_of(scope: Scope) -> str:
    """The request's id as a URI reference: a URN where it is a UUID, as are those that we make."""
    request_id: str = scope["state"][REQUEST_ID]
    with suppress(ValueError):
        if str(UUID(request_id)) == request_id:
            return f"urn:uuid:{request_id}"
    return f"/requests/{request_id}"


def details(problem: ProblemError, instance: str) -> ProblemDetails:
    """The problem as it is sent."""
    kind = problem.kind
    return ProblemDetails(
        type=kind.type,
        title=kind.title,
        status=kind.status,
        detail=problem.detail,
        instance=instance,
        errors=tuple(FieldProblem(**fault.as_dict() | {"value": summary(fault.value)}) for fault in problem.problems),
    )


def problem_response(problem: ProblemError, scope: Scope) -> Response:
    """The answer that tells the problem."""
    return Response(
        details(problem, instance_of(scope)).model_dump_json(),
        status_code=problem.kind.status,
        headers=problem.headers,
        media_type=MEDIA_TYPE,
    )


PageFor = Callable[[Request, ProblemError], Response | None]
"""Makes a page of a problem for clients that ask for pages; None for everybody else."""


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


READING: Final = ("store-unavailable", "store-too-new", "store-damaged")
"""The kinds of problem of whatever reads the store."""
WRITING: Final = (*READING, "store-read-only", "store-full")
"""The kinds of problem of whatever writes to it."""

_KINDS: Final[dict[type[StoreError], str]] = {
    StoreFull: "store-full",
    StoreReadOnly: "store-read-only",
    StoreTooNew: "store-too-new",
    StoreDamaged: "store-damaged",
    StoreReplaced: "store-damaged",
    NotAStore: "store-damaged",
    RequestErased: "gone",
}
_DETAILS: Final = {
    "store-unavailable": "The records of this service cannot be reached just now. Send the request again as it is.",
    "store-full": "There is no room left for records. Nothing was kept.",
    "store-read-only": "The records of this service can be read but not written. Nothing was kept.",
    "store-too-new": "The records of this service were made by a newer fitcheck than this one. Nothing was kept.",
    "gone": "What this request kept was erased. It is not kept anew.",
    "store-damaged": "Where the records of this service should lie they are damaged, or something else lies there.",
}


def store_problem(error: StoreError) -> ProblemError:
    """The problem that tells of ``error``, and nothing of where records lie."""
    kind = _KINDS.get(type(error), "store-unavailable")
    again = {"retry-after": str(error.retry_after)} if isinstance(error, StoreUnavailable) else {}
    return ProblemError(kind, _DETAILS[kind], headers=again)
