"""GET /openapi.json, and GET /docs: the same as one plain page that needs nothing from outside."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from collections.abc import Iterator
from functools import cache
from html import escape
from typing import Any, Final

from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from api.http.headers import CONTENT_POLICY, JSON
from api.http.route_scopes import open_to_all

__all__ = ["add_reference_page", "in_words", "references", "render"]

_STYLE: Final = (
    "body{font:16px/1.5 system-ui,sans-serif;max-width:60rem;margin:0 auto;padding:1rem;color:#1c1c1c;background:#fff}"
    "h1,h2,h3{line-height:1.2}h2{border-top:2px solid #999;padding-top:1rem;margin-top:2.5rem}"
    "code,pre{font:14px/1.45 ui-monospace,monospace}pre{background:#f3f1ec;padding:.75rem;overflow:auto}"
    "table{border-collapse:collapse;width:100%}td,th{border:1px solid #bbb;padding:.3rem .5rem;text-align:left;"
    "vertical-align:top;overflow-wrap:anywhere}summary{cursor:pointer;padding:.25rem 0}a{color:#0b4f8a}"
    ".method{background:#1f3d2b;color:#fff;padding:.1rem .5rem;border-radius:.25rem}"
    "@media(prefers-color-scheme:dark){body{color:#e8e6e1;background:#191919}pre{background:#262524}a{color:#8fc1ee}}"
)
_REF: Final = "#/components/schemas/"
_NAME: Final = re.compile("``(.+?)``")
_POLICY: Final = (
    f"{CONTENT_POLICY}; style-src 'sha256-" + base64.b64encode(hashlib.sha256(_STYLE.encode()).digest()).decode() + "'"
)


def add_reference_page(app: FastAPI) -> None:
    """Add /openapi.json and /docs, which is generated from it; each is made once."""

    @cache
    def page() -> str:
        return render(app.openapi())

    @cache
    def document() -> str:
        return json.dumps(app.openapi(), ensure_ascii=False, separators=(",", ":"))

    @open_to_all
    async def show_reference(_request: Request) -> Response:
        return HTMLResponse(page(), headers={"content-security-policy": _POLICY})

    @open_to_all
    async def show_document(_request: Request) -> Response:
        return Response(document(), media_type=JSON)

    app.add_api_route("/docs", show_reference, methods=["GET"], include_in_schema=False)
    app.add_route("/openapi.json", show_document, methods=["GET"], include_in_schema=False)


def render(document: dict[str, Any]) -> str:
    """The reference page of an OpenAPI document."""
    return "\n".join(_page(document))


def _page(document: dict[str, Any]) -> Iterator[str]:
    info, schemas = document["info"], dict(_in_reading_order(document))
    operations = list(_operations(document))
    title = escape(f"{info['title']} {info['version']}: reference")
    yield f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{title}</title>'
    yield f'<meta name="viewport" content="width=device-width"><style>{_STYLE}</style></head><body>'
    yield f"<h1>{title}</h1><p>{escape(info.get('summary', ''))}</p>"
    yield '<p>As JSON: <a href="/openapi.json">/openapi.json</a>.'
    yield 'Rulebook: <a href="/v1/rulebook">/v1/rulebook</a>.</p>'
    yield "<nav><h2>Contents</h2><ul>"
    for method, path, operation in operations:
        yield f'<li><a href="#{_id(operation)}"><code>{method} {escape(path)}</code></a>'
        yield f"{escape(operation['summary'])}</li>"
    yield f"<li>Schemas: {', '.join(_link(name) for name in schemas)}</li></ul></nav>"
    yield f"<h2>Start here</h2>{_prose(info['description'])}"
    for method, path, operation in operations:
        yield from _operation(method, path, operation)
    yield '<h2 id="schemas">Schemas</h2>'
    for name, schema in schemas.items():
        yield from _schema(name, schema)
    yield "</body></html>"


def _in_reading_order(document: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    """The schemas as the operations mention them, each followed by those that it rests on."""
    schemas, seen = document["components"]["schemas"], set()
    waiting = [
        name
        for _, _, operation in _operations(document)
        for part in ("requestBody", "responses")
        for name in references(operation.get(part))
    ]
    while waiting:
        name = waiting.pop(0)
        if name not in seen:
            seen.add(name)
            waiting = [*references(schemas[name]), *waiting]
            yield name, schemas[name]


def _operations(document: dict[str, Any]) -> Iterator[tuple[str, str, dict[str, Any]]]:
    for path, methods in document["paths"].items():
        for method, operation in methods.items():
            yield method.upper(), path, operation


def _operation(method: str, path: str, operation: dict[str, Any]) -> Iterator[str]:
    yield f'<h2 id="{_id(operation)}"><span class="method">{method}</span> <code>{escape(path)}</code></h2>'
    yield f"<p><strong>{escape(operation['summary'])}.</strong></p>{_prose(operation['description'])}"
    for scopes in (each.values() for each in operation.get("security", ())):
        yield f"<p>Scope of the access key: <code>{escape(' '.join(*scopes))}</code>.</p>"
    if parameters := operation.get("parameters"):
        yield "<h3>Parameters</h3><table><tr><th>name</th><th>in</th><th>value</th><th></th></tr>"
        for each in parameters:
            words = _words(each["schema"])
            yield f"<tr><td><code>{escape(each['name'])}</code></td><td>{escape(each['in'])}</td><td>{words}</td>"
            yield f"<td>{escape(each['description'])}</td></tr>"
        yield "</table>"
    if body := operation.get("requestBody"):
        yield f"<h3>Request body</h3><p>{escape(body.get('description', ''))}</p>"
        yield from _content(body["content"])
    yield "<h3>Answers</h3>"
    for status, each in operation["responses"].items():
        yield f"<p><strong>{escape(status)}</strong> {escape(each['description'])}</p>"
        yield from _content(each.get("content", {}))


def _content(content: dict[str, Any]) -> Iterator[str]:
    for media_type, each in content.items():
        yield f"<p><code>{escape(media_type)}</code>: {_words(each['schema'])}</p>"
        for name, example in each.get("examples", {}).items():
            text = json.dumps(example["value"], indent=2, ensure_ascii=False)
            yield f"<details><summary>Example <code>{escape(name)}</code>: {escape(example['summary'])}</summary>"
            yield f"<pre>{escape(text)}</pre></details>"


def _schema(name: str, schema: dict[str, Any]) -> Iterator[str]:
    yield f'<h3 id="schema-{escape(name)}">{escape(name)}</h3>{_prose(schema.get("description", ""))}'
    if "properties" not in schema:
        yield f"<p>{_words(schema)}</p>"
        return
    yield "<table><tr><th>key</th><th>value</th><th></th></tr>"
    required = schema.get("required", ())
    for key, each in schema["properties"].items():
        must = " <strong>required</strong>" if key in required else ""
        yield f"<tr><td><code>{escape(key)}</code>{must}</td><td>{_words(each)}</td>"
        yield f"<td>{_text(_schema_text(each))}</td></tr>"
    yield "</table>"


def _schema_text(schema: dict[str, Any]) -> str:
    """The field's own description, and how the quantity behind it is measured."""
    texts = [schema.get("description", "")]
    texts += [part["description"] for part in schema.get("anyOf", ()) if "title" in part and "description" in part]
    return " ".join(dict.fromkeys(text for text in texts if text))


def _words(schema: dict[str, Any]) -> str:
    """What a value may be, with each schema's name made a link."""
    words = escape(in_words(schema))
    for name in references(schema):
        words = words.replace(f"[{name}]", _link(name))
    return words


def _link(name: str) -> str:
    return f'<a href="#schema-{escape(name)}">{escape(name)}</a>'


def _id(operation: dict[str, Any]) -> str:
    return escape(operation["operationId"])


def _prose(text: str) -> str:
    paragraphs = []
    for block in text.split("\n\n"):
        if block.startswith("    "):
            paragraphs.append(f"<pre>{escape(block.strip())}</pre>")
        elif block.strip():
            paragraphs.append(f"<p>{_text(block.strip())}</p>")
    return "".join(paragraphs)


def _text(text: str) -> str:
    """Text with names in double backquotes shown as code."""
    return _NAME.sub(r"<code>\1</code>", escape(text))


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
