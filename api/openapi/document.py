"""The OpenAPI document: FastAPI's paths, with the schemas, bodies and problems that it does not see by itself."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi
from fastapi.routing import APIRoute
from pydantic import BaseModel

from api.http.headers import JSON
from api.http.problem_kinds import KINDS, Kind
from api.http.problems import MEDIA_TYPE as PROBLEM
from api.http.problems import FieldProblem, ProblemDetails
from api.http.route_scopes import needed_by
from api.openapi.schemas import component_schemas, reference
from fitcheck.records.keys import SCOPES

__all__ = ["REQUEST_ID_HEADER", "answer", "build_document", "example_problem", "media", "problems"]

REQUEST_ID_HEADER: Final = {
    "X-Request-Id": {
        "description": "The request's id: the one that you sent in this header, if it has 1 to 64 letters, digits and "
        "._- and begins with a letter or digit; else a UUID.",
        "schema": {"type": "string", "pattern": "^[A-Za-z0-9][A-Za-z0-9._-]{0,63}$"},
    }
}
_SCHEME: Final = "access_key"
_ACCESS_KEY: Final = {
    "type": "http",
    "scheme": "bearer",
    "description": "An access key, as `fitcheck keys make` prints it. Not needed where the service runs for its own "
    "machine alone and no key was ever made. Scopes: "
    + "; ".join(f"{name}: {what}" for name, what in SCOPES.items())
    + ".",
}
_REFUSALS: Final = ("unauthorized", "forbidden", "cross-origin", "wrong-host", "too-many-requests", "store-unavailable")
_INSTANCE: Final = "urn:uuid:6f1c2f0e-8a55-4f0e-9a3e-2d1f0c5b7a10"
_SHOWN: Final = {
    "bad-json": (
        "This is not JSON: line 1, column 22. A value belongs here.",
        FieldProblem(
            field="(document)",
            value=None,
            allowed="one JSON document (RFC 8259)",
            detail="This is not JSON: line 1, column 22. A value belongs here.",
        ),
    ),
    "bad-query": (
        'The query of this address is wrong: There is no query parameter "kep" here. Take it out.',
        FieldProblem(
            field="query.kep",
            value="false",
            allowed="the query parameters keep, explain",
            detail='There is no query parameter "kep" here. Take it out.',
        ),
    ),
    "bad-input": (
        'work: "draft" is not one of the words known here. Did you mean "draught"?',
        FieldProblem(
            field="work",
            value="draft",
            allowed='one of "riding", "harness", "draught"',
            detail='"draft" is not one of the words known here. Did you mean "draught"?',
        ),
    ),
}


def media(
    model: type[BaseModel], examples: dict[str, Any] | None = None, media_type: str = JSON, *others: type[BaseModel]
) -> dict[str, Any]:
    """Content of one media type that follows the schema of ``model`` or one of ``others``, with named examples."""
    content: dict[str, Any] = {"schema": reference(model)}
    if others:
        content["schema"] = {"anyOf": [reference(each) for each in (model, *others)]}
    if examples:
        content["examples"] = examples
    return {media_type: content}


def answer(description: str, content: dict[str, Any]) -> dict[str, Any]:
    """A good answer."""
    return {"description": description, "headers": REQUEST_ID_HEADER, "content": content}


def problems(*names: str) -> dict[int | str, dict[str, Any]]:
    """The problems of these kinds that an operation may answer with, by status; any may fail with internal-error."""
    by_status: dict[int | str, dict[str, Any]] = {}
    for status in dict.fromkeys(KINDS[name].status for name in (*names, "internal-error")):
        kinds = [KINDS[name] for name in (*names, "internal-error") if KINDS[name].status == status]
        by_status[int(status)] = {
            "description": " ".join(map(_kind_text, kinds)),
            "headers": REQUEST_ID_HEADER,
            "content": media(
                ProblemDetails,
                {kind.name: {"summary": kind.title, "value": example_problem(kind.name)} for kind in kinds},
                PROBLEM,
            ),
        }
    return by_status


def _kind_text(kind: Kind) -> str:
    return f"{kind.title} ({kind.type})."


def example_problem(name: str) -> dict[str, Any]:
    """A problem of the kind of that name as it might be answered."""
    kind = KINDS[name]
    detail, *faults = _SHOWN.get(name, (kind.meaning.split(". ")[0] + ".",))
    shown = ProblemDetails(
        type=kind.type, title=kind.title, status=kind.status, detail=detail, instance=_INSTANCE, errors=tuple(faults)
    )
    return shown.model_dump(mode="json")


def build_document(app: FastAPI, tags: Sequence[dict[str, str]]) -> dict[str, Any]:
    """The whole document."""
    document = get_openapi(
        title=app.title,
        version=app.version,
        summary=app.summary,
        description=app.description,
        routes=app.routes,
        tags=list(tags),
    )
    document["components"] = {"schemas": component_schemas(), "securitySchemes": {_SCHEME: _ACCESS_KEY}}
    for route in app.routes:
        if isinstance(route, APIRoute) and route.include_in_schema:
            for method in route.methods or ():
                _with_scope(document["paths"][route.path_format][method.lower()], needed_by(route))
    for methods in document["paths"].values():
        for operation in methods.values():
            for response in operation["responses"].values():
                _with_nulls(response.get("content", {}).get(PROBLEM, {}).get("examples", {}))
    return document


def _with_scope(operation: dict[str, Any], needed: str | None) -> None:
    """Say which scope the operation needs, and add what is answered to a request that is not let in."""
    operation["security"] = [] if needed is None else [{_SCHEME: [needed]}]
    refusals = ("too-many-requests",) if needed is None else _REFUSALS
    responses = operation["responses"]
    for status, refusal in problems(*refusals).items():
        declared = responses.setdefault(str(status), refusal)
        examples = declared["content"][PROBLEM]["examples"]
        for name, example in refusal["content"][PROBLEM]["examples"].items():
            if name not in examples:
                examples[name] = example
                declared["description"] += f" {_kind_text(KINDS[name])}"
    operation["responses"] = dict(sorted(responses.items()))


def _with_nulls(examples: dict[str, Any]) -> None:
    """Put the problems shown back in whole: FastAPI leaves out every null, and a problem's value may be null."""
    for name, example in examples.items():
        example["value"] = example_problem(name)
