"""api.http.route_scopes: what is called directly, what is left to FastAPI, and that nobody can tell which."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from typing import Annotated, Any

import httpx
import pytest
from fastapi import Depends, FastAPI
from starlette.requests import Request
from starlette.responses import Response, StreamingResponse
from starlette.routing import Route

from api.application import create_app
from api.http.auth import Authenticator
from api.http.problems import ProblemError, handle_faults
from api.http.request_middleware import RequestMiddleware
from api.http.route_scopes import guard, is_plain, open_to_all
from fitcheck.records import StoreUnavailable
from fitcheck.settings import ServiceSettings

Ask = Callable[..., httpx.Response]
CheckProblem = Callable[..., list[dict[str, Any]]]


def refuse() -> None:
    raise ProblemError("forbidden", "Not at Low Meadow.")


async def plain(_request: Request) -> Response:
    return Response("plain")


async def injected(request: Request, depth: Annotated[int, Depends(lambda: 3)]) -> Response:
    return Response(f"{request.method} {depth}")


async def asked(depth: int) -> Response:
    return Response(f"{depth}")


async def told(_request: Request) -> dict[str, int]:
    return {"depth": 3}


def slow(_request: Request) -> Response:
    return Response("slow")


async def with_dependency(_request: Request) -> Response:
    return Response("never seen")


async def refused(_request: Request) -> Response:
    refuse()
    return Response("never seen")


async def store_down(_request: Request) -> Response:
    raise StoreUnavailable(retry_after=7)


async def bug(_request: Request) -> Response:
    raise ZeroDivisionError


async def broken_off(_request: Request) -> Response:
    async def parts() -> AsyncIterator[bytes]:
        yield b"the first half"
        refuse()

    return StreamingResponse(parts())


@pytest.fixture(scope="module")
def yard() -> FastAPI:
    """An application of routes of every kind, put together as ours is."""
    app = FastAPI(openapi_url=None)
    for endpoint in (plain, injected, asked, told, slow, refused, store_down, bug, broken_off):
        app.add_api_route(f"/{endpoint.__name__}", open_to_all(endpoint), response_model=None)
    app.add_api_route("/with_dependency", open_to_all(with_dependency), dependencies=[Depends(refuse)])
    app.add_route("/starlette", plain)
    handle_faults(app)
    guard(app, Authenticator(ServiceSettings()))
    app.add_middleware(RequestMiddleware)
    return app


def test_every_route_of_the_service_is_plain() -> None:
    left = [route for route in create_app().routes if not (isinstance(route, Route) and is_plain(route))]
    assert left == []


@pytest.mark.parametrize(
    ("path", "said"),
    [
        ("/plain", "plain"),
        ("/starlette", "plain"),
        ("/injected", "GET 3"),
        ("/asked?depth=4", "4"),
        ("/told", '{"depth":3}'),
        ("/slow", "slow"),
    ],
)
def test_a_route_answers_whether_or_not_it_is_plain(
    yard: FastAPI, ask_of: Callable[[FastAPI], Ask], path: str, said: str
) -> None:
    response = ask_of(yard)("GET", path)
    assert (response.status_code, response.text) == (200, said)
    assert "x-request-id" in response.headers


def test_a_route_that_depends_on_something_else_is_not_plain(
    yard: FastAPI, ask_of: Callable[[FastAPI], Ask], problem: CheckProblem
) -> None:
    problem(ask_of(yard)("GET", "/with_dependency"), "forbidden")


@pytest.mark.parametrize(
    ("path", "kind"), [("/refused", "forbidden"), ("/store_down", "store-unavailable"), ("/bug", "internal-error")]
)
def test_whatever_a_plain_route_raises_becomes_a_problem(
    yard: FastAPI, ask_of: Callable[[FastAPI], Ask], problem: CheckProblem, path: str, kind: str
) -> None:
    assert problem(ask_of(yard)("GET", path), kind) == []


def test_an_answer_of_a_plain_route_that_has_begun_is_broken_off(
    yard: FastAPI, ask_of: Callable[[FastAPI], Ask]
) -> None:
    with pytest.raises(RuntimeError, match="response already started") as caught:
        ask_of(yard)("GET", "/broken_off")
    assert isinstance(caught.value.__cause__, ProblemError)
