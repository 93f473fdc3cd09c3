"""Generated clients against a real service: they send, keep, follow, correct, and let go of what was erased.

The round is that of ``examples/yard_client.py``. openapi-python-client makes functions for the operations too; of
datamodel-code-generator there are models, which are sent and read by httpx.
"""

from __future__ import annotations

import importlib
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from types import ModuleType
from typing import Any, Protocol

import httpx
import pytest

from api.openapi.examples import EXAMPLES
from fitcheck.records import open_store
from tests.api.openapi.test_generated_clients import (  # noqa: F401  (fixtures)
    attrs_client,
    document,
    pydantic_client,
)
from tests.support.served import Served

pytestmark = pytest.mark.long


class Client(Protocol):
    """What a program of one yard asks of the service."""

    def assess(self, fitting: dict[str, Any], corrects: str | None = None) -> Any:
        """What was answered of the foot, which is kept."""

    def whole(self, id_: str) -> Any:
        """What was answered and kept."""

    def current(self, visit: str) -> list[Any]:
        """What counts of a visit."""

    def events(self, after: str | None, wait: int = 0) -> tuple[list[Any], str]:
        """What was kept since, and the place to go on from."""

    def told(self, event: Any) -> Any:
        """The assessment in an event, which the contract leaves open there: records of every version are told."""


def _after(answer: Any) -> str:
    """The place to go on from, out of the header Link."""
    return str(httpx.URL(httpx.Response(200, headers=answer.headers).links["next"]["url"]).params["after"])


class ByAttrs:
    """By the functions of openapi-python-client."""

    def __init__(self, url: str) -> None:
        self._client = importlib.import_module("attrs_client.client").Client(base_url=url)
        self._models = importlib.import_module("attrs_client.models")

    def close(self) -> None:
        """Let go of its connections."""
        self._client.get_httpx_client().close()

    def _ask(self, operation: str, *path: str, **query: Any) -> Any:
        asked = importlib.import_module(f"attrs_client.api.{operation}").sync_detailed(
            *path, client=self._client, **{name: value for name, value in query.items() if value is not None}
        )
        assert asked.status_code < 400, asked.content
        return asked

    def assess(self, fitting: dict[str, Any], corrects: str | None = None) -> Any:
        body = self._models.Fitting.from_dict(fitting)
        return self._ask("assessments.assess", body=body, corrects=corrects).parsed

    def whole(self, id_: str) -> Any:
        return self._ask("records.assessment", id_).parsed

    def current(self, visit: str) -> list[Any]:
        listed: list[Any] = self._ask("records.list_assessments", visit=visit, current=True).parsed.assessments
        return listed

    def events(self, after: str | None, wait: int = 0) -> tuple[list[Any], str]:
        answer = self._ask("events.events", after=after, wait=wait)
        return answer.parsed, _after(answer)

    def told(self, event: Any) -> Any:
        return self._models.Assessment.from_dict(event.data.assessment.to_dict())


class ByPydantic:
    """By the models of datamodel-code-generator."""

    def __init__(self, url: str) -> None:
        self._models = importlib.import_module("pydantic_client")
        self._url = url

    def _ask(self, method: str, path: str, **request: Any) -> httpx.Response:
        answer = httpx.request(method, f"{self._url}{path}", timeout=40, **request)
        assert answer.is_success, answer.text
        return answer

    def assess(self, fitting: dict[str, Any], corrects: str | None = None) -> Any:
        body = self._models.Fitting.model_validate(fitting).model_dump(mode="json", by_alias=True, exclude_unset=True)
        query = {} if corrects is None else {"corrects": corrects}
        answer = self._ask("POST", "/v1/assessments", json=body, params=query)
        return self._models.Assessment.model_validate_json(answer.content)

    def whole(self, id_: str) -> Any:
        return self._models.Assessment.model_validate_json(self._ask("GET", f"/v1/assessments/{id_}").content)

    def current(self, visit: str) -> list[Any]:
        answer = self._ask("GET", "/v1/assessments", params={"visit": visit, "current": "true"})
        listed: list[Any] = self._models.StoredAssessments.model_validate_json(answer.content).assessments
        return listed

    def events(self, after: str | None, wait: int = 0) -> tuple[list[Any], str]:
        query = {"wait": wait} | ({} if after is None else {"after": after})
        answer = self._ask("GET", "/v1/events", params=query)
        return [self._models.Event.model_validate(each) for each in answer.json()], _after(answer)

    def told(self, event: Any) -> Any:
        return self._models.Assessment.model_validate(event.data.assessment)


@pytest.fixture
def url(root: Path, tmp_path: Path, records: str) -> Iterator[str]:
    """The address of a real service."""
    running = Served(root, tmp_path, records)
    running.start()
    yield running.url
    running.kill()


def said(value: Any) -> str:
    """A word of the contract, whether a client has it as a member of an enumeration or as text."""
    return str(getattr(value, "value", value))


def _round(client: Client, records: str) -> None:
    foot = EXAMPLES[1].fitting | {"visit": "v-1"}
    wrong = client.assess(foot | {"person": {"id": "A-1", "role": "farrier"}})
    assert said(wrong.decision) == "put_right"
    assert client.whole(str(wrong.id)).findings[0].rule == wrong.findings[0].rule
    right = client.assess(foot | {"person": {"id": "A-2", "role": "farrier"}}, corrects=str(wrong.id))
    assert [str(each.id) for each in client.current("v-1")] == [str(right.id)]

    kept, after = client.events(None)
    assert [each.id for each in kept] == [str(wrong.id), str(right.id)]
    taken = {each.data.record.number: each.id for each in kept}
    assert said(client.told(kept[0]).decision) == "put_right"
    assert client.events(after)[0] == []
    with open_store(records) as store:
        assert store.erase("A-1", reason="Asked for.", created="2026-03-05T10:00:00.000Z") is not None
    [erased], _ = client.events(after, wait=5)
    for number in erased.data.erasure["erased"]:
        del taken[number]
    assert list(taken.values()) == [str(right.id)]


def test_an_attrs_client_does_the_whole_round(url: str, records: str, attrs_client: ModuleType) -> None:  # noqa: F811
    assert attrs_client.Fitting
    with closing(ByAttrs(url)) as client:
        _round(client, records)


def test_a_pydantic_client_does_the_whole_round(url: str, records: str, pydantic_client: ModuleType) -> None:  # noqa: F811
    assert pydantic_client.Fitting
    _round(ByPydantic(url), records)


def test_an_attrs_client_reads_what_is_wrong_field_by_field(url: str, attrs_client: ModuleType) -> None:  # noqa: F811
    assess = importlib.import_module("attrs_client.api.assessments.assess")
    body = attrs_client.Fitting.from_dict(EXAMPLES[1].fitting | {"visit": "v" * 200})
    with importlib.import_module("attrs_client.client").Client(base_url=url) as client:
        problem = assess.sync(client=client, body=body)
    assert isinstance(problem, attrs_client.ProblemDetails)
    assert [each.field for each in problem.errors] == ["visit"]
