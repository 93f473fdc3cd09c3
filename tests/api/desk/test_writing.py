"""A form of the desk that changes something: with the scope mark, from this origin, and with the token of its page."""

from __future__ import annotations

from collections.abc import Callable
from http.cookies import SimpleCookie
from typing import Any

import httpx
import pytest
from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from api.application import create_app
from api.desk.sign_in import add_signing_in
from api.desk.writing import PAGE_TOKEN, Fields, page_token_of, writes
from api.http.auth import Authenticator
from api.http.key_cache import KeyChecks
from api.http.problems import handle_faults
from api.http.request_middleware import RequestMiddleware
from api.http.route_scopes import guard, needs
from api.store import AsyncStore
from fitcheck.records import Store
from fitcheck.records.keys import AccessKeys
from fitcheck.settings import ServiceSettings

Ask = Callable[..., httpx.Response]
CheckProblem = Callable[..., list[dict[str, Any]]]
HERE = {"origin": "http://low-meadow.test"}


@needs("read")
async def show(request: Request) -> Response:
    """A page, with its token."""
    return Response(page_token_of(request))


@writes
async def keep(_request: Request, fields: Fields) -> Response:
    """What a form keeps: nothing but what it was sent."""
    return Response(repr(sorted(fields.items())))


def service(store: Store, settings: ServiceSettings) -> FastAPI:
    app = FastAPI(openapi_url=None, docs_url=None, redoc_url=None)
    async_store = AsyncStore(store.url, store)
    app.add_route("/desk/page", show, methods=["GET"])
    app.add_route("/desk/keep", keep, methods=["POST"])
    add_signing_in(app, async_store, settings)
    handle_faults(app)
    guard(app, Authenticator(settings, KeyChecks(async_store)))
    app.add_middleware(RequestMiddleware)
    return app


@pytest.fixture
def desk(store: Store, ask_of: Callable[[FastAPI], Ask]) -> Ask:
    return ask_of(service(store, ServiceSettings(keys_required=True)))


def session(desk: Ask, store: Store, *scopes: str) -> dict[str, str]:
    """The cookie of a new session whose key has these scopes."""
    _, token = AccessKeys(store).make("S-1", scopes, holder="person")
    response = desk("POST", "/desk/sign-in", data={"key": token.text}, headers=HERE)
    (pair,) = SimpleCookie(response.headers["set-cookie"]).items()
    return {"cookie": f"{pair[0]}={pair[1].value}"}


def test_a_form_of_a_page_of_this_session_is_taken(desk: Ask, store: Store) -> None:
    cookie = session(desk, store, "read", "mark")
    token = desk("GET", "/desk/page", headers=cookie).text
    assert len(token) == 64
    answer = desk("POST", "/desk/keep", data={"mark": "4.5", "reason": "é", PAGE_TOKEN: token}, headers=cookie | HERE)
    assert (answer.status_code, answer.text) == (200, "[('mark', '4.5'), ('reason', 'é')]")
    assert desk("POST", "/desk/keep", data={PAGE_TOKEN: token}, headers=cookie).status_code == 200


@pytest.mark.parametrize("shown", [None, "", "x", "é", "0" * 64])
def test_a_form_without_the_token_of_its_page_changes_nothing(
    desk: Ask, store: Store, problem: CheckProblem, shown: str | None
) -> None:
    cookie = session(desk, store, "read", "mark")
    data = {"mark": "4.5"} | ({} if shown is None else {PAGE_TOKEN: shown})
    [error] = problem(desk("POST", "/desk/keep", data=data, headers=cookie | HERE), "not-from-this-page")
    assert error["field"] == PAGE_TOKEN
    assert shown in {None, "", "x"} or shown not in error["detail"]


def test_the_token_of_another_session_is_none(desk: Ask, store: Store, problem: CheckProblem) -> None:
    mine, theirs = session(desk, store, "read", "mark"), session(desk, store, "read", "mark")
    token = desk("GET", "/desk/page", headers=theirs).text
    assert token != desk("GET", "/desk/page", headers=mine).text
    problem(desk("POST", "/desk/keep", data={PAGE_TOKEN: token}, headers=mine | HERE), "not-from-this-page")


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://elsewhere.test"},
        {"origin": "null"},
        {"origin": "https://low-meadow.test.elsewhere.test"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_no_page_of_another_origin_writes_even_with_the_token(
    desk: Ask, store: Store, problem: CheckProblem, headers: dict[str, str]
) -> None:
    cookie = session(desk, store, "read", "mark")
    token = desk("GET", "/desk/page", headers=cookie).text
    problem(desk("POST", "/desk/keep", data={PAGE_TOKEN: token}, headers=cookie | headers), "cross-origin")


def test_a_session_without_the_scope_mark_only_reads(desk: Ask, store: Store, problem: CheckProblem) -> None:
    cookie = session(desk, store, "read", "assess")
    token = desk("GET", "/desk/page", headers=cookie).text
    problem(desk("POST", "/desk/keep", data={PAGE_TOKEN: token}, headers=cookie | HERE), "forbidden")
    problem(desk("POST", "/desk/keep", data={PAGE_TOKEN: token}, headers=HERE), "unauthorized")


def test_a_program_with_the_header_needs_no_token_of_a_page(desk: Ask, store: Store) -> None:
    _, token = AccessKeys(store).make("S-1", ["mark"], holder="person")
    headers = {"authorization": f"Bearer {token.text}"}
    assert desk("POST", "/desk/keep", data={"mark": "1"}, headers=headers).status_code == 200


def test_forms_are_bounded_of_one_kind_and_have_each_field_once(desk: Ask, store: Store, problem: CheckProblem) -> None:
    cookie = session(desk, store, "read", "mark")
    token = desk("GET", "/desk/page", headers=cookie).text
    form = {"content-type": "application/x-www-form-urlencoded"} | cookie
    problem(desk("POST", "/desk/keep", content=f"a=1&a=2&{PAGE_TOKEN}={token}", headers=form), "bad-form")
    problem(desk("POST", "/desk/keep", content=b"a=" + b"x" * 70_000, headers=form), "body-too-large")
    problem(desk("POST", "/desk/keep", json={"a": 1}, headers=cookie), "unsupported-media-type")


def test_no_route_of_the_service_that_changes_anything_takes_a_session_but_by_this(
    yard: Any, problem: CheckProblem
) -> None:
    """The routes of the application as it stands; those with a form of the desk ask for the token of its page."""
    response = yard.ask("POST", "/desk/sign-in", data={"key": yard.bearer("admin")["authorization"][7:]}, headers=HERE)
    cookie = {"cookie": response.headers["set-cookie"].partition(";")[0]}
    changing = [
        (method, route.path)
        for route in create_app().routes
        if isinstance(route, Route) and not route.path.startswith("/desk/sign-")
        for method in sorted((route.methods or set()) - {"GET", "HEAD"})
    ]
    assert len(changing) >= 3
    forms = {"/desk/by-hand", "/desk/reasons"}
    assert forms < {path for _, path in changing}
    for method, path in changing:
        if path in forms:
            problem(yard.ask(method, path, data={"x": "1"}, headers=cookie | HERE), "not-from-this-page")
        else:
            problem(yard.ask(method, path, headers=cookie | HERE), "unauthorized")
