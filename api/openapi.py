"""The OpenAPI document: FastAPI's paths, with the schemas, bodies and problems that it does not see by itself."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi
from pydantic import BaseModel

from api.problem_details import MEDIA_TYPE as PROBLEM
from api.problem_details import FieldProblem, ProblemDetails
from api.problem_kinds import KINDS
from api.schemas import component_schemas, reference

__all__ = ["JSON", "REQUEST_ID_HEADER", "answer", "build_document", "example_problem", "media", "problems"]

JSON = "application/json"
REQUEST_ID_HEADER: Final = {
    "X-Request-Id": {"description": "The request's own id.", "schema": {"type": "string", "format": "uuid"}}
}
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
            "description": " ".join(f"{kind.title} ({kind.type})." for kind in kinds),
            "headers": REQUEST_ID_HEADER,
            "content": media(
                ProblemDetails,
                {kind.name: {"summary": kind.title, "value": example_problem(kind.name)} for kind in kinds},
                PROBLEM,
            ),
        }
    return by_status


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
    document["components"] = {"schemas": component_schemas()}
    for methods in document["paths"].values():
        for operation in methods.values():
            for response in operation["responses"].values():
                _with_nulls(response.get("content", {}).get(PROBLEM, {}).get("examples", {}))
    return document


def _with_nulls(examples: dict[str, Any]) -> None:
    """Put the problems shown back in whole: FastAPI leaves out every null, and a problem's value may be null."""
    for name, example in examples.items():
        example["value"] = example_problem(name)
