"""What each route declares of itself: what it takes and answers, from which the OpenAPI document is made."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from http import HTTPStatus
from pathlib import Path
from typing import Any, Final
from weakref import WeakKeyDictionary

from fastapi import FastAPI
from pydantic import BaseModel
from pydantic.json_schema import JsonSchemaMode
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from api.http.headers import JSON
from api.http.problem_kinds import KINDS
from api.http.problems import MEDIA_TYPE as PROBLEM
from api.http.problems import FieldProblem, ProblemDetails, ProblemError
from api.http.route_scopes import declared_as
from api.openapi.deprecation import HEADERS as DEPRECATION_HEADERS
from api.openapi.deprecation import Deprecation
from api.parameters.language import LANGUAGE_HEADER
from api.parameters.query import Query, parameter
from rules import Rulebook

__all__ = [
    "ANSWERS",
    "COMPONENT",
    "RECORD_TAG",
    "REPLAYED",
    "Answer",
    "Content",
    "Operation",
    "add_operation",
    "example_problem",
    "header",
    "operation_of",
]

COMPONENT: Final = "#/components/schemas/{model}"
"""Where the document has the schema of a model."""
Examples = Mapping[str, Any] | Callable[[Rulebook], Mapping[str, Any]]
"""Named examples; a function where they depend on the service's rulebook."""
_TEXT: Final[Mapping[str, Any]] = {"type": "string"}


ANSWERS: Final = Path(__file__).with_name("answers.json")
"""Examples of answers, by operation and media type, that ``python -m api.documents.write_examples`` writes."""


_CUT: Final = "One answer, what is long cut"
_PAGE: Final = {"text/html": "<!doctype html>…"}


@cache
def _answers() -> dict[str, Any]:
    written: dict[str, Any] = json.loads(ANSWERS.read_text(encoding="utf-8")) if ANSWERS.exists() else {}
    return written


@dataclass(frozen=True, slots=True)
class Content:
    """What a body consists of: any one of ``models``, or a list of such; plain text where there are none.

    ``as_sent``: an answer that gives back what a client sent, so that it is described as that is taken.
    """

    models: tuple[type[BaseModel], ...] = ()
    media_type: str = JSON
    examples: Examples = field(default_factory=dict)
    listed: bool = False
    as_sent: bool = False

    def document(self, book: Rulebook) -> dict[str, Any]:
        """The content by its media type."""
        references = [{"$ref": COMPONENT.format(model=model.__name__)} for model in self.models] or [dict(_TEXT)]
        schema = references[0] if len(references) == 1 else {"anyOf": references}
        examples = self.examples(book) if callable(self.examples) else self.examples
        shown = {"schema": {"type": "array", "items": schema} if self.listed else schema}
        return {self.media_type: shown | ({"examples": dict(examples)} if examples else {})}


@dataclass(frozen=True, slots=True)
class Answer:
    """A good answer; one without ``content`` has no body.  ``headers`` are those beside X-Request-Id.

    ``asked``: another content, of another media type, that is answered where the query asks for it.
    """

    description: str
    content: Content | None = None
    headers: Mapping[str, Any] = field(default_factory=dict)
    asked: Content | None = None

    @property
    def contents(self) -> tuple[Content, ...]:
        """What the body may be."""
        return tuple(each for each in (self.content, self.asked) if each is not None)

    def document(self, book: Rulebook) -> dict[str, Any]:
        """The answer as the document has it."""
        shown: dict[str, Any] = {"description": self.description, "headers": {**_REQUEST_ID, **self.headers}}
        contents = {name: part for each in self.contents for name, part in each.document(book).items()}
        return shown | {"content": contents} if contents else shown


@dataclass(frozen=True, slots=True, kw_only=True)
class Operation:
    """One route: its ``name`` among the operations, what it takes, what it answers, and what may go wrong.

    ``query`` is what the route reads the query by; None where it does not look at it.  Where ``blank``, an address
    without any query is answered too, with an empty form.  ``problems`` are the kinds that do not follow from query and
    body.
    """

    name: str
    tag: str
    summary: str
    description: str
    answers: Mapping[int, Answer]
    path: tuple[dict[str, Any], ...] = ()
    query: type[Query] | None = None
    blank: bool = False
    headers: tuple[dict[str, Any], ...] = ()
    body: Content | None = None
    body_note: str = ""
    problems: tuple[str, ...] = ()
    deprecation: Deprecation | None = None
    """Where it will go: since when that is told, and when it goes."""
    verb: str | None = None
    """The method where it is another: DELETE, or POST without a body."""

    @property
    def method(self) -> str:
        """POST where there is a body, else GET, unless it says otherwise."""
        return self.verb or ("GET" if self.body is None else "POST")

    @property
    def models(self) -> Iterator[tuple[type[BaseModel], JsonSchemaMode]]:
        """Every model that is taken or answered."""
        if self.body is not None:
            yield from ((model, "validation") for model in self.body.models)
        for answer in self.answers.values():
            for content in answer.contents:
                mode: JsonSchemaMode = "validation" if content.as_sent else "serialization"
                yield from ((model, mode) for model in content.models)

    def document(self, book: Rulebook, refusals: tuple[str, ...]) -> dict[str, Any]:
        """The operation as the document has it; ``refusals``: the problems of a request that is not let in."""
        answers, headers = dict(self.answers), [*self.headers]
        if self.query is not None and "lang" in self.query.names:
            headers.append(LANGUAGE_HEADER)
        found = answers.get(HTTPStatus.OK)
        if self.body is None and found is not None and "ETag" in found.headers:
            headers.append(_IF_NONE_MATCH)
            answers[HTTPStatus.NOT_MODIFIED] = Answer(_NOT_MODIFIED, headers=found.headers)
        parameters = [*self.path, *(self.query.parameters(blank=self.blank) if self.query else ()), *headers]
        responses = {str(int(status)): answer.document(book) for status, answer in answers.items()}
        for content in (response.get("content", {}) for response in responses.values()):
            for media_type, value in (_PAGE | _answers().get(self.name, {})).items():
                if media_type in content:
                    content[media_type].setdefault("examples", {"one": {"summary": _CUT, "value": value}})
        shown: dict[str, Any] = {
            "tags": [self.tag],
            "summary": self.summary,
            "description": self.description,
            "operationId": self.name,
            "responses": dict(sorted((responses | _problems(*self._kinds(), "internal-error", *refusals)).items())),
        }
        if self.deprecation is not None:
            shown["deprecated"] = True
            told = {
                status: response | {"headers": {**response["headers"], **DEPRECATION_HEADERS}}
                for status, response in shown["responses"].items()
            }
            shown["responses"] = told
        if parameters:
            shown["parameters"] = parameters
        if self.body is not None:
            note = {"description": self.body_note} if self.body_note else {}
            shown["requestBody"] = {"required": True, **note, "content": self.body.document(book)}
        return shown

    def _kinds(self) -> Iterator[str]:
        """The kinds of problem that the operation itself may answer with."""
        if self.body is not None:
            yield from ("bad-json", "body-too-large") if self.body.media_type == JSON else ()
            yield "unsupported-media-type"
        if self.query is not None:
            yield "bad-query"
        yield from self.problems


_DECLARED: Final[WeakKeyDictionary[Callable[..., Any], Operation]] = WeakKeyDictionary()


def add_operation(app: FastAPI, path: str, endpoint: Callable[[Request], Any], operation: Operation) -> None:
    """Add the route at ``path`` that ``endpoint`` answers, as ``operation`` declares it."""
    if operation.deprecation is not None:
        endpoint = _deprecated(endpoint, operation.deprecation)
    _DECLARED[endpoint] = operation
    app.add_api_route(path, endpoint, methods=[operation.method], response_class=Response)


def _deprecated(endpoint: Callable[[Request], Any], deprecation: Deprecation) -> Callable[[Request], Any]:
    """``endpoint``, each answer of which says that it will go, problems too."""
    told = deprecation.headers

    async def answering(request: Request) -> Response:
        try:
            response: Response = await endpoint(request)
        except ProblemError as error:
            error.headers = {**(error.headers or {}), **told}
            raise
        link = response.headers.get("link")
        response.headers.update(told | ({"link": f"{link}, {told['link']}"} if link else {}))
        return response

    declared_as(answering, endpoint)
    return answering


def operation_of(route: Route) -> Operation:
    """What ``route`` declares. Raises KeyError where it declares nothing."""
    return _DECLARED[route.endpoint]


def header(description: str, schema: Mapping[str, Any] = _TEXT, **more: Any) -> dict[str, Any]:
    """A header of an answer as the document has it."""
    return {"description": description, "schema": dict(schema), **more}


_REQUEST_ID: Final = {
    "X-Request-Id": header(
        "The request's id: the one that you sent in this header, if it has 1 to 64 letters, digits and "
        "._- and begins with a letter or digit; else a UUID.",
        {"type": "string", "pattern": "^[A-Za-z0-9][A-Za-z0-9._-]{0,63}$"},
    )
}
RECORD_TAG: Final = {"ETag": header("The digest of its record, in quotation marks.")}
REPLAYED: Final = {
    "Idempotency-Replayed": header(
        "true: this is the answer to an earlier request with the same Idempotency-Key; else not there.",
        {"const": "true"},
    )
}
_IF_NONE_MATCH: Final = parameter("header", "If-None-Match", "ETags of what you have.")
_NOT_MODIFIED: Final = "You have it already: it is the one of If-None-Match."


def _problems(*names: str) -> dict[str, dict[str, Any]]:
    """The problems of these kinds by status."""
    by_status: dict[str, list[str]] = {}
    for name in dict.fromkeys(names):
        by_status.setdefault(str(int(KINDS[name].status)), []).append(name)
    return {
        status: {
            "description": " ".join(f"{KINDS[name].title} ({KINDS[name].type})." for name in kinds),
            "headers": _REQUEST_ID,
            "content": {
                PROBLEM: {
                    "schema": {"$ref": COMPONENT.format(model=ProblemDetails.__name__)},
                    "examples": {
                        name: {"summary": KINDS[name].title, "value": example_problem(name)} for name in kinds
                    },
                }
            },
        }
        for status, kinds in by_status.items()
    }


_INSTANCE: Final = "urn:uuid:6f1c2f0e-8a55-4f0e-9a3e-2d1f0c5b7a10"
_FAULTS: Final = {
    "bad-json": FieldProblem(
        field="(document)",
        value=None,
        allowed="one JSON document (RFC 8259)",
        detail="This is not JSON: line 1, column 22. A value belongs here.",
    ),
    "bad-query": FieldProblem(
        field="query.kep",
        value="false",
        allowed="the query parameters keep, explain",
        detail='There is no query parameter "kep" here. Take it out.',
    ),
    "bad-input": FieldProblem(
        field="work",
        value="draft",
        allowed='one of "riding", "harness", "draught"',
        detail='"draft" is not one of the words known here. Did you mean "draught"?',
    ),
}
"""The fault in the example of a problem, by its kind."""
_BEFORE: Final = {"bad-query": "The query of this address is wrong: ", "bad-input": "work: "}


def example_problem(name: str) -> dict[str, Any]:
    """A problem of the kind of that name as it might be answered."""
    kind, fault = KINDS[name], _FAULTS.get(name)
    detail = kind.meaning.split(". ")[0] + "." if fault is None else _BEFORE.get(name, "") + fault.detail
    shown = ProblemDetails(
        type=kind.type,
        title=kind.title,
        status=kind.status,
        detail=detail,
        instance=_INSTANCE,
        errors=() if fault is None else (fault,),
    )
    return shown.model_dump(mode="json")
