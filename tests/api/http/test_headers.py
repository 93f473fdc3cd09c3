"""What every answer tells a browser, whatever it is; and that nothing a client sends becomes a header."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any
from uuid import UUID

import httpx
import pytest
from fastapi import FastAPI

from api.application import create_app
from fitcheck.settings import ServiceSettings

Ask = Callable[..., httpx.Response]
ANSWERS: list[tuple[str, str, dict[str, Any], int]] = [
    ("GET", "/docs", {}, 200),
    ("GET", "/openapi.json", {}, 200),
    ("GET", "/healthz", {}, 200),
    ("GET", "/problems/bad-json", {}, 200),
    ("HEAD", "/v1/rulebook", {}, 200),
    ("OPTIONS", "/v1/rulebook", {}, 204),
    ("GET", "/v1/horses", {}, 404),
    ("PUT", "/v1/rulebook", {}, 405),
    ("POST", "/v1/assessments", {"content": "{", "headers": {"content-type": "application/json"}}, 400),
    ("POST", "/v1/assessments/batch", {"content": "{", "headers": {"content-type": "application/x-ndjson"}}, 200),
    ("POST", "/v1/assessments", {"json": {}, "headers": {"origin": "http://low-meadow.test"}}, 422),
]
EVERYWHERE = {
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-embedder-policy": "require-corp",
    "cross-origin-resource-policy": "same-origin",
}


def check(response: httpx.Response) -> None:
    for name, value in EVERYWHERE.items():
        assert response.headers.get_list(name) == [value]
    [policy] = response.headers.get_list("content-security-policy")
    for directive in ("default-src 'none'", "frame-ancestors 'none'", "base-uri 'none'", "form-action 'none'"):
        assert directive in policy
    assert "unsafe" not in policy
    assert "*" not in policy
    [permissions] = response.headers.get_list("permissions-policy")
    for power in ("camera", "microphone", "geolocation"):
        assert f"{power}=()" in permissions
    assert len(response.headers.get_list("cache-control")) == 1


@pytest.mark.parametrize(("method", "path", "request_", "status"), ANSWERS)
def test_every_answer_has_them_once(ask: Ask, method: str, path: str, request_: dict[str, Any], status: int) -> None:
    response = ask(method, path, **request_)
    assert response.status_code == status
    check(response)
    assert "strict-transport-security" not in response.headers


def test_a_refusal_and_a_failure_have_them_too(yard: Any, ask: Ask, monkeypatch: pytest.MonkeyPatch) -> None:
    check(yard.ask("GET", "/v1/rulebook"))

    def fail(*_: Any) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("api.assessing.assess_bytes", fail)
    failed = ask("POST", "/v1/assessments?keep=false", json={})
    assert failed.status_code == 500
    check(failed)


def test_browsers_are_told_to_keep_to_tls_only_where_there_is_tls(ask_of: Callable[[FastAPI], Ask]) -> None:
    ask = ask_of(create_app(settings=ServiceSettings(behind_tls=True)))
    for method, path, request_, _ in ANSWERS:
        [told] = ask(method, path, **request_).headers.get_list("strict-transport-security")
        # RFC 6797, 6.1.
        assert told == "max-age=31536000"


@pytest.mark.parametrize("sent", ["7f1c", "a" * 64, "6F1C2F0E-8A55", "trace_1.2-3", "6f1c2f0e8a554f0e9a3e2d1f0c5b7a10"])
def test_an_id_of_the_clients_own_is_passed_on(ask: Ask, sent: str) -> None:
    response = ask("GET", "/v1/horses", headers={"x-request-id": sent})
    assert response.headers.get_list("x-request-id") == [sent]
    assert response.json()["instance"] == f"/requests/{sent}"


def test_a_uuid_of_the_clients_own_is_an_instance_like_ours(ask: Ask) -> None:
    sent = "6f1c2f0e-8a55-4f0e-9a3e-2d1f0c5b7a10"
    assert ask("GET", "/v1/horses", headers={"x-request-id": sent}).json()["instance"] == f"urn:uuid:{sent}"


@pytest.mark.parametrize(
    "sent",
    [
        "",
        " ",
        "a" * 65,
        "a b",
        "a\r\nx-injected: 1",
        "a\nx-injected: 1",
        "a\x00",
        "-a",
        ".",
        "a;b",
        'a"b',
        "a/b",
        "%0d%0a",
        "<script>",
        "\x1b[31m",
        "é".encode(),
        "é".encode("latin-1"),
    ],
)
def test_an_id_that_is_not_safe_everywhere_is_not_passed_on(ask: Ask, sent: str | bytes) -> None:
    response = ask("GET", "/v1/horses", headers={"x-request-id": sent})
    [given] = response.headers.get_list("x-request-id")
    assert UUID(given).version == 4
    assert response.json()["instance"] == f"urn:uuid:{given}"
    assert "x-injected" not in response.headers


def test_of_two_ids_neither_is_passed_on(ask: Ask) -> None:
    response = ask("GET", "/healthz", headers=[("x-request-id", "a1"), ("x-request-id", "b2")])
    assert UUID(response.headers["x-request-id"]).version == 4


@pytest.mark.parametrize(
    "path",
    [
        "/v1/rulebook/rules/a%0d%0ax-injected:%201",
        "/problems/a%0ax-injected:%201",
        "/v1/rulebook?a%0d%0ax-injected=1",
        "/a%0d%0ax-injected:%201",
    ],
)
def test_no_part_of_an_address_becomes_a_header(ask: Ask, path: str) -> None:
    response = ask("GET", path)
    assert response.status_code in {400, 404}
    assert "x-injected" not in response.headers
    assert "x-injected" not in " ".join(response.headers.values())
    assert json.loads(response.text)["status"] == response.status_code
