"""Two OpenAPI documents held against each other: what of the newer one breaks a client of the older."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tests.contract_one.schema_comparer import Break, SchemaComparer, Way

__all__ = ["breaks_between"]

Document = Mapping[str, Any]


def breaks_between(before: Document, after: Document) -> list[Break]:
    """Everything that a client of ``before`` may stumble over in ``after``, each once."""
    return list(dict.fromkeys(_breaks(before, after)))


def _breaks(before: Document, after: Document) -> Iterator[Break]:
    comparer = SchemaComparer(before, after)
    for path, operations in before["paths"].items():
        if path not in after["paths"]:
            yield Break(path, "path gone")
            continue
        for method, operation in operations.items():
            at = f"{method} {path}"
            if method not in after["paths"][path]:
                yield Break(at, "method gone")
                continue
            now = after["paths"][path][method]
            yield from _of_operation(comparer, operation, now, at)
            let_in = (one.get("security", whole.get("security")) for one, whole in ((operation, before), (now, after)))
            yield from _of_security(at, *let_in)
    for part in ("schemas", "securitySchemes"):
        was, now = (document.get("components", {}).get(part, {}) for document in (before, after))
        # Clients that are generated have their names.
        yield from (Break(f"{part} {name}", "name gone") for name in was if name not in now)


def _of_operation(comparer: SchemaComparer, before: Document, after: Document, at: str) -> Iterator[Break]:
    if before.get("operationId") != after.get("operationId"):
        yield Break(at, "operation renamed", f"{before.get('operationId')} is {after.get('operationId')}")
    yield from _of_parameters(comparer, before, after, at)
    yield from _of_body(comparer, before.get("requestBody"), after.get("requestBody"), at)
    for status, answer in before["responses"].items():
        if status in after["responses"]:
            yield from _of_answer(comparer, answer, after["responses"][status], f"{at} {status}")
        else:
            yield Break(f"{at} {status}", "status gone")


def _of_security(at: str, before: list[Any] | None, after: list[Any] | None) -> Iterator[Break]:
    """Each way of being let in stays, and asks for no more; without any, everybody is let in."""
    for way in before or [{}]:
        enough = (all(name in way and {*new[name]} <= {*way[name]} for name in new) for new in after or [{}])
        if not any(enough):
            yield Break(at, "security", f"{way} is no longer enough")


def _of_parameters(comparer: SchemaComparer, before: Document, after: Document, at: str) -> Iterator[Break]:
    was, now = (
        {
            (one["in"], one["name"].lower() if one["in"] == "header" else one["name"]): one
            for one in operation.get("parameters", ())
        }
        for operation in (before, after)
    )
    for key, one in was.items():
        here = f"{at} {key[0]} {one['name']}"
        if key not in now:
            yield Break(here, "parameter gone")
            continue
        yield from comparer.breaks(one["schema"], now[key]["schema"], here, "request")
    for key, one in now.items():
        if one.get("required", False) and not was.get(key, {}).get("required", False):
            yield Break(f"{at} {key[0]} {one['name']}", "newly required")


def _of_body(comparer: SchemaComparer, before: Document | None, after: Document | None, at: str) -> Iterator[Break]:
    here = f"{at} body"
    if before is None:
        if after is not None and after.get("required", False):
            yield Break(here, "newly required")
        return
    if after is None:
        yield Break(here, "body gone")
        return
    if after.get("required", False) and not before.get("required", False):
        yield Break(here, "newly required")
    yield from _of_content(comparer, before, after, here, "request")


def _of_answer(comparer: SchemaComparer, before: Document, after: Document, at: str) -> Iterator[Break]:
    was, now = ({name.lower(): header for name, header in one.get("headers", {}).items()} for one in (before, after))
    for name, header in was.items():
        if name in now:
            yield from comparer.breaks(header["schema"], now[name]["schema"], f"{at} header {name}", "answer")
        else:
            yield Break(f"{at} header {name}", "header gone")
    yield from _of_content(comparer, before, after, at, "answer")


def _of_content(comparer: SchemaComparer, before: Document, after: Document, at: str, way: Way) -> Iterator[Break]:
    was, now = before.get("content", {}), after.get("content", {})
    for kind, media in was.items():
        if kind in now:
            yield from comparer.breaks(media.get("schema", {}), now[kind].get("schema", {}), f"{at} {kind}", way)
        else:
            yield Break(f"{at} {kind}", "content type gone")
