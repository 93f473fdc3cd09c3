"""FastAPI's own telemetry stays off: it would hand on addresses and queries as clients wrote them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import httpx
import pytest

Ask = Callable[..., httpx.Response]


def test_no_tracer_that_the_machine_has_set_up_is_told_of_a_request(ask: Ask, monkeypatch: pytest.MonkeyPatch) -> None:
    trace = pytest.importorskip("opentelemetry.trace", reason="older releases of FastAPI trace nothing")
    told: list[str] = []

    class Provider:
        def get_tracer(self, name: str, *_: Any, **__: Any) -> Any:
            told.append(name)
            return trace.NoOpTracer()

    monkeypatch.setattr(trace, "get_tracer_provider", Provider)
    assert ask("GET", "/v1/visits/2026-03-04-H-101?lang=xx").status_code == 400
    assert told == []
