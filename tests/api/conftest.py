"""The application in process, asked one request at a time."""

from __future__ import annotations

import asyncio
import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from uuid import UUID

import httpx
import psycopg
import pytest
from fastapi import FastAPI

from api.application import create_app
from api.http.problem_kinds import KINDS
from fitcheck.records import Store, open_store
from fitcheck.records.keys import AccessKey, AccessKeys
from fitcheck.settings import ServiceSettings
from tests.endurance.databases import postgres
from tests.support.databases import ON_POSTGRESQL

Ask = Callable[..., httpx.Response]


@dataclass
class Yard:
    """A service with a store of its own, in which keys are made; nobody is let in without one."""

    store: Store
    keys: AccessKeys
    app: FastAPI
    ask: Ask
    made: list[AccessKey] = field(default_factory=list)

    def bearer(self, *scopes: str, person: str | None = None, until: str | None = None) -> dict[str, str]:
        """The header that shows a new key with these scopes, of ``person`` or of a device."""
        if person is None:
            key, token = self.keys.make("Low Meadow", scopes, until=until)
        else:
            key, token = self.keys.make(person, scopes, holder="person", until=until)
        self.made.append(key)
        return {"authorization": f"Bearer {token.text}"}


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
def address_of() -> Iterator[Callable[[Path], str]]:
    """Tells the address of the store that belongs to a folder, the same again for the same folder."""
    if not ON_POSTGRESQL:
        yield lambda folder: f"sqlite:///{folder / 'records.sqlite3'}"
        return
    addresses: dict[Path, str] = {}
    with postgres() as server, psycopg.connect(server.url, autocommit=True) as connection:

        def address(folder: Path) -> str:
            if folder not in addresses:
                name = f"yard_{uuid.uuid4().hex}"
                connection.execute(f"CREATE SCHEMA {name}".encode())
                addresses[folder] = f"{server.url}&options=-csearch_path%3D{name}"
            return addresses[folder]

        yield address


@pytest.fixture
def records(address_of: Callable[[Path], str], tmp_path: Path) -> str:
    """The address of a store of this test's own."""
    return address_of(tmp_path)


@pytest.fixture
def store(records: str) -> Iterator[Store]:
    """That store, empty."""
    with open_store(records) as opened:
        yield opened


@pytest.fixture
def own_app(store: Store) -> FastAPI:
    """An application that keeps in the store of this test."""
    return create_app(store=store)


@pytest.fixture
def own(own_app: FastAPI, ask_of: Callable[[FastAPI], Ask]) -> Ask:
    """Sends one request to that application."""
    return ask_of(own_app)


@pytest.fixture(scope="session")
def yard_with(ask_of: Callable[[FastAPI], Ask], address_of: Callable[[Path], str]) -> Callable[..., Yard]:
    """Makes a service with keys that lies in a folder, run as the keywords say."""

    def make(folder: Path, **settings: Any) -> Yard:
        store = open_store(address_of(folder))
        app = create_app(settings=ServiceSettings(**({"keys_required": True} | settings)), store=store)
        return Yard(store, AccessKeys(store), app, ask_of(app))

    return make


@pytest.fixture
def yard(yard_with: Callable[..., Yard], tmp_path: Path) -> Iterator[Yard]:
    """A service that lets nobody in without a key."""
    made = yard_with(tmp_path)
    yield made
    made.store.close()


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
