"""Addresses and methods: what is there, what is not, and what goes without saying."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import httpx
import pytest

from api.http.problem_kinds import KINDS

Ask = Callable[..., httpx.Response]
CheckProblem = Callable[..., list[dict[str, Any]]]
READ = ["/healthz", "/readyz", "/v1/rulebook", "/v1/rulebook/rules/heel-width-tight", "/openapi.json", "/docs"]
TAKES = {"/v1/assessments": "GET, HEAD, OPTIONS, POST", "/v1/assessments/batch": "OPTIONS, POST"}


@pytest.mark.parametrize(
    "path",
    [
        "/v1",
        "/v1/assessment",
        "/v1/assessments/",
        "/v1/rulebook/",
        "/redoc",
        "/docs/oauth2-redirect",
        "/%ff%00",
    ],
)
def test_an_unknown_address_is_not_found(ask: Ask, problem: CheckProblem, path: str) -> None:
    problem(ask("GET", path), "not-found")
    problem(ask("POST", path, json={}), "not-found")
    problem(ask("OPTIONS", path), "not-found")


@pytest.mark.parametrize("path", READ)
@pytest.mark.parametrize("method", ["POST", "PUT", "PATCH", "DELETE", "TRACE"])
def test_a_wrong_method_is_told_what_a_page_takes(ask: Ask, problem: CheckProblem, path: str, method: str) -> None:
    response = ask(method, path)
    problem(response, "method-not-allowed")
    assert response.headers["allow"] == "GET, HEAD, OPTIONS"


@pytest.mark.parametrize("path", TAKES)
@pytest.mark.parametrize("method", ["PUT", "PATCH", "DELETE"])
def test_a_wrong_method_is_told_what_an_assessment_takes(
    ask: Ask, problem: CheckProblem, path: str, method: str
) -> None:
    response = ask(method, path)
    problem(response, "method-not-allowed")
    assert response.headers["allow"] == TAKES[path]


def test_the_address_of_the_batch_is_not_taken_for_an_assessment(ask: Ask, problem: CheckProblem) -> None:
    problem(ask("GET", "/v1/assessments/batch"), "method-not-allowed")
    problem(ask("GET", "/v1/assessments/batch7"), "not-found")


@pytest.mark.parametrize("path", READ)
def test_head_is_get_without_the_body(ask: Ask, path: str) -> None:
    whole = {"accept-encoding": "identity"}
    head, get = ask("HEAD", path, headers=whole), ask("GET", path, headers=whole)
    assert (head.status_code, get.status_code) == (200, 200)
    assert head.content == b""
    assert head.headers["content-length"] == str(len(get.content))
    assert head.headers["content-type"] == get.headers["content-type"]


@pytest.mark.parametrize(("path", "allow"), [(READ[0], "GET, HEAD, OPTIONS"), *TAKES.items()])
def test_options_tells_the_methods_and_opens_nothing_to_other_sites(ask: Ask, path: str, allow: str) -> None:
    headers = {"origin": "http://elsewhere.test", "access-control-request-method": "POST"}
    response = ask("OPTIONS", path, headers=headers)
    assert (response.status_code, response.content) == (204, b"")
    assert response.headers["allow"] == allow
    assert [name for name in response.headers if name.startswith("access-control")] == []


@pytest.mark.parametrize("kind", KINDS)
def test_each_kind_of_problem_has_a_page_that_explains_it(ask: Ask, kind: str) -> None:
    response = ask("GET", KINDS[kind].type)
    assert response.status_code == 200
    assert response.headers["content-type"] == "text/plain; charset=utf-8"
    assert response.text.startswith(f"{KINDS[kind].title} (HTTP status {int(KINDS[kind].status)})\n\n")


def test_an_unknown_kind_of_problem_is_not_found(ask: Ask, problem: CheckProblem) -> None:
    problem(ask("GET", "/problems/bad-weather"), "not-found")
