"""Who may use which address: every route of the application with every scope, and with keys that open nothing."""

from __future__ import annotations

import asyncio
import re
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from itertools import chain
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Mount, Route

from api.application import create_app
from api.http.auth import Authenticator
from api.http.route_scopes import UndeclaredRoute, guard, needed_by, needs
from fitcheck.records import StoreUnavailable
from fitcheck.records.keys import PREFIX, SCOPES
from fitcheck.settings import ServiceSettings

Ask = Callable[..., httpx.Response]
CheckProblem = Callable[..., list[dict[str, Any]]]
PAGE = {"/", "/practice", "/service-worker.js", "/page/{version}/{path}"}
# The addresses that tell nothing that not everyone may know; any other must need a scope.
SIGNING_IN = {"/desk/sign-in", "/desk/sign-out"}
OPEN = {"/healthz", "/readyz", "/docs", "/openapi.json", "/problems/{name}"} | PAGE | SIGNING_IN
NEEDED = {
    ("POST", "/v1/subscriptions"): "subscribe",
    ("GET", "/v1/subscriptions"): "subscribe",
    ("GET", "/v1/subscriptions/{id}"): "subscribe",
    ("DELETE", "/v1/subscriptions/{id}"): "subscribe",
    ("POST", "/v1/subscriptions/{id}/test"): "subscribe",
    ("GET", "/v1/findings.csv"): "read",
    ("GET", "/v1/readings.csv"): "read",
    ("GET", "/v1/fields"): "read",
    ("GET", "/v1/assessments/{id}/explanation"): "read",
    ("POST", "/v1/assessments"): "assess",
    ("POST", "/v1/assessments/batch"): "assess",
    ("GET", "/v1/assessments"): "read",
    ("GET", "/v1/assessments/{id}"): "read",
    ("GET", "/v1/assessments/{id}/drawing.svg"): "read",
    ("GET", "/v1/assessments/{id}/report.html"): "read",
    ("GET", "/v1/assessments/{id}/marks"): "read",
    ("GET", "/v1/assessments/{id}/overrides"): "read",
    ("POST", "/v1/assessments/{id}/overrides"): "mark",
    ("GET", "/v1/assessments/{id}/overrides/{override}"): "read",
    ("GET", "/v1/visits/{visit}"): "read",
    ("GET", "/v1/visits/{visit}/report.html"): "read",
    ("GET", "/v1/visits/{visit}/marks"): "read",
    ("GET", "/v1/people/{person}/progress"): "read",
    ("GET", "/v1/practice"): "read",
    ("POST", "/v1/people/{person}/practice"): "assess",
    ("GET", "/v1/people/{person}/practice"): "read",
    ("GET", "/v1/people/{person}/practice/{session}"): "read",
    ("GET", "/v1/people/{person}/practice/outcome"): "read",
    ("GET", "/v1/agreement"): "read",
    ("GET", "/desk"): "read",
    ("GET", "/desk/marks"): "read",
    ("GET", "/desk/queue"): "mark",
    ("GET", "/desk/foot"): "mark",
    ("POST", "/desk/by-hand"): "mark",
    ("POST", "/desk/reasons"): "mark",
    ("GET", "/v1/assessments/{id}/hand-marks"): "read",
    ("GET", "/v1/rulebook"): "read",
    ("GET", "/v1/rulebook/rules/{id}"): "read",
    ("GET", "/metrics"): "metrics",
}
FORMS = {("POST", "/desk/by-hand"), ("POST", "/desk/reasons")}
"""What only a page of the desk sends: it stands in no document."""
READ_TOO = {"/desk/queue", "/desk/foot"}
"""Pages on which an assessor marks, and so reads what was observed: they need the scope read besides."""
NOT_LET_IN = {401, 403, 429}


def routes() -> Iterator[tuple[str, str, str | None]]:
    """Each method and address of the application, and the scope that it needs."""
    for route in create_app().routes:
        assert isinstance(route, Route)
        for method in sorted((route.methods or set()) - {"HEAD"}):
            yield method, route.path_format, needed_by(route)


ROUTES = list(routes())
GUARDED = [(method, path, needed) for method, path, needed in ROUTES if needed is not None]


def address(template: str) -> str:
    return re.sub(r"\{\w+\}", "heel-width-tight", template)


@pytest.fixture(scope="module")
def every_scope(
    yard_with: Any, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[Any, dict[str, dict[str, str]]]]:
    """A service, and the header of a key for each scope."""
    yard = yard_with(tmp_path_factory.mktemp("yard"))
    yield yard, {scope: yard.bearer(scope, person="S-1") for scope in SCOPES}
    yard.store.close()


def test_the_scopes_are_those_that_were_meant() -> None:
    assert {path for _, path, needed in ROUTES if needed is None} == OPEN
    found = {(method, path): needed for method, path, needed in GUARDED}
    assert {key: found.get(key) for key in NEEDED} == NEEDED


@pytest.mark.parametrize("scope", SCOPES)
@pytest.mark.parametrize(("method", "path", "needed"), ROUTES)
def test_each_address_opens_to_the_scope_that_it_needs_and_to_no_other(
    every_scope: Any, problem: CheckProblem, method: str, path: str, needed: str | None, scope: str
) -> None:
    yard, headers = every_scope
    response = yard.ask(method, address(path), headers=headers[scope])
    if scope == needed and path in READ_TOO and method == "GET":
        needed = "read"
    if needed is None or scope in {needed, "admin"}:
        assert response.status_code not in NOT_LET_IN
        return
    problem(response, "forbidden")
    assert f'needs the scope "{needed}"' in response.json()["detail"]
    assert f"it has {scope}." in response.json()["detail"]
    # RFC 6750, 3.1.
    assert (
        response.headers["www-authenticate"] == f'Bearer realm="fitcheck", error="insufficient_scope", scope="{needed}"'
    )


@pytest.mark.parametrize(("method", "path", "needed"), ROUTES)
def test_without_a_key_only_what_is_open_to_all_answers(
    every_scope: Any, problem: CheckProblem, method: str, path: str, needed: str | None
) -> None:
    yard, _ = every_scope
    response = yard.ask(method, address(path))
    if needed is None:
        assert response.status_code not in NOT_LET_IN
        assert "www-authenticate" not in response.headers
    else:
        [error] = problem(response, "unauthorized")
        assert error["field"] == "header.authorization"
        # RFC 6750, 3.1: no error code where no credentials were shown.
        assert response.headers["www-authenticate"] == 'Bearer realm="fitcheck"'


@pytest.mark.parametrize(("method", "path", "needed"), GUARDED)
def test_head_needs_what_get_needs(every_scope: Any, method: str, path: str, needed: str) -> None:
    yard, headers = every_scope
    if method == "GET":
        assert yard.ask("HEAD", address(path)).status_code == 401
        let_in = yard.ask("GET", address(path), headers=headers[needed]).status_code
        assert yard.ask("HEAD", address(path), headers=headers[needed]).status_code == let_in


def test_a_key_opens_what_it_opens_to_the_end_of_its_last_day(yard: Any, problem: CheckProblem) -> None:
    today = datetime.now(UTC).date()
    last_day = yard.bearer("admin", person="S-1", until=(today + timedelta(days=1)).isoformat())
    over = yard.bearer("admin", until=(today - timedelta(days=1)).isoformat())
    for method, path, _ in GUARDED:
        assert yard.ask(method, address(path), headers=last_day).status_code not in NOT_LET_IN
        response = yard.ask(method, address(path), headers=over)
        problem(response, "unauthorized")
        assert f"was {today - timedelta(days=1)}" in response.json()["detail"]


def test_a_revoked_key_opens_nothing_any_more(yard: Any, problem: CheckProblem) -> None:
    headers = yard.bearer("admin")
    yard.keys.revoke(yard.made[0].id)
    for method, path, _ in GUARDED:
        response = yard.ask(method, address(path), headers=headers)
        problem(response, "unauthorized")
        assert "was revoked at 20" in response.json()["detail"]
        assert 'error="invalid_token"' in response.headers["www-authenticate"]


GOOD = f"{PREFIX}0123456789ab_{'A' * 43}"


@pytest.mark.parametrize(
    "shown",
    [
        "",
        "Bearer",
        "Bearer ",
        GOOD,
        f"Basic {GOOD}",
        f"Bearer {GOOD}",
        f"Bearer {GOOD} ",
        f"Bearer {GOOD}, Bearer {GOOD}",
        f"Bearer {GOOD}\tx",
        f"Bearer {'A' * 60_000}",
        "Bearer ' OR 1=1 --",
        'Bearer "><script>',
        b"Bearer \xff\xfe\x00",
        f"Bearer {GOOD}\r\nx-injected: 1",
    ],
)
def test_nothing_that_is_not_a_key_opens_anything_or_is_said_back(
    every_scope: Any, problem: CheckProblem, shown: str | bytes
) -> None:
    yard, _ = every_scope
    response = yard.ask("GET", "/v1/rulebook", headers={"authorization": shown})
    problem(response, "unauthorized")
    said = response.text + str(response.headers)
    assert "x-injected" not in said
    for part in (GOOD, "OR 1=1", "script", "AAAA"):
        assert part not in said


def test_two_keys_at_once_are_none(every_scope: Any, problem: CheckProblem) -> None:
    yard, headers = every_scope
    pair = [("authorization", headers[scope]["authorization"]) for scope in ("read", "admin")]
    problem(yard.ask("GET", "/v1/rulebook", headers=pair), "unauthorized")


def test_a_key_in_the_query_is_no_key(every_scope: Any, problem: CheckProblem) -> None:
    yard, headers = every_scope
    token = headers["read"]["authorization"].split()[1]
    problem(yard.ask("GET", f"/v1/rulebook?access_token={token}"), "unauthorized")


def test_the_word_bearer_may_be_written_in_any_case(every_scope: Any) -> None:
    yard, headers = every_scope
    token = headers["read"]["authorization"].split()[1]
    assert yard.ask("GET", "/v1/rulebook", headers={"authorization": f"bEARER  {token}"}).status_code == 200


def test_a_route_that_does_not_say_who_may_use_it_stops_the_application() -> None:
    async def forgotten(_request: Request) -> Response:
        return Response()

    adding: list[Callable[[FastAPI], Any]] = [
        lambda app: app.add_api_route("/v1/horses", forgotten, methods=["GET"]),
        lambda app: app.add_route("/v1/horses", forgotten),
        lambda app: app.router.routes.append(Mount("/v1/horses", app=FastAPI())),
        lambda app: app.add_api_websocket_route("/v1/horses", forgotten),
    ]
    for add in adding:
        app = FastAPI(openapi_url=None)
        add(app)
        with pytest.raises(UndeclaredRoute, match="who may use it"):
            guard(app, Authenticator(ServiceSettings()))


def test_a_forgotten_route_among_the_others_stops_the_application(monkeypatch: pytest.MonkeyPatch) -> None:
    def add_one_more(app: FastAPI) -> None:
        app.add_api_route("/v1/horses", lambda: None, methods=["DELETE"])

    monkeypatch.setattr("api.application.add_problem_pages", add_one_more)
    with pytest.raises(UndeclaredRoute, match="/v1/horses"):
        create_app()


def test_a_scope_that_there_is_not_cannot_be_needed() -> None:
    with pytest.raises(UndeclaredRoute, match='no scope "raed"'):
        needs("raed")


def test_the_document_says_of_each_operation_what_it_needs(ask: Ask) -> None:
    document = ask("GET", "/openapi.json").json()
    [(name, scheme)] = document["components"]["securitySchemes"].items()
    assert (scheme["type"], scheme["scheme"]) == ("http", "bearer")
    for method, path, needed in ROUTES:
        if path in {"/docs", "/openapi.json"} | PAGE | SIGNING_IN or (method, path) in FORMS:
            continue
        settings = document["paths"][path][method.lower()]
        assert settings["security"] == ([] if needed is None else [{name: [needed]}])
        refusals = {"429"} if needed is None else {"401", "403", "421", "429", "503"}
        assert refusals <= set(settings["responses"])
        shown = chain.from_iterable(
            each["content"].items() for each in settings["responses"].values() if "content" in each
        )
        assert {media for media, _ in shown} - {"application/problem+json"} or method == "DELETE"


class Down:
    """A store that does not answer."""

    def __call__(self, *_: Any) -> Any:
        raise StoreUnavailable(retry_after=7)


def test_while_keys_cannot_be_checked_nobody_is_let_in_and_the_service_is_alive(
    yard: Any, problem: CheckProblem, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    headers = yard.bearer("admin")
    monkeypatch.setattr("fitcheck.records.keys.AccessKeys.check", Down())
    response = yard.ask("GET", "/v1/rulebook", headers=headers)
    problem(response, "store-unavailable")
    assert response.headers["retry-after"] == "7"
    assert headers["authorization"].split()[1] not in caplog.text
    assert yard.ask("GET", "/healthz").status_code == 200


def test_while_it_cannot_be_known_whether_there_are_keys_nobody_is_let_in(
    yard_with: Any, tmp_path: Path, problem: CheckProblem, monkeypatch: pytest.MonkeyPatch
) -> None:
    yard = yard_with(tmp_path, keys_required=False)
    monkeypatch.setattr("fitcheck.records.keys.AccessKeys.any_made", Down())
    problem(yard.ask("GET", "/v1/rulebook"), "store-unavailable")
    assert yard.ask("GET", "/healthz").status_code == 200
    yard.store.close()


def test_a_service_with_keys_required_and_no_place_for_them_lets_nobody_in(
    ask_of: Callable[[FastAPI], Ask], problem: CheckProblem
) -> None:
    ask = ask_of(create_app(settings=ServiceSettings(keys_required=True)))
    problem(ask("GET", "/v1/rulebook", headers={"authorization": f"Bearer {GOOD}"}), "unauthorized")


def test_many_requests_at_once_are_each_judged_by_their_own_key(every_scope: Any) -> None:
    yard, headers = every_scope

    async def run() -> list[int]:
        transport = httpx.ASGITransport(app=yard.app)
        async with httpx.AsyncClient(transport=transport, base_url="http://low-meadow.test") as client:
            shown = [headers[scope] for scope in SCOPES] * 10
            answers = await asyncio.gather(*(client.get("/v1/rulebook", headers=each) for each in shown))
        return [answer.status_code for answer in answers]

    expected = {"assess": 403, "read": 200, "mark": 403, "subscribe": 403, "metrics": 403, "admin": 200}
    assert asyncio.run(run()) == [expected[scope] for scope in SCOPES] * 10
