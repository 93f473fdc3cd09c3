"""The OpenAPI document breaks no client of release 1.0.0, and the comparing finds every kind of break."""

from __future__ import annotations

import copy
import json
import random
from collections.abc import Iterator
from typing import Any, Final

import pytest

from api.application import create_app
from tests.contract_one.meant import meant_changes
from tests.contract_one.openapi_comparer import breaks_between
from tests.contract_one.released import released_openapi
from tests.support.counts import tries

Path = tuple[str | int, ...]

FIT: Final = ("components", "schemas", "Fit")
NAIL: Final = ("components", "schemas", "Nail")
ANSWER: Final = ("components", "schemas", "Answer")
POST: Final = ("paths", "/fits", "post")
BODY: Final = (*POST, "requestBody")
OK: Final = (*POST, "responses", "200")
DOCUMENT: Final[dict[str, Any]] = {
    "paths": {
        "/fits": {
            "post": {
                "operationId": "fit",
                "security": [{"key": ["assess"]}],
                "parameters": [
                    {"in": "query", "name": "keep", "schema": {"type": "boolean", "default": True}},
                    {"in": "header", "name": "Idempotency-Key", "schema": {"type": "string", "maxLength": 64}},
                ],
                "requestBody": {"content": {"application/json": {"schema": {"$ref": "#/components/schemas/Fit"}}}},
                "responses": {
                    "200": {
                        "headers": {"ETag": {"schema": {"type": "string"}}},
                        "content": {"application/json": {"schema": {"$ref": "#/components/schemas/Answer"}}},
                    },
                    "404": {"content": {"application/problem+json": {"schema": {"type": "object"}}}},
                },
            },
            "get": {"operationId": "fits", "responses": {"200": {}}},
        },
        "/health": {"get": {"operationId": "health", "responses": {"200": {}}}},
    },
    "components": {
        "schemas": {
            "Fit": {
                "type": "object",
                "additionalProperties": False,
                "required": ["stage"],
                "properties": {
                    "stage": {"type": "string", "enum": ["hot_fit", "nailed"]},
                    "width": {
                        "anyOf": [
                            {"type": "number", "minimum": -60, "maximum": 60},
                            {"enum": ["tight", "wide"]},
                            {"type": "null"},
                        ],
                        "default": None,
                    },
                    "form": {"type": "string", "default": "regular"},
                    "visit": {"type": "string", "pattern": "^[a-z]+$"},
                    "nails": {"type": "array", "maxItems": 14, "items": {"$ref": "#/components/schemas/Nail"}},
                    "gaps": {
                        "type": "object",
                        "propertyNames": {"enum": ["toe", "heel"]},
                        "additionalProperties": {"type": "number"},
                    },
                    "point": {"type": "array", "prefixItems": [{"type": "number"}, {"type": "number"}]},
                },
            },
            "Nail": {
                "type": "object",
                "properties": {"hole": {"type": "number"}, "after": {"$ref": "#/components/schemas/Nail"}},
            },
            "Answer": {
                "type": "object",
                "additionalProperties": False,
                "required": ["decision", "confidence"],
                "properties": {
                    "decision": {"type": "string", "enum": ["release", "put_right"]},
                    "confidence": {"type": "number", "minimum": 0, "maximum": 1},
                    "due": {
                        "anyOf": [{"type": "object", "properties": {"days": {"type": "integer"}}}, {"type": "null"}]
                    },
                    "kind": {"const": "fit"},
                    "actions": {"type": "array", "items": {"type": "string"}},
                },
            },
        },
        "securitySchemes": {"key": {"type": "http", "scheme": "bearer"}},
    },
}


def changed(*edits: tuple[Path, Any]) -> dict[str, Any]:
    """The small document with values put at paths; ``...`` removes."""
    document = copy.deepcopy(DOCUMENT)
    for (*parents, last), value in edits:
        here: Any = document
        for step in parents:
            here = here[step]
        if value is ...:
            del here[last]
        else:
            here[last] = value
    return document


def named(*edits: tuple[Path, Any]) -> list[str]:
    return [str(found) for found in breaks_between(DOCUMENT, changed(*edits))]


def test_the_document_of_today_breaks_no_client_of_the_release() -> None:
    found = {str(found) for found in breaks_between(released_openapi(), create_app().openapi())}
    meant = meant_changes("openapi")
    assert found - meant == set()
    assert meant - found == set(), "nothing breaks there any more: take the entry out"
    assert released_openapi()["info"]["version"] == "1.0.0"


@pytest.mark.parametrize(
    ("path", "value", "expected"),
    [
        (("paths", "/health"), ..., "/health: path gone"),
        (("paths", "/fits", "get"), ..., "get /fits: method gone"),
        ((*POST, "operationId"), "assess", "post /fits: operation renamed (fit is assess)"),
        ((*POST, "security"), [{"key": ["admin"]}], "post /fits: security ({'key': ['assess']} is no longer enough)"),
        (("paths", "/fits", "get", "security"), [{"key": []}], "get /fits: security ({} is no longer enough)"),
        (("security",), [{"key": []}], "get /fits: security ({} is no longer enough)"),
        ((*POST, "parameters", 0), ..., "post /fits query keep: parameter gone"),
        ((*POST, "parameters", 0, "in"), "header", "post /fits query keep: parameter gone"),
        ((*POST, "parameters", 0, "required"), True, "post /fits query keep: newly required"),
        ((*POST, "parameters", 0, "schema", "default"), False, "post /fits query keep: default (True is False)"),
        ((*POST, "parameters", 1, "schema", "maxLength"), 8, "post /fits header Idempotency-Key: maxLength (64 is 8)"),
        (BODY, ..., "post /fits body: body gone"),
        ((*BODY, "required"), True, "post /fits body: newly required"),
        ((*BODY, "content"), {"text/csv": {}}, "post /fits body application/json: content type gone"),
        ((*POST, "responses", "404"), ..., "post /fits 404: status gone"),
        ((*OK, "content"), {"text/csv": {}}, "post /fits 200 application/json: content type gone"),
        ((*OK, "headers", "ETag"), ..., "post /fits 200 header etag: header gone"),
        (("components", "securitySchemes", "key"), ..., "securitySchemes key: name gone"),
        ((*FIT, "properties", "width"), ..., "Fit.width: field gone"),
        ((*FIT, "properties", "form", "type"), "number", "Fit.form: type (string is number)"),
        ((*FIT, "properties", "form", "default"), "acute", "Fit.form: default (regular is acute)"),
        ((*FIT, "properties", "form", "default"), ..., "Fit.form: default (regular is None)"),
        ((*FIT, "properties", "form", "enum"), ["regular"], "Fit.form: narrowed to words"),
        ((*FIT, "properties", "form", "pattern"), "^r", "Fit.form: pattern (None is ^r)"),
        ((*FIT, "properties", "visit", "format"), "date", "Fit.visit: format (None is date)"),
        ((*FIT, "properties", "stage", "enum"), ["nailed"], "Fit.stage: word gone (hot_fit)"),
        ((*FIT, "required"), ["stage", "form"], "Fit.form: newly required"),
        ((*FIT, "properties", "width", "anyOf", 2), ..., "Fit.width: no longer taken (null)"),
        ((*FIT, "properties", "width", "anyOf", 1), ..., "Fit.width: no longer taken (string ['tight', 'wide'])"),
        ((*FIT, "properties", "width", "anyOf", 1, "enum"), ["wide"], "Fit.width: word gone (tight)"),
        ((*FIT, "properties", "width", "anyOf", 0, "minimum"), 0, "Fit.width: minimum (-60 is 0)"),
        ((*FIT, "properties", "width", "anyOf", 0, "type"), "integer", "Fit.width: type (number is integer)"),
        ((*FIT, "properties", "nails", "maxItems"), 8, "Fit.nails: maxItems (14 is 8)"),
        ((*FIT, "properties", "nails", "items"), {"type": "string"}, "Nail: type (object is string)"),
        ((*FIT, "properties", "point", "prefixItems"), [{"type": "number"}], "Fit.point: length of the row (2 is 1)"),
        ((*FIT, "properties", "point", "prefixItems", 1, "type"), "string", "Fit.point[1]: type (number is string)"),
        ((*FIT, "properties", "gaps", "propertyNames", "enum"), ["toe"], "Fit.gaps names: word gone (heel)"),
        ((*FIT, "properties", "gaps", "additionalProperties", "maximum"), 9, "Fit.gaps.*: maximum (None is 9)"),
        ((*NAIL, "additionalProperties"), False, "Nail: unknown fields refused"),
        ((*NAIL, "properties", "hole"), ..., "Nail.hole: field gone"),
        ((*NAIL, "properties", "hole", "type"), "integer", "Nail.hole: type (number is integer)"),
        ((*ANSWER, "properties", "due"), ..., "Answer.due: field gone"),
        ((*ANSWER, "properties", "due", "anyOf", 0), ..., "Answer.due: no longer answered (object)"),
        ((*ANSWER, "properties", "due", "anyOf", 0, "properties", "days"), ..., "Answer.due.days: field gone"),
        ((*ANSWER, "properties", "decision", "enum"), ["release"], "Answer.decision: word gone (put_right)"),
        ((*ANSWER, "properties", "decision", "enum"), ..., "Answer.decision: no longer one of the words"),
        ((*ANSWER, "properties", "confidence", "type"), ["number", "null"], "Answer.confidence: newly answered (null)"),
        ((*ANSWER, "properties", "confidence", "maximum"), ..., "Answer.confidence: maximum (1 is None)"),
        ((*ANSWER, "properties", "kind", "const"), "shoe", "Answer.kind: word gone (fit)"),
        ((*ANSWER, "properties", "actions", "items"), ..., "Answer.actions[]: type (string is anything)"),
        ((*ANSWER, "required"), ["decision"], "Answer.confidence: no longer always there"),
        ((*ANSWER, "additionalProperties"), True, "Answer: any field answered"),
    ],
)
def test_each_kind_of_break_is_named(path: Path, value: Any, expected: str) -> None:
    assert expected in named((path, value))


def test_a_renamed_schema_is_named_for_clients_that_are_generated() -> None:
    text = json.dumps(DOCUMENT).replace("schemas/Nail", "schemas/Hole").replace('"Nail": ', '"Hole": ')
    renamed = json.loads(text)
    assert [str(found) for found in breaks_between(DOCUMENT, renamed)] == ["schemas Nail: name gone"]


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("paths", "/more"), {"get": {"operationId": "more", "responses": {"200": {}}}}),
        (("paths", "/health", "head"), {"operationId": "head", "responses": {"200": {}}}),
        ((*POST, "security"), [{"key": ["admin"]}, {"key": ["assess"]}]),
        (
            (*POST, "parameters"),
            [*DOCUMENT["paths"]["/fits"]["post"]["parameters"], {"in": "query", "name": "q", "schema": {}}],
        ),
        ((*POST, "parameters", 1, "name"), "idempotency-key"),
        ((*BODY, "content", "text/csv"), {}),
        ((*POST, "responses", "410"), {}),
        ((*OK, "headers", "Link"), {"schema": {"type": "string"}}),
        ((*FIT, "properties", "external"), {"type": "string"}),
        ((*FIT, "properties", "stage", "enum"), ["dressed", "hot_fit", "nailed"]),
        ((*FIT, "properties", "stage", "description"), "When it was looked at."),
        ((*FIT, "required"), []),
        ((*FIT, "properties", "width", "anyOf", 0, "maximum"), 80),
        ((*FIT, "properties", "width", "anyOf"), [{}]),
        ((*FIT, "properties", "visit", "pattern"), ...),
        ((*FIT, "properties", "nails", "maxItems"), 20),
        ((*FIT, "additionalProperties"), True),
        ((*FIT, "properties", "gaps", "propertyNames"), ...),
        ((*ANSWER, "properties", "next"), {"type": "string"}),
        ((*ANSWER, "required"), ["decision", "confidence", "due"]),
        ((*ANSWER, "properties", "decision", "enum"), ["release", "put_right", "go_on"]),
        ((*ANSWER, "properties", "due", "anyOf", 1), ...),
        ((*ANSWER, "properties", "confidence", "type"), "integer"),
        ((*ANSWER, "properties", "confidence", "maximum"), 0.99),
    ],
)
def test_what_is_added_breaks_nothing(path: Path, value: Any) -> None:
    assert changed((path, value)) != DOCUMENT
    assert named((path, value)) == []


def test_a_reading_that_becomes_a_named_schema_breaks_nothing() -> None:
    width = DOCUMENT["components"]["schemas"]["Fit"]["properties"]["width"]
    assert (
        named(
            ((*FIT, "properties", "width"), {"$ref": "#/components/schemas/Reading"}),
            (("components", "schemas", "Reading"), width),
        )
        == []
    )


@pytest.mark.parametrize("keyword", [{"not": {}}, {"multipleOf": 5}, {"allOf": []}])
def test_a_keyword_that_is_not_compared_is_not_passed_over(keyword: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match=next(iter(keyword))):
        named(((*FIT, "properties", "form"), {"type": "string", **keyword}))


def _removable(value: Any, path: Path) -> Iterator[Path]:
    """Every path, parameter, status, header, content type, field and word of a document."""
    if isinstance(value, dict):
        for key, part in value.items():
            if path and path[-1] in {"paths", "properties", "responses", "headers", "content"}:
                yield (*path, key)
            yield from _removable(part, (*path, key))
    elif isinstance(value, list) and path[-1] in {"parameters", "enum", "anyOf"}:
        for number, part in enumerate(value):
            if path[-1] != "anyOf":
                yield (*path, number)
            yield from _removable(part, (*path, number))


def test_whatever_is_taken_out_of_the_released_document_is_missed() -> None:
    released = released_openapi()
    every = [path for path in _removable(released, ()) if "examples" not in path]
    assert len(every) > 1500
    for *parents, last in random.Random(1).sample(every, tries(12, full=len(every))):
        document = copy.deepcopy(released)
        here: Any = document
        for step in parents:
            here = here[step]
        del here[last]
        assert breaks_between(released, document), (*parents, last)
