"""A foot that waits at the desk to be marked by hand."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

import pytest

__all__ = ["DAY", "PROUD"]

DAY: Final = "2026-03-04"
PROUD: Final = {"observations__nails__1__exit_height": 44}
"""A nail that comes out too high: nails are then major."""


@pytest.fixture
def send(yard: Any, changed: Callable[..., dict[str, Any]]) -> Callable[..., str]:
    """Has the good fitting assessed and kept, with changes; the address of its page."""
    bearer = yard.bearer("assess")

    def post(query: str = "", **edits: Any) -> str:
        names = {"horse": {"id": "H-101"}, "visit": "v", "person": {"id": "A-7"}, "assessor": {"id": "S-0"}}
        response = yard.ask("POST", f"/v1/assessments{query}", json=changed(**(names | edits)), headers=bearer)
        assert response.status_code == 201, response.text
        return f"/desk/foot?assessment={response.json()['id']}&from={DAY}&to={DAY}"

    return post
