"""The OpenAPI document: one digest for each operation and each schema, the latter under their names of release 0.1."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from api.application import create_app
from tests.frozen.normal import normal

__all__ = ["openapi_parts"]

_RENAMED: Final = Path(__file__).parent / "renamed_schemas.json"
"""Names of schemas when they were frozen, by what they are called now."""


def openapi_parts() -> Iterator[tuple[str, str]]:
    """Each operation, each schema, and the rest of the document."""
    document = create_app().openapi()
    renamed: dict[str, str] = json.loads(_RENAMED.read_text(encoding="utf-8"))
    document["components"]["schemas"] = {
        renamed.get(name, name): schema for name, schema in document["components"]["schemas"].items()
    }
    text = json.dumps(document, ensure_ascii=False)
    for new, old in renamed.items():
        text = text.replace(f'#/components/schemas/{new}"', f'#/components/schemas/{old}"')
        text = text.replace(f'"title": "{new}"', f'"title": "{old}"')
    document = json.loads(text)
    for path, operations in document.pop("paths").items():
        for method, operation in operations.items():
            yield f"{method} {path}", _text(operation)
    for name, schema in document["components"].pop("schemas").items():
        yield f"schema {name}", _text(schema)
    yield "the rest", _text(document)


def _text(part: object) -> str:
    return normal(json.dumps(part, ensure_ascii=False, indent=1, sort_keys=True))
