"""The OpenAPI document: what the routes declare, the schemas behind it, and what to know before a first request."""

from __future__ import annotations

from typing import Any, Final

from fastapi import FastAPI
from fastapi.routing import APIRoute
from pydantic import BaseModel
from pydantic.json_schema import JsonSchemaMode, models_json_schema

from api.http.problems import ProblemDetails
from api.http.route_scopes import needed_by
from api.openapi.operation import COMPONENT, operation_of
from fitcheck.records.keys import SCOPES
from rules import Rulebook

__all__ = ["GUIDE", "build_document"]

# Paragraphs are parted by blank lines; a paragraph whose lines are indented is shown as it stands.
GUIDE: Final = """\
fitcheck takes structured observations of one fitted horseshoe, checks them against a rulebook whose every limit names
its source, and answers with graded findings, how sure each one is, what to do in working order, and cautions. It does
not see the horse and it never diagnoses. Show the cautions with the findings: they are part of the answer.

First request, with the example all_is_well saved as foot.json:

    curl -s -H 'content-type: application/json' --data-binary @foot.json 'http://127.0.0.1:8750/v1/assessments?keep=false'

Required are foot, stage, work and observations. Send what was observed and leave out what was not: what is missing is
reported as not assessed and still needed, never taken as good. Where a field may be null, null is the same as left
out. Unknown keys are errors, so that a slip of the pen does not pass for an observation that was not made.

Read decision first. release: the finished foot is good to leave: all that the stage requires was observed and nothing
holds the foot up. go_on: the same at an earlier stage; next names the step that follows. put_right: at least one major
finding that blocks; actions says what to do, in order. stop_and_refer: a critical finding; stop work, the caution says
who must look at the horse. incomplete: nothing major or critical was found, but still_needed lists what has to be
observed, or that the rulebook does not judge this stage or form at all. Treat any decision that your program does not
know as not released, and any answer other than 200 and 201 as no assessment.

Each finding names its rule, the place on the foot (toe, medial_quarter, lateral_quarter, medial_heel, lateral_heel,
sole, foot, or one nail such as nail:medial:1), what was measured with its standard uncertainty u, the limit that it
passed, and confidence: the probability, between 0 and 1, that the true value lies beyond that limit. GET
/v1/rulebook/rules/{id} shows the rule with its sources.

Lengths are in mm unless the reading says otherwise. Medial is the side towards the other leg, lateral the outer side.
Positive means iron beyond horn, negative iron inside it. A reading is a number, an object such as {"value": "1
5/8", "unit": "in"} or {"value": 2.4, "u": 0.1, "method": "calliper"}, or a word of the eye such as "short"; each field
says its range, units and words, which the shared schema Reading does not bind.

Every error is RFC 9457 problem details (application/problem+json): type names the kind, with an explanation at that
address; errors lists each field with the value found, what is allowed and what to do; instance is the id to give to
those who run the service. 4xx: correct the request, sending it again unchanged will not help. 5xx: there is no
assessment; it may be sent again.

Bodies are strict JSON in UTF-8: no duplicate keys, no NaN, at most 1 MiB unless the service is set otherwise. The
JSON schemas below are those in /openapi.json, and no more than a machine can check: contradictions, such as a clip
height where there is no clip, are errors too.

Many fittings at once, one to a line:

    curl -sN -H 'content-type: application/x-ndjson' -T feet.ndjson -X POST 'http://127.0.0.1:8750/v1/assessments/batch'

A service that answers other machines needs an access key with each request; those who run it make one with fitcheck
keys make:

    curl -s -H 'authorization: Bearer KEY' 'http://127.0.0.1:8750/v1/rulebook'

Each address below says which scope the key must have. 401: no key, or one that is wrong, revoked or at its end; 403:
the key lacks the scope, or marks are overridden in another's name; 429: too many requests, wait for Retry-After. On the
machine that it runs on a service needs no key until one was made.

Without keep=false the service keeps what it is sent and what it answers, and the answer is 201 with its address. Send
an Idempotency-Key with it, so that a request that was cut short can be sent again:

    curl -s -H 'content-type: application/json' -H 'idempotency-key: 5b0a6b7e' --data-binary @foot.json 'http://127.0.0.1:8750/v1/assessments'

What was kept is never changed: GET /v1/assessments/{id} answers the same bytes for good, until they are erased. A wrong
one is put right by a new one, with corrects. GET /v1/assessments finds them by person, assessor, horse, foot, visit,
decision and day, and GET /v1/visits/{visit} puts the feet of a visit together. While records cannot be reached,
keep=false still assesses."""

TAGS: Final = (
    {"name": "assessments", "description": "Assess one fitting or many."},
    {"name": "records", "description": "What was kept."},
    {"name": "marks", "description": "Marks for practice, overrides, progress and agreement."},
    {"name": "practice", "description": "Practise the eye on drawings, apart from the work."},
    {"name": "desk", "description": "The same as pages for a browser."},
    {"name": "events", "description": "Follow all that is kept."},
    {"name": "rulebook", "description": "What is judged, by which limits, and on whose word."},
    {"name": "problems", "description": "What went wrong."},
    {"name": "health", "description": "For whoever watches the service."},
)

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
"""The problems of a request that needs a key and is not let in."""


def build_document(app: FastAPI, book: Rulebook) -> dict[str, Any]:
    """The whole document, with examples as ``book`` answers them."""
    paths: dict[str, dict[str, Any]] = {}
    models: list[tuple[type[BaseModel], JsonSchemaMode]] = [(ProblemDetails, "serialization")]
    for route in app.routes:
        if isinstance(route, APIRoute) and route.include_in_schema:
            operation, needed = operation_of(route), needed_by(route)
            models += operation.models
            shown = operation.document(book, ("too-many-requests",) if needed is None else _REFUSALS)
            shown["security"] = [] if needed is None else [{_SCHEME: [needed]}]
            paths.setdefault(route.path_format, {})[operation.method.lower()] = shown
    _, schemas = models_json_schema(list(dict.fromkeys(models)), ref_template=COMPONENT)
    return {
        "openapi": app.openapi_version,
        "info": {"title": app.title, "summary": app.summary, "description": app.description, "version": app.version},
        "paths": paths,
        "components": {
            "schemas": dict(sorted(schemas["$defs"].items())),
            "securitySchemes": {_SCHEME: _ACCESS_KEY},
        },
        "tags": list(TAGS),
    }
