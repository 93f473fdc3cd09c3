"""When the service itself fails: a plain problem, a line in the log, and never a release."""

from __future__ import annotations

import asyncio
import json
import logging
from collections.abc import Callable
from typing import Any

import httpx
import pytest
from starlette.types import Message, Receive, Scope, Send

from api.http.request_middleware import RequestMiddleware
from api.openapi.examples import EXAMPLES
from rules import EngineFault

Ask = Callable[..., httpx.Response]
CheckProblem = Callable[..., list[dict[str, Any]]]
GOOD = EXAMPLES[0].fitting
INSIDES = "rule heel-width-tight at address 0x7f"


@pytest.fixture
def broken_engine(monkeypatch: pytest.MonkeyPatch) -> None:
    """An engine that never runs to its end."""

    def fail(*_: Any) -> None:
        raise EngineFault(INSIDES)

    monkeypatch.setattr("rules.engine.evaluator.Evaluator.evaluate", fail)


@pytest.fixture
def bug(monkeypatch: pytest.MonkeyPatch) -> None:
    """A fault that nobody foresaw."""

    def fail(*_: Any) -> None:
        raise ZeroDivisionError(INSIDES)

    monkeypatch.setattr("rules.engine.evaluator.Evaluator.evaluate", fail)


@pytest.mark.usefixtures("broken_engine")
def test_an_engine_that_did_not_finish_gives_a_problem_and_no_release(
    ask: Ask, problem: CheckProblem, caplog: pytest.LogCaptureFixture
) -> None:
    response = ask("POST", "/v1/assessments", json=GOOD)
    assert problem(response, "not-assessed") == []
    assert INSIDES not in response.text
    assert "decision" not in response.text
    [record] = [record for record in caplog.records if record.name.startswith("api")]
    assert record.levelno == logging.ERROR
    assert response.headers["x-request-id"] in record.getMessage()
    assert record.exc_info is not None
    assert INSIDES in caplog.text


@pytest.mark.usefixtures("bug")
def test_a_fault_that_nobody_foresaw_gives_a_problem_that_tells_nothing_of_it(
    ask: Ask, problem: CheckProblem, caplog: pytest.LogCaptureFixture
) -> None:
    response = ask("POST", "/v1/assessments", json=GOOD)
    assert problem(response, "internal-error") == []
    assert INSIDES not in response.text
    assert "ZeroDivisionError" not in response.text
    [record] = [record for record in caplog.records if record.name.startswith("api")]
    assert response.headers["x-request-id"] in record.getMessage()
    assert "ZeroDivisionError" in caplog.text


@pytest.mark.parametrize(("fixture", "kind"), [("broken_engine", "not-assessed"), ("bug", "internal-error")])
def test_each_line_of_a_batch_fails_for_itself(
    ask: Ask, request: pytest.FixtureRequest, fixture: str, kind: str
) -> None:
    request.getfixturevalue(fixture)
    body = f"{json.dumps(GOOD)}\n{{}}\n{json.dumps(GOOD)}\n"
    response = ask("POST", "/v1/assessments/batch", content=body, headers={"content-type": "application/x-ndjson"})
    assert response.status_code == 200
    answers = [json.loads(line) for line in response.text.splitlines()]
    assert [answer["problem"]["type"] for answer in answers] == [
        f"/problems/{kind}",
        "/problems/bad-input",
        f"/problems/{kind}",
    ]
    assert INSIDES not in response.text


@pytest.mark.parametrize("fixture", ["broken_engine", "bug"])
def test_a_service_that_cannot_assess_is_alive_but_not_ready(
    ask: Ask, problem: CheckProblem, request: pytest.FixtureRequest, fixture: str
) -> None:
    request.getfixturevalue(fixture)
    response = ask("GET", "/readyz")
    problem(response, "not-ready")
    assert INSIDES not in response.text
    assert ask("GET", "/healthz").json() == {"status": "alive"}


def test_a_service_whose_rules_would_release_an_unseen_foot_is_not_ready(
    ask: Ask, problem: CheckProblem, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("fitcheck.assessment.completeness.Completeness.still_needed", lambda _: ())
    problem(ask("GET", "/readyz"), "not-ready")


def test_a_service_that_can_assess_is_alive_and_ready(ask: Ask) -> None:
    assert ask("GET", "/healthz").json() == {"status": "alive"}
    assert ask("GET", "/readyz").json() == {"status": "ready"}


def test_an_answer_that_has_begun_is_broken_off_and_not_passed_off_as_whole() -> None:
    sent: list[Message] = []

    async def half(_scope: Scope, _receive: Receive, send: Send) -> None:
        await send({"type": "http.response.start", "status": 200, "headers": []})
        raise ZeroDivisionError

    async def nothing() -> Message:
        return {"type": "http.request", "body": b"", "more_body": False}

    async def keep(message: Message) -> None:
        sent.append(message)

    with pytest.raises(ZeroDivisionError):
        asyncio.run(RequestMiddleware(half)({"type": "http"}, nothing, keep))
    assert [message["type"] for message in sent] == ["http.response.start"]
