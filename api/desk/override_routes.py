"""POST and GET /v1/assessments/{id}/overrides."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any, Final

from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import Response

from api.access import needs
from api.bodies import read_body, require_media_type
from api.desk.kept import ASSESSMENT_ID
from api.desk.override_models import KeptOverrides
from api.desk.overrides import Overriding, overrides_listed, the_override
from api.keeping import etag_of
from api.kept_list import LIST
from api.kept_record import has_already
from api.kept_routes import EXAMPLE_ID
from api.kept_store import KeptStore
from api.limits import Limits
from api.openapi import JSON, REQUEST_ID_HEADER, answer, media, problems
from api.queries import known_only
from api.store_problems import READING, WRITING
from fitcheck.marking.overrides import Override, OverrideAsked
from rules import Rulebook

__all__ = ["MARKS_TAG", "add_overrides"]

MARKS_TAG: Final = "marks"
_TOLD: Final = """An override changes marks and nothing else: the assessment stays as it was answered, and so does its
decision. A critical finding that is struck or regraded still stops the foot.

Each change names its reason. strike: the finding does not count; regrade: it counts under another grade; add: one
that the tool does not have, as rule@place of a rule in GET /v1/rulebook; set_mark: the criterion has this mark,
whatever was found. Changes are made in the order in which they were kept, and each must fit what counts by then.

It is kept beside the assessment with its own number in the chain, bears the names of the assessment and of the
assessor who made it, and is erased with any of these people. Idempotency-Key works as for assessments."""


def add_overrides(app: FastAPI, kept: KeptStore, book: Rulebook, limits: Limits) -> None:
    """Add the routes that keep overrides in ``kept`` and show them; ``book`` marks."""
    overriding = Overriding(kept, book)

    @needs("assess")
    async def override(request: Request) -> Response:
        known_only(request)
        require_media_type(request, JSON)
        return await overriding.answer(request, request.path_params["id"], await read_body(request, limits.body))

    @needs("read")
    async def show_all(request: Request) -> Response:
        known_only(request)
        id_ = request.path_params["id"]
        found = await kept.read(lambda store: overrides_listed(store, id_))
        return Response(found.model_dump_json(), media_type=JSON)

    @needs("read")
    async def show_one(request: Request) -> Response:
        known_only(request)
        id_, name = request.path_params["id"], request.path_params["override"]
        record = await kept.read(lambda store: the_override(store, id_, name))
        headers = {"etag": etag_of(record)}
        if has_already(request, headers["etag"]):
            return Response(status_code=HTTPStatus.NOT_MODIFIED, headers=headers)
        return Response(record.answer, headers=headers, media_type=JSON)

    path = f"{LIST}/{{id:assessment}}/overrides"
    app.add_api_route(
        path,
        override,
        methods=["POST"],
        operation_id="override",
        tags=[MARKS_TAG],
        summary="Mark a foot otherwise than the tool",
        description=_TOLD,
        response_class=Response,
        responses={
            HTTPStatus.CREATED.value: {
                **answer("The override, which was kept.", media(Override)),
                "headers": {**REQUEST_ID_HEADER, **_ETAG, **_LOCATION},
            },
            **problems(
                "bad-json",
                "bad-query",
                "bad-idempotency-key",
                "body-too-large",
                "unsupported-media-type",
                "bad-override",
                "key-reused",
                "not-found",
                "gone",
                "cannot-show",
                "cannot-mark",
                "too-many-overrides",
                *WRITING,
            ),
        },
        openapi_extra={
            "parameters": [ASSESSMENT_ID, _KEY],
            "requestBody": {"required": True, "content": media(OverrideAsked, _EXAMPLES)},
        },
    )
    app.add_api_route(
        path,
        show_all,
        methods=["GET"],
        operation_id="overrides",
        tags=[MARKS_TAG],
        summary="The overrides of one assessment",
        description="Every override that was kept of the assessment, in the order of keeping, as it was answered.",
        response_class=Response,
        responses={
            HTTPStatus.OK.value: answer("The overrides.", media(KeptOverrides)),
            **problems("bad-query", "not-found", "gone", "cannot-show", *READING),
        },
        openapi_extra={"parameters": [ASSESSMENT_ID]},
    )
    app.add_api_route(
        f"{path}/{{override}}",
        show_one,
        methods=["GET"],
        operation_id="one_override",
        tags=[MARKS_TAG],
        summary="One override",
        description="The override exactly as it was answered when it was kept, byte for byte. It never changes.",
        response_class=Response,
        responses={
            HTTPStatus.OK.value: {
                **answer("The override.", media(Override)),
                "headers": {**REQUEST_ID_HEADER, **_ETAG},
            },
            HTTPStatus.NOT_MODIFIED.value: {
                "description": "You have it already: it is the one of If-None-Match.",
                "headers": {**REQUEST_ID_HEADER, **_ETAG},
            },
            **problems("bad-query", "not-found", "gone", *READING),
        },
        openapi_extra={
            "parameters": [
                ASSESSMENT_ID,
                {
                    "name": "override",
                    "in": "path",
                    "required": True,
                    "description": "The override's id.",
                    "schema": {"type": "string"},
                },
            ]
        },
    )


_ETAG: Final = {
    "ETag": {"description": "The digest of its record, in quotation marks.", "schema": {"type": "string"}},
}
_LOCATION: Final = {
    "Location": {"description": "Where the override is kept.", "schema": {"type": "string"}},
    "Idempotency-Replayed": {
        "description": "true: this is the answer to an earlier request with the same Idempotency-Key; else not there.",
        "schema": {"const": "true"},
    },
}
_KEY: Final[dict[str, Any]] = {
    "name": "Idempotency-Key",
    "in": "header",
    "required": False,
    "description": "Your own name for this request, so that sending it again keeps nothing twice.",
    "schema": {"type": "string", "minLength": 1, "maxLength": 255, "pattern": "^[!-~]+$"},
}
_EXAMPLES: Final[dict[str, Any]] = {
    "two_changes": {
        "summary": "A finding that does not count, and a mark",
        "value": {
            "about": EXAMPLE_ID,
            "assessor": {"id": "S-1"},
            "changes": [
                {
                    "what": "strike",
                    "finding": "heel-width-close@medial_heel",
                    "reason": "The rule slipped; it is 2 mm.",
                },
                {
                    "what": "set_mark",
                    "criterion": "finish",
                    "mark": 4.5,
                    "reason": "Rasp marks along the lateral wall.",
                },
            ],
        },
    }
}
