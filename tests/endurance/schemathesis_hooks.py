"""What Schemathesis does not know by itself: a body of NDJSON, here of one line, as its schema is that of a line."""

from __future__ import annotations

import json
from typing import Any

import schemathesis

__all__ = ["as_line", "of_line"]

_NDJSON = ("application/x-ndjson", "application/ndjson")


@schemathesis.serializer(*_NDJSON)
def as_line(_context: Any, value: Any) -> bytes:
    """The body with the one line ``value``."""
    return json.dumps(value, default=str).encode() + b"\n"


@schemathesis.deserializer(*_NDJSON)
def of_line(_context: Any, response: Any) -> Any:
    """The first answer of a batch; the tests with accidents look at each."""
    return json.loads(response.content.splitlines()[0])
