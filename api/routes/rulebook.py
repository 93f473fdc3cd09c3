"""GET /v1/rulebook and each of its rules."""

from __future__ import annotations

import difflib
from http import HTTPStatus
from typing import Any, Final

from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import Response

from api.http.headers import JSON
from api.http.problems import ProblemError
from api.http.route_scopes import needs
from api.http.standing_content import StandingContent
from api.openapi.operation import Answer, Content, Operation, add_operation, header
from api.parameters.language import LanguageQuery, book_in, language_headers
from api.parameters.query import parameter
from api.responses.fields import FieldsDocument, fields_document
from api.responses.rulebook import RulebookDocument, RuleView, rule_document, rulebook_document
from fitcheck.errors import Problem
from fitcheck.fitting.strict_json import cut
from rules import Rulebook

__all__ = ["add_rulebook"]

TAG: Final = "rulebook"


def add_rulebook(app: FastAPI, book: Rulebook) -> None:
    """Add the routes that show ``book``."""
    # A rulebook does not change while the service runs.
    wholes = {book.language: _whole_of(book)}

    @needs("read")
    async def show_rulebook(request: Request) -> Response:
        localized = book_in(request, LanguageQuery.of(request).lang, book)
        if localized.language not in wholes:
            wholes[localized.language] = _whole_of(localized)
        headers = dict(language_headers(localized.language)) | {"cache-control": "no-cache"}
        return wholes[localized.language].answer(request, headers)

    @needs("read")
    async def show_rule(request: Request) -> Response:
        localized, rule_id = book_in(request, LanguageQuery.of(request).lang, book), request.path_params["id"]
        try:
            document = rule_document(localized, rule_id).model_dump_json()
            return Response(document, headers=language_headers(localized.language), media_type=JSON)
        except KeyError:
            raise _no_rule(rule_id, book) from None

    @needs("read")
    async def show_fields(request: Request) -> Response:
        localized = book_in(request, LanguageQuery.of(request).lang, book)
        headers = dict(language_headers(localized.language)) | {"cache-control": "no-cache"}
        return StandingContent(fields_document(localized).model_dump_json().encode(), JSON).answer(request, headers)

    add_operation(app, "/v1/rulebook", show_rulebook, _WHOLE)
    add_operation(app, "/v1/fields", show_fields, _FIELDS)
    add_operation(app, "/v1/rulebook/rules/{id}", show_rule, _rule_operation(next(iter(book.rules))))


def _whole_of(book: Rulebook) -> StandingContent:
    return StandingContent(rulebook_document(book).model_dump_json().encode(), JSON)


_TAG: Final = header("A digest of the document in this language, in quotation marks.")
_WHOLE: Final = Operation(
    name="rulebook",
    tag=TAG,
    summary="The rulebook",
    description="Criteria with their quantities, places, units, ranges and words; every rule in short with its limit, "
    "grade, sources and where it applies; sources; cautions; the uncertainties and eye words that readings are taken "
    "with. It is compressed where gzip is accepted.",
    query=LanguageQuery,
    answers={HTTPStatus.OK: Answer("The rulebook.", Content((RulebookDocument,)), headers={"ETag": _TAG})},
)


def _fields_example(book: Rulebook) -> dict[str, Any]:
    document = fields_document(book)
    few = document.model_copy(update={"fields": document.fields[6:8]})
    return {"two": {"summary": "Two of the fields", "value": few.model_dump(mode="json")}}


_FIELDS: Final = Operation(
    name="fields",
    tag=TAG,
    summary="The fields of a fitting",
    description="For each observation that a fitting may have: the path of its field, the quantity as answers name it, "
    "the places, the unit with its code of the Unified Code for Units of Measure (UCUM), the units that it may be "
    "given in, its range and its words, by the service's rulebook. docs/fields.md in the source is the same as a page.",
    query=LanguageQuery,
    answers={
        HTTPStatus.OK: Answer(
            "The table.", Content((FieldsDocument,), examples=_fields_example), headers={"ETag": _TAG}
        )
    },
)


def _rule_operation(example: str) -> Operation:
    return Operation(
        name="rule",
        tag=TAG,
        summary="One rule in full",
        description="Limits, contexts, texts and sources of one rule. Findings name their rule by this id. Words in "
        "braces in the texts are filled in by a finding.",
        path=(parameter("path", "id", "The rule's id, as in /v1/rulebook and in a finding's rule.", example=example),),
        query=LanguageQuery,
        answers={HTTPStatus.OK: Answer("The rule.", Content((RuleView,)))},
        problems=("not-found",),
    )


def _no_rule(rule_id: str, book: Rulebook) -> ProblemError:
    if rule_id in book.off:
        detail = f'The rule "{rule_id}" is switched off in this rulebook: {book.off[rule_id]}'
        fault = Problem("path.id", rule_id, "the id of a rule in GET /v1/rulebook", detail)
        return ProblemError("not-found", detail, [fault])
    close = difflib.get_close_matches(cut(rule_id), [*book.rules, *book.joined], n=1)
    meant = f' Did you mean "{close[0]}"?' if close else ""
    detail = f'There is no rule "{cut(rule_id)}".{meant} GET /v1/rulebook lists all rules.'
    fault = Problem("path.id", cut(rule_id), "the id of a rule in GET /v1/rulebook", detail)
    return ProblemError("not-found", detail, [fault])
