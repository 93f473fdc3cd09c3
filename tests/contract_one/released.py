"""The OpenAPI document of release 1.0.0."""

from __future__ import annotations

import gzip
import json
from functools import cache
from pathlib import Path
from typing import Any, Final

__all__ = ["released_openapi", "request_schema"]

_FILE: Final = Path(__file__).parent / "openapi.json.gz"


@cache
def released_openapi() -> dict[str, Any]:
    """The document; it is shared, and never changed."""
    document: dict[str, Any] = json.loads(gzip.decompress(_FILE.read_bytes()))
    return document


def request_schema(name: str = "Fitting") -> dict[str, Any]:
    """The schema of that name."""
    schema: dict[str, Any] = released_openapi()["components"]["schemas"][name]
    return schema
