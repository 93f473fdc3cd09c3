"""Problem details (RFC 9457): the one shape of every error."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from uuid import UUID

from pydantic import BaseModel, ConfigDict
from starlette.responses import Response
from starlette.types import Scope

from api.problem_kinds import KINDS, Kind
from api.request_notes import REQUEST_ID
from fitcheck.errors import Problem
from fitcheck.problems import summary

__all__ = ["MEDIA_TYPE", "FieldProblem", "ProblemDetails", "ProblemError", "details", "instance_of", "problem_response"]

MEDIA_TYPE = "application/problem+json"


class _Shown(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", use_attribute_docstrings=True)


class FieldProblem(_Shown):
    """One fault in what was sent."""

    field: str
    """Where, as a dotted path such as observations.heel_fit.medial.width; (document) for the whole of it."""
    value: str | float | int | bool | None
    """What stands there; long texts are cut, lists and objects only described."""
    allowed: str
    """What may stand there."""
    detail: str
    """What is wrong and what to do."""


class ProblemDetails(_Shown):
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


class ProblemError(Exception):
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
