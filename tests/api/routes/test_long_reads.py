"""Whoever goes through much of what was kept holds up nobody who asks for little."""

from __future__ import annotations

import asyncio
import threading
from typing import Any

import httpx
import pytest
from fastapi import FastAPI

PATHS = ("/v1/people/A-1/progress", "/v1/people/A-1/progress/marks.svg", "/v1/agreement?first=S-1&second=S-2")


def test_lists_are_answered_while_many_look_at_progress_and_too_many_are_sent_away(
    own_app: FastAPI, monkeypatch: pytest.MonkeyPatch
) -> None:
    let_go = threading.Event()

    def slowly(*_: Any) -> Any:
        assert let_go.wait(30)

    monkeypatch.setattr("api.store._MOST_IN_STUDY", 12)
    monkeypatch.setattr("api.routes.marks.dated_sheets", lambda *_: slowly() or ())
    monkeypatch.setattr("api.routes.agreement.agreement_of", slowly)

    async def run() -> tuple[list[int], list[httpx.Response]]:
        transport = httpx.ASGITransport(app=own_app)
        async with httpx.AsyncClient(transport=transport, base_url="http://low-meadow.test", timeout=30) as client:
            much = [asyncio.create_task(client.get(path)) for path in PATHS * 5]
            done, _ = await asyncio.wait(much, timeout=1)
            little = [
                (await client.get(path)).status_code
                for path in ("/v1/assessments", "/desk", "/readyz", "/v1/events?limit=1")
            ]
            let_go.set()
            await asyncio.wait(much)
            return little, [task.result() for task in done]

    little, refused = asyncio.run(run())
    assert little == [200] * 4
    assert [answer.status_code for answer in refused] == [503] * 3
    assert {answer.headers["retry-after"] for answer in refused} == {"5"}
