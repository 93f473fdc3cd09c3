"""JSON schemas put into words."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

__all__ = ["in_words", "references"]

_REF: Final = "#/components/schemas/"


def in_words(schema: dict[str, Any]) -> str:
    """What a value that follows ``schema`` may be; the names of other schemas stand in square brackets.

    >>> in_words({"anyOf": [{"type": "number", "minimum": 0, "maximum": 30}, {"enum": ["tight", "wide"]}]})
    'number from 0 to 30, or one of "tight", "wide"'
    """
    if "$ref" in schema:
        words = f"[{schema['$ref'].removeprefix(_REF)}]"
    elif alternatives := schema.get("anyOf") or schema.get("oneOf"):
        words = ", or ".join(dict.fromkeys(in_words(part) for part in alternatives))
    elif "const" in schema:
        words = f'"{schema["const"]}"'
    elif "enum" in schema:
        words = "one of " + ", ".join(f'"{word}"' for word in schema["enum"])
    else:
        words = _of_type(schema)
    return words


def references(schema: Any) -> Iterator[str]:
    """The names of the schemas that ``schema`` mentions, in order."""
    if isinstance(schema, dict):
        for key, part in schema.items():
            if key == "$ref":
                yield part.removeprefix(_REF)
            else:
                yield from references(part)
    elif isinstance(schema, list):
        for part in schema:
            yield from references(part)


def _of_type(schema: dict[str, Any]) -> str:
    kind = str(schema.get("type", "anything"))
    if kind in {"number", "integer"}:
        return ("whole number" if kind == "integer" else "number") + _between(schema, "minimum", "maximum")
    if kind == "string":
        form = f" ({schema['format']})" if "format" in schema else ""
        return "text" + form + _between(schema, "minLength", "maxLength", "characters")
    if kind == "array":
        return _list(schema)
    if kind == "object":
        return _object(schema)
    return {"boolean": "true or false", "null": "null"}.get(kind, kind)


def _list(schema: dict[str, Any]) -> str:
    count = _between(schema, "minItems", "maxItems", "entries")
    if "prefixItems" in schema:
        return "list of " + ", ".join(in_words(part) for part in schema["prefixItems"])
    return f"list{count} of ({in_words(schema.get('items', {}))})"


def _object(schema: dict[str, Any]) -> str:
    if properties := schema.get("properties"):
        return "object {" + "; ".join(f"{key}: {in_words(part)}" for key, part in properties.items()) + "}"
    keys = schema.get("propertyNames")
    named = f" with keys {in_words(keys)}" if keys else ""
    values = schema.get("additionalProperties")
    return f"object{named}" + (f", each {in_words(values)}" if isinstance(values, dict) else "")


def _between(schema: dict[str, Any], low: str, high: str, what: str = "") -> str:
    least, most = schema.get(low), schema.get(high)
    of = f" {what}" if what else ""
    if least is not None and least == most:
        return f" of {least:g}{of}"
    if most is None:
        return "" if least is None else f", {least:g} or more{of}"
    if least is None:
        return f", at most {most:g}{of}"
    return f" from {least:g} to {most:g}{of}"
