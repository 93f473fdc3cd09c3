"""GET /healthz, /readyz and /metrics: whether the service is alive and ready, and what it counts of itself."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any, Final

from fastapi import FastAPI
from pydantic import ConfigDict
from starlette.requests import Request
from starlette.responses import Response

from api.http.metrics import MEDIA_TYPE, exposition
from api.http.problems import ProblemError, store_problem
from api.http.route_scopes import needs, open_to_all
from api.openapi.operation import Answer, Content, Operation, add_operation
from api.store import AsyncStore
from fitcheck.assessment.assess import assess
from fitcheck.documented import DocumentedModel
from fitcheck.fitting.models import Fitting
from fitcheck.records import StoreError
from rules import Rulebook, evaluator_for

__all__ = ["Health", "add_health", "add_metrics", "self_test"]

TAG: Final = "health"
# The least that a fitting can say: there is nothing in it that any rulebook could release.
_BARE: Final[dict[str, Any]] = {"foot": "left_fore", "stage": "finished", "work": "draught", "observations": {}}

_WHY: Final = {
    "store-unavailable": "the records do not answer, or another program holds them locked",
    "store-read-only": "the records can be read but not written",
    "store-full": "no room is left where the records lie",
    "store-too-new": "the records were made by a newer fitcheck than this one",
    "store-damaged": "where the records should lie they are damaged, or something else lies there",
}


class Health(DocumentedModel):
    """How the service is."""

    model_config = ConfigDict(extra="forbid")

    status: str
    """alive or ready."""


def self_test(book: Rulebook) -> None:
    """Compile all of the rulebook, and assess a foot of which nothing was observed.

    Raises ProblemError where the rules do not run, or would release such a foot.
    """
    try:
        evaluator_for(book).compile()
        decision = assess(Fitting.model_validate(_BARE, context={"book": book}), book).decision
    except Exception as error:
        raise ProblemError("not-ready", "The service's own check of the rules has failed.") from error
    if decision in {"release", "go_on"}:
        raise ProblemError("not-ready", "The rules release a foot of which nothing was observed.")


def add_health(app: FastAPI, book: Rulebook, async_store: AsyncStore) -> None:
    """Add the routes for monitoring the service."""

    @open_to_all
    async def alive(_request: Request) -> Response:
        return _healthy("alive")

    @open_to_all
    async def ready(_request: Request) -> Response:
        self_test(book)
        try:
            await async_store.try_writing()
        except StoreError as error:
            problem = store_problem(error)
            detail = f"Fittings can be assessed with keep=false, but nothing can be kept: {_WHY[problem.kind.name]}."
            raise ProblemError("not-ready", detail, headers=problem.headers) from error
        return _healthy("ready")

    add_operation(app, "/healthz", alive, _ALIVE)
    add_operation(app, "/readyz", ready, _READY)


def _healthy(status: str) -> Response:
    return Response(Health(status=status).model_dump_json(), media_type="application/json")


def add_metrics(app: FastAPI) -> None:
    """Add the route for a monitor."""

    @needs("metrics")
    async def show_metrics(_request: Request) -> Response:
        return Response(exposition(), headers={"content-type": MEDIA_TYPE})

    add_operation(app, "/metrics", show_metrics, _METRICS)


_ALIVE: Final = Operation(
    name="alive",
    tag=TAG,
    summary="Whether the service is alive",
    description="Answers as long as the service runs, whether or not it can assess.",
    answers={HTTPStatus.OK: Answer("Alive.", Content((Health,)))},
)
_READY: Final = Operation(
    name="ready",
    tag=TAG,
    summary="Whether the service can assess and keep",
    description="Compiles the rulebook if need be, assesses a foot of which nothing was observed, and tries to "
    "write to the record store. Where nothing can be kept, detail says why: the store does not answer or is "
    "locked, read-only, full or damaged. Fittings can then still be assessed with keep=false.",
    answers={HTTPStatus.OK: Answer("Ready.", Content((Health,)))},
    problems=("not-ready",),
)
_METRICS: Final = Operation(
    name="metrics",
    tag=TAG,
    summary="Counts for a monitor",
    description="Requests by route, method and status with their times, assessments by decision, faults of the rules, "
    "errors of the record store, and requests refused for coming too fast, in Prometheus' text format; over all server "
    "processes together. Nothing in it tells of a fitting, a person or a key.",
    answers={HTTPStatus.OK: Answer("The counts.", Content(media_type="text/plain"))},
)
