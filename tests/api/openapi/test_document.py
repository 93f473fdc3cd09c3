"""The OpenAPI document says what the service does: examples, answers and problems follow its schemas.

The schemas are checked by an independent validator of JSON Schema 2020-12, which is what OpenAPI 3.1 names.
"""

from __future__ import annotations

import importlib
import json
import re
from collections.abc import Callable, Iterator
from typing import Any

import httpx
import pytest
from fastapi import FastAPI
from fastapi.routing import APIRoute

from api.documents.write_examples import written
from api.http.problem_kinds import KINDS
from api.openapi.examples import EXAMPLES
from api.openapi.operation import ANSWERS
from fitcheck.errors import BadInput
from fitcheck.fitting.validation import parse_fitting
from fitcheck.vocabulary import now
from rules import shipped_rulebook

Ask = Callable[..., httpx.Response]
# It has no types of its own.
jsonschema = importlib.import_module("jsonschema")
JSON = {"content-type": "application/json"}
PROBLEM = "application/problem+json"
GOOD = EXAMPLES[0].fitting


@pytest.fixture(scope="module")
def document(ask: Ask) -> dict[str, Any]:
    """The document as a client gets it."""
    whole: dict[str, Any] = ask("GET", "/openapi.json").json()
    return whole


@pytest.fixture(scope="module")
def faults(document: dict[str, Any]) -> Callable[[dict[str, Any], Any], list[str]]:
    """What a value offends against in a schema of the document; nothing where it follows it."""
    validators: dict[str, Any] = {}

    def check(schema: dict[str, Any], value: Any) -> list[str]:
        key = json.dumps(schema)
        if key not in validators:
            validators[key] = jsonschema.Draft202012Validator(schema | {"components": document["components"]})
        validator = validators[key]
        return [f"{'.'.join(map(str, error.path))}: {error.message[:200]}" for error in validator.iter_errors(value)]

    return check


Faults = Callable[[dict[str, Any], Any], list[str]]


def operations(document: dict[str, Any]) -> Iterator[tuple[str, str, dict[str, Any]]]:
    for path, methods in document["paths"].items():
        for method, operation in methods.items():
            yield path, method, operation


def test_every_route_is_described(app: FastAPI, document: dict[str, Any]) -> None:
    routes = {
        (route.path_format, method.lower())
        for route in app.routes
        if isinstance(route, APIRoute)
        for method in route.methods or ()
    }
    described = {(path, method) for path, method, _ in operations(document)}
    # The reference page is where the description is read.
    assert routes - {("/docs", "get")} == described
    for _, _, operation in operations(document):
        assert operation["summary"]
        assert len(operation["description"]) > 40
        assert operation["tags"][0] in {tag["name"] for tag in document["tags"]}
        assert "500" in operation["responses"]
        assert all(each["description"] for each in operation["responses"].values())


def test_every_reference_leads_to_a_schema_and_every_schema_is_used(document: dict[str, Any]) -> None:
    schemas = document["components"]["schemas"]

    def references(part: Any) -> Iterator[str]:
        if isinstance(part, dict):
            if "$ref" in part:
                yield part["$ref"].removeprefix("#/components/schemas/")
            for each in part.values():
                yield from references(each)
        elif isinstance(part, list):
            for each in part:
                yield from references(each)

    assert set(references(document)) == set(schemas)
    for name, schema in schemas.items():
        jsonschema.Draft202012Validator.check_schema(schema)
        assert schema["description"], name


def test_each_example_follows_the_schema_that_it_stands_beside(document: dict[str, Any], faults: Faults) -> None:
    seen = 0
    for _, _, operation in operations(document):
        for part in (operation.get("requestBody", {}), *operation["responses"].values()):
            for content in part.get("content", {}).values():
                for example in content.get("examples", {}).values():
                    assert faults(content["schema"], example["value"]) == []
                    seen += 1
    assert seen > 20


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example.name)
@pytest.mark.parametrize("query", ["", "?keep=false"])
def test_each_example_posted_gets_the_answer_shown_and_declared(
    ask: Ask, document: dict[str, Any], faults: Faults, example: Any, query: str
) -> None:
    operation = document["paths"]["/v1/assessments"]["post"]
    shown = operation["requestBody"]["content"]["application/json"]["examples"][example.name]["value"]
    status = 201 if query == "" else 200
    declared = operation["responses"][str(status)]["content"]["application/json"]
    response = ask("POST", f"/v1/assessments{query}", json=shown)
    assert response.status_code == status
    assert faults(declared["schema"], response.json()) == []
    same = {"id": "", "created": ""}
    assert response.json() | same == declared["examples"][example.name]["value"] | same


def test_each_demo_case_and_its_answer_follow_the_schemas(
    ask: Ask, document: dict[str, Any], faults: Faults, root: Any
) -> None:
    cases = [path for path in sorted((root / "cases_demo").glob("*.json")) if not path.name.endswith(".answer.json")]
    assert len(cases) > 5
    schemas = document["components"]["schemas"]
    for path in cases:
        fitting = json.loads(path.read_text(encoding="utf-8"))
        assert faults(schemas["Fitting"], fitting) == []
        assert faults(schemas["Assessment"], ask("POST", "/v1/assessments", json=fitting).json()) == []


def test_what_the_schema_refuses_the_service_refuses_too(
    document: dict[str, Any], faults: Faults, good: dict[str, Any]
) -> None:
    """The schema may not be stricter than the service: a client that checks beforehand must not be held up."""
    values: list[Any] = [
        None,
        True,
        0,
        -1,
        1.5,
        200,
        1e9,
        "",
        "x",
        "tight",
        "none",
        [],
        [[0, 1]],
        {},
        {"value": 1},
        {"value": "1/8"},
    ]
    values += [{"value": "1/8", "unit": "in"}, {"value": 1, "unit": "cm", "u": 0.1}, {"value": 1, "method": "eye"}]

    def places(part: Any, path: tuple[Any, ...]) -> Iterator[tuple[Any, ...]]:
        yield path
        each = part.items() if isinstance(part, dict) else enumerate(part) if isinstance(part, list) else ()
        for key, inner in each:
            yield from places(inner, (*path, key))

    # All nails are alike to a schema.
    del good["observations"]["nails"][1:]
    taken = refused = 0
    for path in list(places(good, ()))[1:]:
        here = good
        for step in path[:-1]:
            here = here[step]
        kept = here[path[-1]]
        for value in values:
            here[path[-1]] = value
            schema_takes = not faults(document["components"]["schemas"]["Fitting"], good)
            try:
                parse_fitting(good)
            except BadInput:
                refused += 1
            else:
                assert schema_takes, (path, value)
                taken += 1
        here[path[-1]] = kept
    assert taken > 100
    assert refused > 500


@pytest.mark.parametrize(
    ("method", "path", "request_", "kind"),
    [
        ("POST", "/v1/assessments", {"content": "{", "headers": JSON}, "bad-json"),
        ("POST", "/v1/assessments?x=1", {"json": {}}, "bad-query"),
        ("POST", "/v1/assessments", {"content": b" " * 1_100_000, "headers": JSON}, "body-too-large"),
        ("POST", "/v1/assessments", {"content": "{}"}, "unsupported-media-type"),
        ("POST", "/v1/assessments", {"json": {"foot": [1], "fot": {"a": 1}, "hot_fitted": 2.5}}, "bad-input"),
        ("POST", "/v1/assessments/batch?x=1", {"content": "{}"}, "bad-query"),
        ("POST", "/v1/assessments/batch", {"content": "{}"}, "unsupported-media-type"),
        ("GET", "/v1/rulebook?x=1", {}, "bad-query"),
        ("GET", "/v1/rulebook/rules/x", {}, "not-found"),
        ("GET", "/problems/x", {}, "not-found"),
        ("POST", "/v1/assessments", {"json": {}, "headers": {"idempotency-key": ""}}, "bad-idempotency-key"),
        ("POST", "/v1/assessments?corrects=x", {"json": {}}, "unknown-correction"),
        ("POST", "/v1/assessments/batch?keep=true", {"headers": {"idempotency-key": "k"}}, "bad-idempotency-key"),
        ("GET", "/v1/assessments?limit=0", {}, "bad-query"),
        ("GET", "/v1/assessments/x", {}, "not-found"),
        ("GET", "/v1/assessments/x?y=1", {}, "bad-query"),
        ("GET", "/v1/visits/x", {}, "not-found"),
        ("GET", "/v1/visits/x?y=1", {}, "bad-query"),
        ("GET", "/v1/assessments/x/drawing.svg", {}, "not-found"),
        ("GET", "/v1/assessments/x/report.html?y=1", {}, "bad-query"),
        ("GET", "/v1/assessments/x/marks", {}, "not-found"),
        ("GET", "/v1/assessments/x/overrides", {}, "not-found"),
        ("POST", "/v1/assessments/x/overrides", {"json": {}}, "bad-override"),
        ("POST", "/v1/assessments/x/overrides", {"content": "{", "headers": JSON}, "bad-json"),
        ("GET", "/v1/visits/x/report.html", {}, "not-found"),
        ("GET", "/v1/visits/x/marks?y=1", {}, "bad-query"),
        ("GET", "/v1/people/x/progress", {}, "not-found"),
        ("GET", "/v1/agreement", {}, "bad-query"),
        ("GET", "/v1/people/x/progress/marks.svg?from=x", {}, "bad-query"),
    ],
)
def test_each_problem_is_declared_where_it_arises_and_follows_its_schema(
    ask: Ask, document: dict[str, Any], faults: Faults, method: str, path: str, request_: dict[str, Any], kind: str
) -> None:
    response = ask(method, path, **request_)
    bare = path.split("?", maxsplit=1)[0]
    named = {"rules": "{id}", "problems": "{name}", "assessments": "{id}", "visits": "{visit}", "people": "{person}"}
    template = re.sub(r"/(\w+)/x(?=/|$)", lambda found: f"/{found[1]}/{named[found[1]]}", bare)
    declared = document["paths"][template][method.lower()]["responses"][str(response.status_code)]
    assert f"(/problems/{kind})" in declared["description"]
    assert response.json()["type"] == KINDS[kind].type
    assert faults(declared["content"][PROBLEM]["schema"], response.json()) == []


@pytest.mark.parametrize("query", ["", "?keep=true"])
def test_the_lines_of_a_batch_follow_their_schema(
    ask: Ask, document: dict[str, Any], faults: Faults, query: str
) -> None:
    declared = document["paths"]["/v1/assessments/batch"]["post"]["responses"]["200"]["content"]["application/x-ndjson"]
    body = "\n".join([*(json.dumps(example.fitting) for example in EXAMPLES), "{", "{}"])
    response = ask(
        "POST", f"/v1/assessments/batch{query}", content=body, headers={"content-type": "application/x-ndjson"}
    )
    lines = [json.loads(line) for line in response.text.splitlines()]
    assert len(lines) == len(EXAMPLES) + 2
    for line in lines:
        assert faults(declared["schema"], line) == []


def test_the_rulebook_its_rules_and_the_health_follow_their_schemas(
    ask: Ask, document: dict[str, Any], faults: Faults
) -> None:
    book = shipped_rulebook()
    for path, template in [
        ("/v1/rulebook", "/v1/rulebook"),
        ("/healthz", "/healthz"),
        ("/readyz", "/readyz"),
        *((f"/v1/rulebook/rules/{rule}", "/v1/rulebook/rules/{id}") for rule in (*book.rules, *book.joined)),
    ]:
        declared = document["paths"][template]["get"]["responses"]["200"]["content"]["application/json"]
        assert faults(declared["schema"], ask("GET", path).json()) == []


def test_what_was_kept_its_list_and_its_visit_follow_their_schemas(
    ask: Ask, document: dict[str, Any], faults: Faults
) -> None:
    made = [
        ask("POST", "/v1/assessments?explain=true", json=GOOD | {"visit": "followed", "foot": foot}).json()
        for foot in ("left_fore", "right_fore", "left_hind")
    ]
    ask("POST", f"/v1/assessments?corrects={made[0]['id']}", json=GOOD | {"visit": "followed"})
    for path, template in [
        *((f"/v1/assessments/{each['id']}", "/v1/assessments/{id}") for each in made),
        ("/v1/assessments", "/v1/assessments"),
        ("/v1/assessments?visit=followed&limit=1", "/v1/assessments"),
        ("/v1/assessments?visit=nowhere", "/v1/assessments"),
        ("/v1/visits/followed", "/v1/visits/{visit}"),
    ]:
        declared = document["paths"][template]["get"]["responses"]["200"]
        response = ask("GET", path)
        assert faults(declared["content"]["application/json"]["schema"], response.json()) == []
        # Every header that is not on all answers is declared.
        told = {name.title() for name in response.headers} & {"Etag", "Link", "Location", "Idempotency-Replayed"}
        assert told <= {name.title() for name in declared["headers"]}


def test_every_operation_has_an_example_of_all_that_it_takes_and_answers(document: dict[str, Any]) -> None:
    missing = []
    for path, method, operation in operations(document):
        name = f"{method} {path}"
        bodies = [("body", operation.get("requestBody", {}))]
        bodies += [(status, each) for status, each in operation["responses"].items()]
        for where, part in bodies:
            missing += [f"{name} {where}" for each in part.get("content", {}).values() if not each.get("examples")]
        for each in operation.get("parameters", ()):
            if each["in"] == "path" and "example" not in each:
                missing.append(f"{name} {each['name']}")
    assert missing == []


def test_the_written_examples_are_those_of_the_service_of_today() -> None:
    of_today = written()
    assert of_today == ANSWERS.read_text(encoding="utf-8"), "run .ci/refresh"
    assert now()[:10] not in of_today, "an answer says what day it is, and will be another tomorrow"
