"""POST /v1/assessments and its batch."""

from __future__ import annotations

from contextlib import suppress
from http import HTTPStatus
from typing import Any, Final

from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import Response

from api.access import needs
from api.assessing import assess_bytes
from api.batch import MEDIA_TYPES, BatchAnswer
from api.bodies import read_body, require_media_type
from api.examples import EXAMPLES, answer_to
from api.limits import Limits
from api.openapi import JSON, REQUEST_ID_HEADER, answer, example_problem, media, problems
from api.queries import flag, known_only
from api.schemas import BatchAnswerLine, reference
from fitcheck.assessment import Assessment
from fitcheck.errors import BadInput
from fitcheck.explanation import ExplainedAssessment
from fitcheck.fitting import Fitting
from rules import Rulebook

__all__ = ["add_assessments", "show_answers"]

TAG: Final = "assessments"
_ONE: Final = """Send what was observed of one shod foot; the answer is its assessment: the decision, every finding with
the limit that it passed, how sure it is, what to do in working order, what conforms, what was not assessed and what is
still needed.

Leave out what was not observed: it is reported as not assessed and never taken as good. A reading is a plain number
(mm, or the quantity's own unit), or an object with value, unit, u and method; for the width of a branch also a word of
the eye. Every field, with its range and how to measure it, stands under Fitting.

The answer is 200 for every decision, also for stop_and_refer: read decision. Nothing is kept; keep=false says so.

With explain=true the answer has explanation besides: for each criterion the readings, the limits on each and why they
apply, what fired, what stayed silent and by how much, and how the decision comes."""
_MANY: Final = """NDJSON in, NDJSON out: one fitting to a line, one answer line for each line that is not blank, in the
same order. An answer line has the number of its line and either assessment or problem; a bad line spoils only itself.
The answer is 200 as soon as the batch is accepted, so look at each line.

Answers come while the request is still being sent. Read them as you send if you can; a batch that is sent whole before
the answer is read is set aside on disk. A batch whose answer breaks off before its last line was cut short: send the
rest again."""


def add_assessments(app: FastAPI, book: Rulebook, limits: Limits) -> None:
    """Add the routes that assess by ``book``."""

    @needs("assess")
    async def assess_one(request: Request) -> Response:
        known_only(request, ("keep", "explain"))
        flag(request, "keep", default=True)
        explained = flag(request, "explain", default=False)
        require_media_type(request, JSON)
        assessment = assess_bytes(await read_body(request, limits.body), book, explained=explained)
        return _answered(assessment)

    @needs("assess")
    async def assess_many(request: Request) -> Response:
        known_only(request)
        require_media_type(request, *MEDIA_TYPES)
        return BatchAnswer(book, limits)

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
            HTTPStatus.OK.value: answer(
                "The assessment; with explain=true, the assessment and its explanation.",
                media(Assessment, None, JSON, ExplainedAssessment),
            ),
            **problems(
                "bad-json", "bad-query", "body-too-large", "unsupported-media-type", "bad-input", "not-assessed"
            ),
        },
        openapi_extra={
            "parameters": [
                {
                    "name": "keep",
                    "in": "query",
                    "required": False,
                    "description": "Whether to keep the assessment. For now it is assessed only, either way.",
                    "schema": {"type": "boolean", "default": True},
                },
                {
                    "name": "explain",
                    "in": "query",
                    "required": False,
                    "description": "Whether to say why: each reading against each limit on it, what fired, what stayed "
                    "silent and by how much, what does not apply here, and how the decision comes.",
                    "schema": {"type": "boolean", "default": False},
                },
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
                "headers": REQUEST_ID_HEADER,
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
            **problems("bad-query", "unsupported-media-type"),
        },
        openapi_extra={
            "requestBody": {
                "required": True,
                "description": "One fitting to a line; the schema is that of one line.",
                "content": {MEDIA_TYPES[0]: {"schema": reference(Fitting)}},
            }
        },
    )


def _answered(assessment: Assessment) -> Response:
    """The assessment as the answer.

    Keeping belongs here: what is kept will be answered with 201 and its Location.
    """
    return Response(assessment.model_dump_json(), media_type=JSON)


def _requests() -> dict[str, Any]:
    return {example.name: {"summary": example.summary, "value": example.fitting} for example in EXAMPLES}


def show_answers(document: dict[str, Any], book: Rulebook) -> None:
    """Put into the OpenAPI document what ``book`` answers to each example that it takes."""
    answered = document["paths"]["/v1/assessments"]["post"]["responses"]["200"]["content"][JSON]
    examples = answered["examples"] = {}
    for example in EXAMPLES:
        # A book with narrower ranges may not take it.
        with suppress(BadInput):
            value = answer_to(example, book).model_dump(mode="json")
            examples[example.name] = {"summary": example.summary, "value": value}
