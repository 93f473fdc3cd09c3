"""POST and GET /v1/assessments/{id}/overrides."""

from __future__ import annotations

from dataclasses import dataclass
from http import HTTPStatus
from typing import Any, Final
from urllib.parse import quote

from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import Response

from api.assessing import gone, reused
from api.http.auth import require_own_name
from api.http.bodies import read_body, require_media_type
from api.http.headers import JSON
from api.http.limits import Limits
from api.http.problems import READING, WRITING, ProblemError
from api.http.route_scopes import needs
from api.openapi.examples import EXAMPLE_ID
from api.openapi.operation import RECORD_TAG, REPLAYED, Answer, Content, Operation, add_operation, header
from api.parameters import idempotency
from api.parameters.idempotency import IDEMPOTENCY_KEY, idempotency_key, idempotency_of
from api.parameters.query import Query, parameter
from api.parameters.record_address import address_of, etag_of
from api.responses.records import StoredOverrides
from api.routes.assessments import LIST
from api.routes.stored_record import ASSESSMENT_ID, assessment_record, has_already, markable, readable
from api.store import AsyncStore
from fitcheck.errors import BadInput, Problem
from fitcheck.fitting.strict_json import cut, loads
from fitcheck.fitting.validation import summary
from fitcheck.marking import override_of, parse_override
from fitcheck.marking.overrides import Override, OverrideRequest
from fitcheck.records import Draft, KeyReused, Record, Store, UnknownRecord, draft_of_override
from fitcheck.stored import assessment_of, override_in, sheet_of
from rules import Rulebook

__all__ = ["MARKS_TAG", "MOST_OVERRIDES", "Overriding", "add_overrides", "overrides_listed", "the_override"]

MARKS_TAG: Final = "marks"
_DOC: Final = """An override changes marks and nothing else: the assessment stays as it was answered, and so does its
decision. A critical finding that is struck or regraded still stops the foot.

Each change names its reason. strike: the finding does not count; regrade: it counts under another grade; add: one
that the tool does not have, as rule@place of a rule in GET /v1/rulebook; set_mark: the criterion has this mark,
whatever was found. Changes are made in the order in which they were kept, and each must fit what counts by then.

It is kept beside the assessment with its own number in the chain, bears the names of the assessment and of the
assessor who made it, and is erased with any of these people. Idempotency-Key works as for assessments.

With access keys it needs the key of a person, with the scope mark, and assessor.id is that person: nobody marks in
another's name."""


def add_overrides(app: FastAPI, async_store: AsyncStore, book: Rulebook, limits: Limits) -> None:
    """Add the routes that keep overrides in ``async_store`` and show them; ``book`` marks."""
    overriding = Overriding(async_store, book)

    @needs("mark")
    async def override(request: Request) -> Response:
        Query.of(request)
        require_media_type(request, JSON)
        return await overriding.answer(request, request.path_params["id"], await read_body(request, limits.body))

    @needs("read")
    async def show_all(request: Request) -> Response:
        Query.of(request)
        id_ = request.path_params["id"]
        found = await async_store.read(lambda store: overrides_listed(store, id_))
        return Response(found.model_dump_json(), media_type=JSON)

    @needs("read")
    async def show_one(request: Request) -> Response:
        Query.of(request)
        id_, name = request.path_params["id"], request.path_params["override"]
        record = await async_store.read(lambda store: the_override(store, id_, name))
        headers = {"etag": etag_of(record)}
        if has_already(request, headers["etag"]):
            return Response(status_code=HTTPStatus.NOT_MODIFIED, headers=headers)
        return Response(record.answer, headers=headers, media_type=JSON)

    path = f"{LIST}/{{id:assessment}}/overrides"
    add_operation(app, path, override, _OVERRIDE)
    add_operation(app, path, show_all, _SHOW_ALL)
    add_operation(app, f"{path}/{{override}}", show_one, _SHOW_ONE)


_OVERRIDE_ID: Final = "0b8d8f0a-3f3c-4c55-9d1b-000000000001"
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
_OVERRIDE: Final = Operation(
    name="override",
    tag=MARKS_TAG,
    summary="Mark a foot otherwise than the tool",
    description=_DOC,
    path=(ASSESSMENT_ID,),
    query=Query,
    headers=(IDEMPOTENCY_KEY,),
    body=Content((OverrideRequest,), examples=_EXAMPLES),
    answers={
        HTTPStatus.CREATED: Answer(
            "The override, which was kept.",
            Content((Override,)),
            {**RECORD_TAG, "Location": header("Where the override is kept."), **REPLAYED},
        )
    },
    problems=(
        "bad-idempotency-key",
        "bad-override",
        "key-reused",
        "not-found",
        "gone",
        "cannot-show",
        "cannot-mark",
        "too-many-overrides",
        "not-in-own-name",
        *WRITING,
    ),
)
_SHOW_ALL: Final = Operation(
    name="overrides",
    tag=MARKS_TAG,
    summary="The overrides of one assessment",
    description="Every override that was kept of the assessment, in the order of keeping, as it was answered.",
    path=(ASSESSMENT_ID,),
    query=Query,
    answers={HTTPStatus.OK: Answer("The overrides.", Content((StoredOverrides,)))},
    problems=("not-found", "gone", "cannot-show", *READING),
)
_SHOW_ONE: Final = Operation(
    name="one_override",
    tag=MARKS_TAG,
    summary="One override",
    description="The override exactly as it was answered when it was kept, byte for byte. It never changes.",
    path=(ASSESSMENT_ID, parameter("path", "override", "The override's id.", example=_OVERRIDE_ID)),
    query=Query,
    answers={HTTPStatus.OK: Answer("The override.", Content((Override,)), RECORD_TAG)},
    problems=("not-found", "gone", *READING),
)


MOST_OVERRIDES: Final = 200
"""Overrides of one assessment; each changes up to fifty things."""


@dataclass(frozen=True, slots=True)
class Overriding:
    """Keeps overrides in ``async_store``, whose marks are those of ``book``."""

    async_store: AsyncStore
    book: Rulebook

    async def answer(self, request: Request, id_: str, raw: bytes) -> Response:
        """Keep the override in ``raw`` of the assessment ``id_``, unless a request of the same Idempotency-Key has.

        Raises ProblemError and StoreError.
        """
        key = idempotency_key(request)
        idempotency = None if key is None else idempotency_of(request, key, raw, ("override", id_))
        try:
            if idempotency is not None:
                earlier = await self.async_store.read(lambda store: store.answered(idempotency))
                if earlier is not None:
                    return _created(earlier, replayed=True)
            request_body = _parsed_request(raw)
            require_own_name(request.scope, request_body.assessor.id, "assessor.id")
            draft = await self.async_store.read(lambda store: self.draft(store, id_, raw, request_body))
            done = await self.async_store.keep_once(draft, idempotency)
        except KeyReused:
            raise reused(key or "") from None
        except UnknownRecord:
            # It was erased since it was read.
            raise gone(id_) from None
        return _created(done.record, replayed=not done.fresh)

    def draft(self, store: Store, id_: str, raw: bytes, request_body: OverrideRequest) -> Draft:
        """The override as it is to be kept, held against the assessment and the overrides before it."""
        record = assessment_record(store, id_)
        others = store.overrides_about([id_])
        if len(others) >= MOST_OVERRIDES:
            detail = f'Of the assessment "{cut(id_)}" {MOST_OVERRIDES} overrides were kept, and no more are taken.'
            raise ProblemError("too-many-overrides", detail)
        with readable(id_), markable(id_):
            earlier = [override_in(each) for each in others if not each.erased]
            assessment = assessment_of(record)
            sheet_of(assessment, earlier, self.book)
        try:
            override = override_of(request_body, assessment, self.book, earlier=earlier)
        except BadInput as error:
            raise _refused(error) from None
        return draft_of_override(raw, override, record)


def _parsed_request(raw: bytes) -> OverrideRequest:
    try:
        document = loads(raw)
    except BadInput as error:
        raise ProblemError("bad-json", error.problems[0].detail, error.problems) from None
    try:
        return parse_override(document)
    except BadInput as error:
        raise _refused(error) from None


def _refused(error: BadInput) -> ProblemError:
    first = error.problems[0]
    many = "" if len(error.problems) == 1 else " More is wrong: see errors."
    return ProblemError("bad-override", f"{first.field}: {first.detail}{many}", error.problems)


def overrides_listed(store: Store, id_: str) -> StoredOverrides:
    """Every override of the assessment ``id_``. Raises ProblemError and StoreError."""
    assessment_record(store, id_)
    found = store.overrides_about([id_])
    with readable(id_):
        there = tuple(override_in(record) for record in found if not record.erased)
    return StoredOverrides(overrides=there, erased=len(found) - len(there))


def the_override(store: Store, id_: str, override: str) -> Record:
    """The record of one override of the assessment ``id_``. Raises ProblemError and StoreError."""
    record = store.record(override)
    if record is None or record.kind != "override" or record.about != id_:
        detail = (
            f'The assessment "{cut(id_)}" has no override "{cut(override)}". GET {_address(id_)} lists those it has.'
        )
        fault = Problem("path.override", summary(override), f"the id of one in GET {_address(id_)}", detail)
        raise ProblemError("not-found", detail, [fault])
    if record.erased:
        raise ProblemError("gone", f'The override "{cut(override)}" was erased.')
    return record


def _address(id_: str) -> str:
    return f"{address_of(id_)}/overrides"


def _created(record: Record, *, replayed: bool) -> Response:
    headers: dict[str, Any] = {
        "location": f"{_address(record.about or '')}/{quote(record.id, safe='')}",
        "etag": etag_of(record),
    }
    if replayed:
        headers[idempotency.REPLAYED] = "true"
    return Response(record.answer, HTTPStatus.CREATED, headers, JSON)
