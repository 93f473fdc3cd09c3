"""GET /metrics: what the service counts of itself."""

from __future__ import annotations

from http import HTTPStatus
from typing import Final

from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import Response

from api.http.metrics import MEDIA_TYPE, exposition
from api.http.route_scopes import needs
from api.openapi.document import answer, problems

__all__ = ["add_metrics"]

TAG: Final = "health"


def add_metrics(app: FastAPI) -> None:
    """Add the route for a monitor."""

    @needs("metrics")
    async def show_metrics(_request: Request) -> Response:
        return Response(exposition(), headers={"content-type": MEDIA_TYPE})

    app.add_api_route(
        "/metrics",
        show_metrics,
        methods=["GET"],
        operation_id="metrics",
        tags=[TAG],
        summary="Counts for a monitor",
        description="Requests by route, method and status with their times, assessments by decision, faults of the "
        "rules, errors of the record store, and requests refused for coming too fast, in Prometheus' text format; over "
        "all server processes together. Nothing in it tells of a fitting, a person or a key.",
        response_class=Response,
        responses={
            HTTPStatus.OK.value: answer("The counts.", {"text/plain": {"schema": {"type": "string"}}}),
            **problems(),
        },
    )
