"""The application in process, asked one request at a time."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any
from uuid import UUID

import httpx
import pytest
from fastapi import FastAPI

from api.application import create_app
from api.problem_kinds import KINDS

Ask = Callable[..., httpx.Response]


@pytest.fixture(scope="session")
def app() -> FastAPI:
    """The application with the shipped rulebook."""
    return create_app()


@pytest.fixture(scope="session")
def ask_of() -> Callable[[FastAPI], Ask]:
    """Makes a function that sends one request to an application."""

    def asker(application: FastAPI) -> Ask:
        def ask(method: str, path: str, **request: Any) -> httpx.Response:
            async def send() -> httpx.Response:
                transport = httpx.ASGITransport(app=application)
                async with httpx.AsyncClient(transport=transport, base_url="http://low-meadow.test") as client:
                    return await client.request(method, path, **request)

            return asyncio.run(send())

        return ask

    return asker


@pytest.fixture(scope="session")
def ask(app: FastAPI, ask_of: Callable[[FastAPI], Ask]) -> Ask:
    """Sends one request to the application: method, path, and what httpx takes."""
    return ask_of(app)


@pytest.fixture(scope="session")
def problem() -> Callable[..., list[dict[str, Any]]]:
    """Checks that an answer is a problem of a kind in every member, and gives its errors."""

    def check(response: httpx.Response, kind: str) -> list[dict[str, Any]]:
        expected = KINDS[kind]
        assert response.headers["content-type"] == "application/problem+json"
        body = response.json()
        assert set(body) == {"type", "title", "status", "detail", "instance", "errors"}
        assert body["type"] == f"/problems/{kind}"
        assert body["title"] == expected.title
        assert body["status"] == response.status_code == expected.status
        assert body["detail"].endswith((".", "?"))
        assert body["instance"] == f"urn:uuid:{UUID(response.headers['x-request-id'])}"
        for error in body["errors"]:
            assert set(error) == {"field", "value", "allowed", "detail"}
        assert "Traceback" not in response.text
        errors: list[dict[str, Any]] = body["errors"]
        return errors

    return check
