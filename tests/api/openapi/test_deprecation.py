"""What will go says so in the document and with each answer (RFC 9745, RFC 8594), in good time."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime
from email.utils import parsedate_to_datetime
from typing import Any

import httpx
import pytest
from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import Response

from api.http.problems import ProblemError, handle_faults
from api.http.request_middleware import RequestMiddleware
from api.http.route_scopes import needed_by, needs, open_to_all
from api.openapi.deprecation import NOTICE, Deprecation
from api.openapi.operation import Answer, Operation, add_operation, operation_of
from api.parameters.query import Query
from rules import shipped_rulebook

_GOING = Deprecation(date(2026, 3, 4), date(2026, 12, 1), "/v2/fits")


def _app(deprecation: Deprecation | None) -> FastAPI:
    app = FastAPI(openapi_url=None, docs_url=None, redoc_url=None)

    @open_to_all
    async def fits(request: Request) -> Response:
        Query.of(request)
        return Response("{}", headers={"link": '</v1/more>; rel="next"'})

    @open_to_all
    async def broken(_request: Request) -> Response:
        raise ProblemError("not-found", "There is none.")

    for path, endpoint in (("/v1/fits", fits), ("/v1/broken", broken)):
        operation = Operation(
            name=path,
            tag="t",
            summary="s",
            description="d",
            answers={200: Answer("a")},
            query=Query,
            problems=("not-found",),
            deprecation=deprecation,
        )
        add_operation(app, path, endpoint, operation)
    handle_faults(app)
    app.add_middleware(RequestMiddleware)
    return app


def test_each_answer_and_each_problem_says_since_when_and_until_when(ask_of: Callable[..., Any]) -> None:
    ask = ask_of(_app(_GOING))
    for path, status in (("/v1/fits", 200), ("/v1/fits?x=1", 400), ("/v1/broken", 404)):
        answer: httpx.Response = ask("GET", path)
        assert answer.status_code == status
        since = datetime.fromtimestamp(int(answer.headers["deprecation"].removeprefix("@")), UTC)
        assert since == datetime(2026, 3, 4, tzinfo=UTC)
        assert parsedate_to_datetime(answer.headers["sunset"]) == datetime(2026, 12, 1, tzinfo=UTC)
        assert answer.headers["link"].endswith('</v2/fits>; rel="successor-version"')
    assert '</v1/more>; rel="next"' in ask("GET", "/v1/fits").headers["link"]


def test_what_stays_says_nothing(ask_of: Callable[..., Any]) -> None:
    answer = ask_of(_app(None))("GET", "/v1/fits")
    assert not {"deprecation", "sunset"} & set(answer.headers)


def test_the_document_says_so_too() -> None:
    for deprecation in (_GOING, None):
        route = next(each for each in _app(deprecation).routes if getattr(each, "path", "") == "/v1/fits")
        document = operation_of(route).document(shipped_rulebook(), ())  # type: ignore[arg-type]
        assert document.get("deprecated", False) is (deprecation is not None)
        for response in document["responses"].values():
            assert ({"Deprecation", "Sunset"} <= set(response["headers"])) is (deprecation is not None)


def test_a_deprecated_route_needs_the_scope_that_it_needed() -> None:
    app = FastAPI(openapi_url=None, docs_url=None, redoc_url=None)

    @needs("read")
    async def show(_request: Request) -> Response:
        return Response()

    add_operation(
        app,
        "/v1/x",
        show,
        Operation(name="x", tag="t", summary="s", description="d", answers={200: Answer("a")}, deprecation=_GOING),
    )
    assert needed_by(app.routes[-1]) == "read"


def test_less_notice_than_is_promised_is_refused() -> None:
    since = date(2026, 3, 4)
    Deprecation(since, since + NOTICE, "/v2")
    with pytest.raises(ValueError, match="180 days"):
        Deprecation(since, date(2026, 4, 1), "/v2")


def test_the_promise_is_told_to_those_who_integrate(root: Any) -> None:
    text = (root / "docs" / "versions.md").read_text(encoding="utf-8")
    for word in ("Deprecation", "Sunset", f"{NOTICE.days} days", "successor-version"):
        assert word in text
