"""GET /v1/assessments and /v1/assessments/{id}: what was kept, a page at a time, and one as it was answered."""

from __future__ import annotations

import base64
import binascii
import hashlib
import json
from dataclasses import dataclass
from http import HTTPStatus
from typing import Any, Final, get_args
from urllib.parse import urlencode

from fastapi import FastAPI
from starlette.convertors import StringConvertor, register_url_convertor
from starlette.requests import Request
from starlette.responses import Response

from api.http.headers import JSON
from api.http.problems import READING
from api.http.route_scopes import needs
from api.openapi.document import REQUEST_ID_HEADER, answer, media, problems
from api.openapi.examples import EXAMPLE_ID
from api.parameters.language import CONTENT_LANGUAGE
from api.parameters.query import DAYS, days_of, identifier, known_only, one_of, refuse, whole
from api.parameters.record_address import address_of, etag_of
from api.responses.assessments import StoredAssessment, StoredAssessments, StoredRulebook
from api.routes.stored_record import ASSESSMENT_ID, IF_NONE_MATCH, assessment_record, has_already
from api.store import AsyncStore
from fitcheck.assessment.models import Assessment, Decision
from fitcheck.fitting.models import FittedFoot
from fitcheck.records import Record, RecordFilter, Store
from fitcheck.stored import stored_language

__all__ = ["DEFAULT_LIMIT", "LIST", "MOST_LISTED", "ORDERS", "TAG", "ListQuery", "add_stored", "page_of", "show_page"]

LIST: Final = "/v1/assessments"
ORDERS: Final = ("newest", "oldest")
DEFAULT_LIMIT: Final = 50
MOST_LISTED: Final = 200
_FILTERS: Final = ("person", "assessor", "horse", "visit", "foot", "decision", "from", "to")
_NUMBER_BYTES: Final = 8
_CHECK_BYTES: Final = 8
_LAST_NUMBER: Final = 2**63 - 1


@dataclass(frozen=True, slots=True)
class ListQuery:
    """One page of assessments, as a query asks for it."""

    filters: tuple[tuple[str, str], ...]
    """Those that are given, by name, in a fixed order."""
    record_filter: RecordFilter
    order: str
    limit: int
    after: int | None
    """The number of the last one on the page before."""

    @classmethod
    def by(cls, request: Request) -> ListQuery:
        """What the query of ``request`` asks for. Raises ProblemError."""
        known_only(request, (*_FILTERS, "order", "limit", "after"))
        foot = one_of(request, "foot", get_args(FittedFoot))
        decision = one_of(request, "decision", get_args(Decision))
        since, until = days_of(request)
        order = one_of(request, "order", ORDERS) or ORDERS[0]
        filters = tuple((name, request.query_params[name]) for name in _FILTERS if name in request.query_params)
        return cls(
            filters=filters,
            record_filter=RecordFilter(
                person=identifier(request, "person"),
                assessor=identifier(request, "assessor"),
                horse=identifier(request, "horse"),
                visit=identifier(request, "visit"),
                foot=foot,
                decision=decision,
                kind="assessment",
                since=since,
                until=until,
            ),
            order=order,
            limit=whole(request, "limit", least=1, most=MOST_LISTED, default=DEFAULT_LIMIT),
            after=_number_in(request, filters, order),
        )

    def next_page(self, number: int) -> tuple[str, str]:
        """The cursor behind the record of that number, and the address of the page that begins there."""
        cursor = _cursor(number, self.filters, self.order)
        query = [*self.filters, ("order", self.order), ("limit", str(self.limit)), ("after", cursor)]
        return cursor, f"{LIST}?{urlencode(query)}"


def page_of(store: Store, query: ListQuery) -> tuple[StoredAssessments, str | None]:
    """The page, and the address of the next one; None at the end. Raises StoreError.

    Numbers only grow: what is kept between two pages never moves one across their border, so that none is left out or
    comes twice.
    """
    found = store.records(
        query.record_filter, after=query.after, newest_first=query.order == ORDERS[0], limit=query.limit + 1
    )
    shown = found[: query.limit]
    superseded = store.corrections_of([record.id for record in shown])
    cursor, address = query.next_page(shown[-1].number) if len(found) > query.limit else (None, None)
    listed = tuple(_listed(record, superseded=record.id in superseded) for record in shown)
    return StoredAssessments(assessments=listed, next=cursor), address


def _listed(record: Record, *, superseded: bool) -> StoredAssessment:
    return StoredAssessment.model_validate(
        {name: getattr(record, name) for name in _COPIED}
        | {
            "rulebook": StoredRulebook(version=record.rulebook_version, digest=record.rulebook_digest),
            "corrects": record.about,
            "superseded": superseded,
            "href": address_of(record.id),
        }
    )


_COPIED: Final = tuple(StoredAssessment.model_fields.keys() - {"rulebook", "corrects", "superseded", "href"})


def _cursor(number: int, filters: tuple[tuple[str, str], ...], order: str) -> str:
    """A number and what it belongs to, so that a cursor does not pass for one of another list."""
    place = number.to_bytes(_NUMBER_BYTES)
    check = hashlib.sha256(place + json.dumps([filters, order]).encode()).digest()[:_CHECK_BYTES]
    return base64.urlsafe_b64encode(place + check).decode().rstrip("=")


def _number_in(request: Request, filters: tuple[tuple[str, str], ...], order: str) -> int | None:
    cursor = request.query_params.get("after")
    if cursor is None:
        return None
    try:
        raw = base64.urlsafe_b64decode(cursor.encode("ascii") + b"==")
    except (binascii.Error, UnicodeEncodeError):
        raw = b""
    number = int.from_bytes(raw[:_NUMBER_BYTES])
    if number > _LAST_NUMBER or cursor != _cursor(number, filters, order):
        allowed = "next from the page before, with the same filters and order"
        refuse("after", cursor, allowed, f"This does not lead on in this list. Send {allowed}.")
    return number


TAG: Final = "records"
_ONE: Final = """The assessment exactly as it was answered when it was kept, byte for byte. It never changes; ETag is
the digest of its record, which covers what was sent and what was answered.

Link says what became of it: rel="predecessor-version" leads to the assessment that it corrects,
rel="successor-version" to each one that corrects it. With such a successor it no longer counts. If-None-Match is
honoured; a 304 has Link too."""
_LIST_DOC: Final = """Assessments in short, the newest first unless order says otherwise: in the order in which they
were kept. Filters are joined by and; one that is left out sets no bound. from and to are days in UTC of created,
both included.

Where there are more, next has a cursor for after, and the header Link the whole address of the next page. A cursor
belongs to its filters and order. It goes on just behind the last one shown, whatever was kept meanwhile: with
order=newest later ones do not come up, with order=oldest they come at the end. Corrected assessments are listed too
and say superseded."""


class _IdConvertor(StringConvertor):
    """An assessment's id; the address of the batch is not one."""

    regex = "(?!batch$)[^/]+"


def add_stored(app: FastAPI, async_store: AsyncStore) -> None:
    """Add the routes that show what is in ``async_store``."""
    register_url_convertor("assessment", _IdConvertor())

    @needs("read")
    async def show_one(request: Request) -> Response:
        known_only(request)
        id_ = request.path_params["id"]
        record, successors = await async_store.read(lambda store: _one(store, id_))
        headers = {"etag": etag_of(record)}
        if language := stored_language(record):
            headers["content-language"] = language
        if links := _links(record, successors):
            headers["link"] = links
        if has_already(request, headers["etag"]):
            return Response(status_code=HTTPStatus.NOT_MODIFIED, headers=headers)
        return Response(record.answer, headers=headers, media_type=JSON)

    @needs("read")
    async def show_many(request: Request) -> Response:
        query_parameters = ListQuery.by(request)
        page, following = await async_store.read(lambda store: page_of(store, query_parameters))
        headers = {} if following is None else {"link": f'<{following}>; rel="next"'}
        return Response(page.model_dump_json(), headers=headers, media_type=JSON)

    app.add_api_route(
        LIST,
        show_many,
        methods=["GET"],
        operation_id="list_assessments",
        tags=[TAG],
        summary="List assessments that were kept",
        description=_LIST_DOC,
        response_class=Response,
        responses={
            HTTPStatus.OK.value: {
                **answer("A page of assessments.", media(StoredAssessments)),
                "headers": {**REQUEST_ID_HEADER, "Link": _header('The next page: rel="next". Not there at the end.')},
            },
            **problems("bad-query", *READING),
        },
        openapi_extra={"parameters": _parameters()},
    )
    app.add_api_route(
        f"{LIST}/{{id:assessment}}",
        show_one,
        methods=["GET"],
        operation_id="assessment",
        tags=[TAG],
        summary="One assessment that was kept",
        description=_ONE,
        response_class=Response,
        responses={
            HTTPStatus.OK.value: {
                **answer("The assessment.", media(Assessment)),
                "headers": {**REQUEST_ID_HEADER, **_VERSION_HEADERS, **CONTENT_LANGUAGE},
            },
            HTTPStatus.NOT_MODIFIED.value: {
                "description": "You have it already: it is the one of If-None-Match.",
                "headers": {**REQUEST_ID_HEADER, **_VERSION_HEADERS},
            },
            **problems("bad-query", "not-found", "gone", *READING),
        },
        openapi_extra={"parameters": [ASSESSMENT_ID, IF_NONE_MATCH]},
    )


def _one(store: Store, id_: str) -> tuple[Record, list[str]]:
    """The record of an assessment and the ids of those that correct it. Raises ProblemError, StoreError."""
    return assessment_record(store, id_), store.corrections_of([id_]).get(id_, [])


def _links(record: Record, successors: list[str]) -> str:
    """The header Link, with relations of RFC 5829; empty where there is nothing to tell."""
    links = [] if record.about is None else [f'<{address_of(record.about)}>; rel="predecessor-version"']
    links += [f'<{address_of(each)}>; rel="successor-version"' for each in successors]
    return ", ".join(links)


def _header(description: str) -> dict[str, Any]:
    return {"description": description, "schema": {"type": "string"}}


_VERSION_HEADERS: Final = {
    "ETag": _header("The digest of the record, in quotation marks."),
    "Link": _header('What it corrects (rel="predecessor-version") and what corrects it (rel="successor-version").'),
}


def _parameters() -> list[dict[str, Any]]:
    name: dict[str, Any] = {"type": "string", "minLength": 1, "maxLength": 64}
    filters: tuple[tuple[str, str, dict[str, Any]], ...] = (
        ("person", "Who fitted the shoe.", name),
        ("assessor", "Who looked at it.", name),
        ("horse", "The horse: the yard's own name, or else its UELN or transponder.", name),
        ("visit", "The visit.", name),
        ("foot", "The foot.", {"enum": list(get_args(FittedFoot))}),
        ("decision", "The decision.", {"enum": list(get_args(Decision))}),
    )
    page: tuple[tuple[str, str, dict[str, Any]], ...] = (
        ("order", "By number: the newest first, or the oldest.", {"enum": list(ORDERS), "default": ORDERS[0]}),
        (
            "limit",
            "How many at most.",
            {"type": "integer", "minimum": 1, "maximum": MOST_LISTED, "default": DEFAULT_LIMIT},
        ),
        ("after", "Where to go on: next of the page before, with the same filters and order.", {"type": "string"}),
    )
    before, behind = (
        [
            {"name": parameter, "in": "query", "required": False, "description": description, "schema": schema}
            for parameter, description, schema in group
        ]
        for group in (filters, page)
    )
    return [*before, *DAYS, *behind]


def show_page(document: dict[str, Any]) -> None:
    """Put an example page into the OpenAPI document, with the nulls that FastAPI would leave out."""
    shown = StoredAssessment(
        id=EXAMPLE_ID,
        number=7,
        created="2026-03-04T10:00:00.000Z",
        foot="left_fore",
        stage="hot_fit",
        decision="release",
        person="A-1",
        assessor="S-1",
        horse="H-101",
        visit="2026-03-04-H-101",
        fitted="2026-03-04",
        rulebook=StoredRulebook(version="1.2.0", digest="sha256:" + "0" * 64),
        corrects=None,
        superseded=False,
        erased=False,
        href=address_of(EXAMPLE_ID),
    )
    page = StoredAssessments(assessments=(shown,), next=None)
    content = document["paths"][LIST]["get"]["responses"]["200"]["content"][JSON]
    content["examples"] = {"one": {"summary": "The only one", "value": page.model_dump(mode="json")}}
