"""The OpenAPI document: one digest for each operation and each schema, the latter under their names of release 0.1."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from api.application import create_app
from tests.frozen.normal import normal

__all__ = ["openapi_parts", "with_frozen_names"]

_RENAMED: Final = Path(__file__).parent / "renamed_schemas.json"
"""Names of schemas when they were frozen, by what they are called now."""


def openapi_parts() -> Iterator[tuple[str, str]]:
    """Each operation, each schema, and the rest of the document."""
    document = json.loads(with_frozen_names(json.dumps(create_app().openapi(), ensure_ascii=False)))
    for path, operations in document.pop("paths").items():
        for method, operation in operations.items():
            yield f"{method} {path}", _text(operation)
    for name, schema in document["components"].pop("schemas").items():
        yield f"schema {name}", _text(schema)
    yield "the rest", _text(document)


def with_frozen_names(text: str) -> str:
    """``text`` with the names that schemas had when they were frozen."""
    renamed: dict[str, str] = json.loads(_RENAMED.read_text(encoding="utf-8"))
    return re.sub(rf"\b({'|'.join(renamed)})\b", lambda found: renamed[found[0]], text)


def _text(part: object) -> str:
    return normal(json.dumps(part, ensure_ascii=False, indent=1, sort_keys=True))
