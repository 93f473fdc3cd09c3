"""POST /v1/assessments and its batch."""

from __future__ import annotations

from contextlib import suppress
from http import HTTPStatus
from typing import Any, Final

from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import Response

from api.assessing import StoringAssessor, assess_bytes, query_of
from api.http.bodies import read_body, require_media_type
from api.http.headers import JSON
from api.http.limits import Limits
from api.http.problems import WRITING
from api.http.route_scopes import needs
from api.openapi.document import REQUEST_ID_HEADER, answer, example_problem, media, problems
from api.openapi.examples import EXAMPLES, answer_to
from api.openapi.schemas import BatchAnswerLine, KeyedFitting, reference
from api.parameters.idempotency import idempotency_of, refuse_key
from api.parameters.language import CONTENT_LANGUAGE, LANG, LANGUAGE_PARAMETERS, book_in, language_headers
from api.parameters.query import flag, known_only, refuse
from api.routes.batch import MEDIA_TYPES, BatchAnswer
from api.store import AsyncStore
from fitcheck.assessment.models import Assessment
from fitcheck.errors import BadInput
from fitcheck.explanation.models import ExplainedAssessment
from fitcheck.fitting.models import Fitting
from fitcheck.records import Idempotency
from rules import Rulebook

__all__ = ["add_assessments", "show_answers"]

TAG: Final = "assessments"
_CORRECTS_NOTHING: Final = "With keep=false nothing is kept, so nothing is corrected. Leave one of the two out."
_ONE: Final = """Send what was observed of one shod foot; the answer is its assessment: the decision, every finding
with the limit that it passed, how sure it is, what to do in working order, what conforms, what was not assessed and
what is still needed.

Leave out what was not observed: it is reported as not assessed and never taken as good. A reading is a plain number
(mm, or the quantity's own unit), or an object with value, unit, u and method; for the width of a branch also a word
of the eye. Every field, with its range and how to measure it, stands under Fitting.

The answer is good for every decision, also for stop_and_refer: read decision. The assessment is kept, with the body
just as it was sent, and the answer is 201 with its address in Location; with keep=false nothing is kept and the
answer is 200. Nothing is kept of what cannot be assessed.

Send an Idempotency-Key, such as a random UUID, and a request that is sent again keeps nothing twice, also long after
and to another server process: it is answered just as it was the first time, with Idempotency-Replayed: true. That
needs the very same body and query; a key that comes with others is an error. Each access key has its own
Idempotency-Keys. With keep=false the header has no meaning.

A visit is of one horse: a fitting that names another one than was kept under its visit is not kept
(visit-of-another-horse).

A kept assessment is never changed. To put one right, send the whole fitting anew with corrects and the old one's id:
the old one then counts no more, and each leads to the other. It must be of the same foot and the same horse; a horse
may be added where none was named, and the visit may be another. What was corrected once is not corrected again
(already-corrected): correct the correction. With If-Match, which takes the ETag or the id of what is corrected, in
quotation marks, nothing is corrected but what it names.

The texts are in the language of lang, or else of Accept-Language, and an assessment is kept in the language in which
it was answered; where that is not the rulebook's own, language says so. Decisions and numbers are the same in each.
What is wrong with a fitting is told in English.

With explain=true the answer has explanation besides: for each criterion the readings, the limits on each and why
they apply, what fired, what stayed silent and by how much, and how the decision comes. The explanation is not kept,
only the assessment without it."""
_MANY: Final = """NDJSON in, NDJSON out: one fitting to a line, one answer line for each line that is not blank, in
the same order. An answer line has the number of its line and either assessment or problem; a bad line spoils only
itself. The answer is 200 as soon as the batch is accepted, so look at each line.

Instead of a fitting a line may be an object with a key of your own and the fitting: {"key": "…", "fitting": {…}}. The
fields of its problems are those of the fitting.

Answers come while the request is still being sent. Read them as you send if you can; a batch that is sent whole
before the answer is read is set aside on disk. A batch whose answer breaks off before its last line was cut short:
send it again, all of it where its lines have keys. Without keys send the rest; of what was kept, the last answers may
be missing, so look them up first, by visit or person.

Nothing is kept unless keep=true is asked for. Each answer line then has location, and is sent when its assessment
has been kept; they are kept some at a time, in their order. A line's key is what Idempotency-Key is for a single
fitting: a line that comes again with the same key and the same fitting, byte for byte, in this batch, in another or
by itself, keeps nothing twice and has the answer that was kept, with replayed; with another fitting it is that
line's problem (key-reused). The header Idempotency-Key is refused."""


def add_assessments(app: FastAPI, book: Rulebook, limits: Limits, async_store: AsyncStore) -> None:
    """Add the routes that assess by ``book`` and keep in ``async_store``."""
    assessor = StoringAssessor(async_store, book)

    @needs("assess")
    async def assess_one(request: Request) -> Response:
        known_only(request, ("keep", "explain", "corrects", LANG))
        keep = flag(request, "keep", default=True)
        explained = flag(request, "explain", default=False)
        if not keep and "corrects" in request.query_params:
            refuse("corrects", request.query_params["corrects"], "nothing with keep=false", _CORRECTS_NOTHING)
        require_media_type(request, JSON)
        localized = book_in(request, book)
        raw = await read_body(request, limits.body)
        if keep:
            return await assessor.answer(request, raw, localized, explained=explained)
        _, assessment = assess_bytes(raw, localized, explained=explained)
        return Response(assessment.model_dump_json(), headers=language_headers(localized.language), media_type=JSON)

    @needs("assess")
    async def assess_many(request: Request) -> Response:
        known_only(request, ("keep", LANG))
        keep = flag(request, "keep", default=False)
        if keep:
            refuse_key(request, 'A batch takes none. Give each line its own: {"key": …, "fitting": {…}}.')
        require_media_type(request, *MEDIA_TYPES)

        def idempotency(key: str, raw: bytes) -> Idempotency:
            return idempotency_of(request, key, raw, query_of(request))

        return BatchAnswer(book_in(request, book), limits, async_store if keep else None, idempotency)

    app.add_api_route(
        "/v1/assessments",
        assess_one,
        methods=["POST"],
        operation_id="assess",
        tags=[TAG],
        summary="Assess one fitting",
        description=_ONE,
        response_class=Response,
        responses={
            HTTPStatus.OK.value: {
                **answer(
                    "With keep=false: the assessment; with explain=true, the assessment and its explanation.",
                    media(Assessment, None, JSON, ExplainedAssessment),
                ),
                "headers": {**REQUEST_ID_HEADER, **CONTENT_LANGUAGE},
            },
            HTTPStatus.CREATED.value: {
                **answer(
                    "The assessment, which was kept; with explain=true, the assessment and its explanation.",
                    media(Assessment, None, JSON, ExplainedAssessment),
                ),
                "headers": {**REQUEST_ID_HEADER, **_STORED_HEADERS, **CONTENT_LANGUAGE},
            },
            **problems(
                "bad-json",
                "bad-query",
                "bad-idempotency-key",
                "body-too-large",
                "unsupported-media-type",
                "bad-input",
                "key-reused",
                "unknown-correction",
                "correction-of-another",
                "already-corrected",
                "visit-of-another-horse",
                "precondition-failed",
                "cannot-explain",
                "not-assessed",
                *WRITING,
            ),
        },
        openapi_extra={
            "parameters": [
                {
                    "name": "keep",
                    "in": "query",
                    "required": False,
                    "description": "Whether to keep the assessment; with false it is assessed only.",
                    "schema": {"type": "boolean", "default": True},
                },
                {
                    "name": "corrects",
                    "in": "query",
                    "required": False,
                    "description": "The id of the kept assessment that this one replaces; not with keep=false.",
                    "schema": {"type": "string", "minLength": 1, "maxLength": 64},
                },
                {
                    "name": "Idempotency-Key",
                    "in": "header",
                    "required": False,
                    "description": "Your own name for this request, so that sending it again keeps nothing twice: 1 to "
                    "255 visible ASCII characters, such as a random UUID.",
                    "schema": {"type": "string", "minLength": 1, "maxLength": 255, "pattern": "^[!-~]+$"},
                },
                {
                    "name": "If-Match",
                    "in": "header",
                    "required": False,
                    "description": "The ETag or the id of what corrects names, in quotation marks; with another, "
                    "nothing is kept.",
                    "schema": {"type": "string"},
                },
                {
                    "name": "explain",
                    "in": "query",
                    "required": False,
                    "description": "Whether to say why: each reading against each limit on it, what fired, what stayed "
                    "silent and by how much, what does not apply here, and how the decision comes.",
                    "schema": {"type": "boolean", "default": False},
                },
                *LANGUAGE_PARAMETERS,
            ],
            "requestBody": {"required": True, "content": media(Fitting, _requests())},
        },
    )
    app.add_api_route(
        "/v1/assessments/batch",
        assess_many,
        methods=["POST"],
        operation_id="assess_batch",
        tags=[TAG],
        summary="Assess many fittings",
        description=_MANY,
        response_class=Response,
        responses={
            HTTPStatus.OK.value: {
                "description": "One JSON object to a line, as described by the schema.",
                "headers": {**REQUEST_ID_HEADER, **CONTENT_LANGUAGE},
                "content": media(
                    BatchAnswerLine,
                    {
                        "bad_line": {
                            "summary": "A bad line",
                            "value": {"line": 3, "problem": example_problem("bad-input")},
                        }
                    },
                    MEDIA_TYPES[0],
                ),
            },
            **problems("bad-query", "bad-idempotency-key", "unsupported-media-type"),
        },
        openapi_extra={
            "parameters": [
                {
                    "name": "keep",
                    "in": "query",
                    "required": False,
                    "description": "Whether to keep each line's assessment.",
                    "schema": {"type": "boolean", "default": False},
                },
                *LANGUAGE_PARAMETERS,
            ],
            "requestBody": {
                "required": True,
                "description": "One fitting to a line, with a key or without; the schema is that of one line.",
                "content": {MEDIA_TYPES[0]: {"schema": {"anyOf": [reference(Fitting), reference(KeyedFitting)]}}},
            },
        },
    )


_STORED_HEADERS: Final = {
    "Location": {"description": "Where the assessment is kept.", "schema": {"type": "string"}},
    "ETag": {"description": "The digest of its record, in quotation marks.", "schema": {"type": "string"}},
    "Idempotency-Replayed": {
        "description": "true: this is the answer to an earlier request with the same Idempotency-Key; else not there.",
        "schema": {"const": "true"},
    },
}


def _requests() -> dict[str, Any]:
    return {example.name: {"summary": example.summary, "value": example.fitting} for example in EXAMPLES}


def show_answers(document: dict[str, Any], book: Rulebook) -> None:
    """Put into the OpenAPI document what ``book`` answers to each example that it takes."""
    responses = document["paths"]["/v1/assessments"]["post"]["responses"]
    examples: dict[str, Any] = {}
    for status in (HTTPStatus.OK, HTTPStatus.CREATED):
        responses[str(int(status))]["content"][JSON]["examples"] = examples
    for example in EXAMPLES:
        # A book with narrower ranges may not take it.
        with suppress(BadInput):
            value = answer_to(example, book).model_dump(mode="json")
            examples[example.name] = {"summary": example.summary, "value": value}
