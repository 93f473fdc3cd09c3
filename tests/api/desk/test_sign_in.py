"""Signing in at the desk: a cookie that only reads, that no other site can use and that a revoked key closes."""

from __future__ import annotations

from collections.abc import Callable
from http.cookies import SimpleCookie
from pathlib import Path
from typing import Any

import httpx
import pytest

from tests.support.pages import page_of

CheckProblem = Callable[..., list[dict[str, Any]]]
BROWSER = {"accept": "text/html"}
FORM = {"content-type": "application/x-www-form-urlencoded"}


def sign_in(yard: Any, key: str, **headers: str) -> httpx.Response:
    response: httpx.Response = yard.ask(
        "POST", "/desk/sign-in", data={"key": key}, headers={"origin": "http://low-meadow.test"} | headers
    )
    return response


def token(yard: Any, *scopes: str) -> str:
    return str(yard.bearer(*scopes)["authorization"].removeprefix("Bearer "))


def cookie(response: httpx.Response) -> dict[str, str]:
    """What a browser would send back."""
    (pair,) = SimpleCookie(response.headers["set-cookie"]).items()
    return {"cookie": f"theme=dark; {pair[0]}={pair[1].value}"}


def test_without_a_key_a_browser_is_led_to_sign_in_and_programs_are_told(yard: Any, problem: CheckProblem) -> None:
    for path in ("/desk", "/desk/marks", "/desk/agreement", "/desk/sheet?assessment=x"):
        problem(yard.ask("GET", path), "unauthorized")
        response = yard.ask("GET", path, headers=BROWSER)
        assert response.status_code == 401
        assert "www-authenticate" in response.headers
        links = [each.attributes["href"] for each in page_of(response.text).all("a")]
        assert "/desk/sign-in" in links
    assert yard.ask("GET", "/desk/sign-in", headers=BROWSER).status_code == 200


def test_a_key_that_was_signed_in_with_opens_the_desk_and_what_it_links_to(yard: Any, good: dict[str, Any]) -> None:
    sent = yard.ask("POST", "/v1/assessments", json=good, headers=yard.bearer("assess")).json()
    response = sign_in(yard, f" {token(yard, 'read')} ")
    assert (response.status_code, response.headers["location"]) == (303, "/desk")
    headers = BROWSER | cookie(response)
    shown = yard.ask("GET", "/desk", headers=headers)
    assert shown.status_code == 200
    for link in [each.attributes["href"] for each in page_of(shown.text).all("a")]:
        assert yard.ask("GET", link, headers=headers).status_code == 200, link
    assert yard.ask("HEAD", f"/v1/assessments/{sent['id']}", headers=headers).status_code == 200


def test_the_cookie_is_out_of_reach_of_scripts_and_other_sites(
    yard: Any, yard_with: Callable[..., Any], tmp_path: Path
) -> None:
    parts = {part.strip() for part in sign_in(yard, token(yard, "read")).headers["set-cookie"].split(";")[1:]}
    assert parts == {"Path=/", "HttpOnly", "SameSite=Strict"}
    (folder := tmp_path / "tls").mkdir()
    behind = yard_with(folder, behind_tls=True)
    response = sign_in(behind, token(behind, "read"), origin="https://low-meadow.test")
    name, *more = response.headers["set-cookie"].split(";")
    assert name.startswith("__Host-")
    assert {part.strip() for part in more} == {"Path=/", "HttpOnly", "SameSite=Strict", "Secure"}
    assert behind.ask("GET", "/desk", headers=cookie(response)).status_code == 200
    behind.store.close()


def test_the_cookie_changes_nothing(yard: Any, good: dict[str, Any], problem: CheckProblem) -> None:
    headers = cookie(sign_in(yard, token(yard, "admin")))
    sent = yard.ask("POST", "/v1/assessments", json=good, headers=yard.bearer("assess")).json()
    for path in ("/v1/assessments", "/v1/assessments?keep=false", f"/v1/assessments/{sent['id']}/overrides"):
        [error] = problem(yard.ask("POST", path, json=good, headers=headers), "unauthorized")
        assert error["field"] == "header.authorization"
    problem(yard.ask("POST", "/v1/assessments/batch", content="{}", headers=headers), "unauthorized")


def test_the_header_counts_before_the_cookie(yard: Any, problem: CheckProblem) -> None:
    good = cookie(sign_in(yard, token(yard, "read")))
    problem(yard.ask("GET", "/v1/rulebook", headers=good | {"authorization": "Bearer x"}), "unauthorized")
    assert (
        yard.ask("GET", "/v1/rulebook", headers=yard.bearer("read") | {"cookie": "fitcheck-key=x"}).status_code == 200
    )


def test_a_key_opens_by_the_cookie_what_its_scope_opens_and_no_more(yard: Any, problem: CheckProblem) -> None:
    headers = cookie(sign_in(yard, token(yard, "metrics")))
    problem(yard.ask("GET", "/desk", headers=headers), "forbidden")
    assert yard.ask("GET", "/metrics", headers=headers).status_code == 200
    assert "Sign in" in page_of(yard.ask("GET", "/desk", headers=headers | BROWSER).text).text


def test_a_revoked_key_opens_nothing_by_its_cookie(yard: Any, problem: CheckProblem) -> None:
    headers = cookie(sign_in(yard, token(yard, "read")))
    yard.keys.revoke(yard.made[0].id)
    problem(yard.ask("GET", "/desk", headers=headers), "unauthorized")


@pytest.mark.parametrize(
    "value", ["", "x", "hoof_0123456789ab_" + "A" * 43, '"><script>', "x" * 60_000, "x; fitcheck-key=y", "é"]
)
def test_a_cookie_that_is_no_key_opens_nothing_and_is_not_said_back(
    yard: Any, problem: CheckProblem, value: str
) -> None:
    token(yard, "read")
    response = yard.ask("GET", "/desk", headers={"cookie": f"fitcheck-key={value}".encode()})
    problem(response, "unauthorized")
    assert len(value) < 2 or value not in response.text


@pytest.mark.parametrize("path", ["/desk/sign-in", "/desk/sign-out"])
@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://elsewhere.test"},
        {"origin": "null"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"origin": "http://low-meadow.test:81"},
    ],
)
def test_no_page_of_another_origin_signs_anyone_in_or_out(
    yard: Any, problem: CheckProblem, path: str, headers: dict[str, str]
) -> None:
    response = yard.ask("POST", path, data={"key": token(yard, "read")}, headers=headers)
    problem(response, "cross-origin")
    assert "set-cookie" not in response.headers


def test_signing_out_has_the_browser_forget_the_key(yard: Any) -> None:
    response = yard.ask("POST", "/desk/sign-out", headers={"origin": "http://low-meadow.test"})
    assert (response.status_code, response.headers["location"]) == (303, "/desk/sign-in")
    assert "fitcheck-key=; Max-Age=0; Path=/" in response.headers["set-cookie"]


@pytest.mark.parametrize("body", ["", "key=", "key=x", "key=%3Cscript%3E", "kee=x", "key=a&key=b", "key=%ff", "\x00"])
def test_what_is_no_key_is_told_on_the_page_and_not_kept(yard: Any, body: str) -> None:
    response = yard.ask("POST", "/desk/sign-in", content=body, headers=FORM | BROWSER)
    assert response.status_code == 400
    assert "set-cookie" not in response.headers
    (note,) = [each for each in page_of(response.text).all("p") if each.attributes.get("role") == "alert"]
    assert note.text.startswith("This is not an access key.")
    assert "script>" not in response.text


def test_bodies_of_the_form_are_bounded_and_of_one_kind(yard: Any, problem: CheckProblem) -> None:
    problem(yard.ask("POST", "/desk/sign-in", content=b"key=" + b"x" * 5000, headers=FORM), "body-too-large")
    problem(yard.ask("POST", "/desk/sign-in", json={"key": "x"}), "unsupported-media-type")
    problem(yard.ask("POST", "/desk/sign-in?key=x", content="key=x", headers=FORM), "bad-query")


def test_the_sign_in_page_lets_a_browser_say_of_which_origin_its_form_is(yard: Any) -> None:
    """With no referrer a browser sends Origin: null with a form (Fetch, 4.1, append a request Origin header)."""
    found = page_of(yard.ask("GET", "/desk/sign-in").text)
    (referrer,) = [each for each in found.all("meta") if each.attributes.get("name") == "referrer"]
    assert referrer.attributes["content"] == "same-origin"
