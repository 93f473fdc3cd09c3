"""GET /v1/assessments, /v1/assessments/{id} and …/fitting: what was kept, a page at a time, and one as it came."""

from __future__ import annotations

import base64
import binascii
import hashlib
import json
from collections.abc import Sequence
from http import HTTPStatus
from typing import Annotated, Final, Literal, Self
from urllib.parse import urlencode

from fastapi import FastAPI
from pydantic import Field, model_validator
from starlette.convertors import StringConvertor, register_url_convertor
from starlette.requests import Request
from starlette.responses import Response

from api.assessing import BRIEF_TYPE, brief_body
from api.http.headers import JSON
from api.http.problems import READING
from api.http.route_scopes import needs
from api.openapi.brief import BRIEF
from api.openapi.examples import EXAMPLE_ID
from api.openapi.operation import RECORD_TAG, Answer, Content, Operation, add_operation, header
from api.parameters.language import CONTENT_LANGUAGE
from api.parameters.query import WHOLE, Day, Days, Flag, Query, Who, refuse
from api.parameters.record_address import address_of, etag_of
from api.responses.records import StoredAssessment, StoredAssessments, StoredRulebook
from api.routes.stored_record import ASSESSMENT_ID, assessment_record, has_already, tag_of
from api.store import AsyncStore
from fitcheck import __version__
from fitcheck.assessment.models import Assessment, Decision
from fitcheck.fitting.identity import Identifier
from fitcheck.fitting.models import FittedFoot, Fitting
from fitcheck.records import Record, RecordFilter, Store
from fitcheck.stored import stored_language
from rules import Rulebook
from rules.model.records import Grade, Stage

__all__ = ["LIST", "MOST_LISTED", "TAG", "Filtered", "ListQuery", "add_stored", "listed", "page_of"]

LIST: Final = "/v1/assessments"
MOST_LISTED: Final = 200
_NUMBER_BYTES: Final = 8
_CHECK_BYTES: Final = 8
_LAST_NUMBER: Final = 2**63 - 1


class _Filters(Who):
    foot: FittedFoot | None = None
    """The foot."""
    stage: Stage | None = None
    """The stage at which the foot was looked at."""
    decision: Decision | None = None
    """The decision."""
    grade: Grade | None = None
    """With a finding of this grade."""
    rule: Identifier | None = None
    """With a finding by this rule; together with grade, of that grade."""
    current: Flag = False
    """Only what counts: of each foot at a visit the latest, and no corrected one. What was imported from another store
    is the latest of that store."""
    external_system: Identifier | None = None
    """The other system that has a key for it."""
    external_id: Identifier | None = None
    """The key that another system has for it."""


class Filtered(Days, _Filters):
    """Which assessments are asked for."""

    fitted_from: Day | None = None
    """Fitted on this day or later; where the day of the fitting was not said, created then (UTC)."""
    fitted_to: Day | None = None
    """Fitted on this day or earlier; where the day of the fitting was not said, created then (UTC)."""

    @model_validator(mode="after")
    def _fitted_in_order(self) -> Self:
        first, last = self.fitted_from, self.fitted_to
        if first is not None and last is not None and last < first:
            detail = "The last day lies before the first one."
            refuse("fitted_to", last.isoformat(), f"{first.isoformat()} or later", detail)
        return self

    @property
    def filters(self) -> tuple[tuple[str, str], ...]:
        """Those that are given, by name, as they stand in an address, in a fixed order."""
        shown = self.model_dump(mode="json", by_alias=True, exclude_defaults=True, include=set(Filtered.model_fields))
        return tuple((name, "true" if value is True else value) for name, value in shown.items())

    @property
    def record_filter(self) -> RecordFilter:
        """The same as the store takes it."""
        named = self.model_dump(include=set(_Filters.model_fields))
        first, last = (None if day is None else day.isoformat() for day in (self.fitted_from, self.fitted_to))
        return RecordFilter(
            **named, kind="assessment", since=self.since, until=self.until, first_day=first, last_day=last
        )

    @property
    def goes_through_answers(self) -> bool:
        """Whether answers have to be looked into, one after another."""
        return self.grade is not None or self.rule is not None


class ListQuery(Filtered):
    """One page of assessments, as a query asks for it."""

    order: Literal["newest", "oldest"] = "newest"
    """By number: the newest first, or the oldest."""
    limit: Annotated[int, Field(ge=1, le=MOST_LISTED), WHOLE] = 50
    """How many at most."""
    after: str | None = None
    """Where to go on: next of the page before, with the same filters and order."""

    total: Flag = False
    """Whether to count all that the filters leave."""

    @model_validator(mode="after")
    def _leads_on(self) -> Self:
        if self.after is not None and self.after_number is None:
            allowed = "next from the page before, with the same filters and order"
            refuse("after", self.after, allowed, f"This does not lead on in this list. Send {allowed}.")
        return self

    @property
    def after_number(self) -> int | None:
        """The number of the last one on the page before."""
        try:
            raw = base64.urlsafe_b64decode((self.after or "").encode("ascii") + b"==")
        except (binascii.Error, UnicodeEncodeError):
            return None
        number = int.from_bytes(raw[:_NUMBER_BYTES])
        return number if number <= _LAST_NUMBER and self.after == self._cursor(number) else None

    def next_page(self, number: int) -> tuple[str, str]:
        """The cursor behind the record of that number, and the address of the page that begins there."""
        cursor = self._cursor(number)
        query = [*self.filters, ("order", self.order), ("limit", str(self.limit)), ("after", cursor)]
        query += [("total", "true")] if self.total else []
        return cursor, f"{LIST}?{urlencode(query)}"

    def _cursor(self, number: int) -> str:
        """A number and what it belongs to, so that a cursor does not pass for one of another list."""
        place = number.to_bytes(_NUMBER_BYTES)
        check = hashlib.sha256(place + json.dumps([self.filters, self.order]).encode()).digest()[:_CHECK_BYTES]
        return base64.urlsafe_b64encode(place + check).decode().rstrip("=")


def page_of(store: Store, query: ListQuery) -> tuple[StoredAssessments, str | None]:
    """The page, and the address of the next one; None at the end. Raises StoreError.

    Numbers only grow: what is kept between two pages never moves one across their border, so that none is left out or
    comes twice.
    """
    found = store.records(
        query.record_filter, after=query.after_number, newest_first=query.order == "newest", limit=query.limit + 1
    )
    shown = found[: query.limit]
    cursor, address = query.next_page(shown[-1].number) if len(found) > query.limit else (None, None)
    total = store.count(query.record_filter) if query.total else None
    return StoredAssessments(assessments=listed(store, shown), next=cursor, total=total), address


def listed(store: Store, records: Sequence[Record]) -> tuple[StoredAssessment, ...]:
    """The records of assessments in short. Raises StoreError."""
    superseded = store.corrections_of([record.id for record in records])
    return tuple(_listed(record, superseded=record.id in superseded) for record in records)


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


TAG: Final = "records"
_ONE: Final = """The assessment exactly as it was answered when it was kept, byte for byte. It never changes; ETag is
the digest of its record, which covers what was sent and what was answered.

Link says what became of it: rel="predecessor-version" leads to the assessment that it corrects,
rel="successor-version" to each one that corrects it. With such a successor it no longer counts. If-None-Match is
honoured; a 304 has Link too.

With view=brief it is told in short, with an ETag of its own."""
_FITTING_DOC: Final = """The fitting exactly as it was sent, byte for byte. It never changes; ETag is the digest of its
record, which covers it. If-None-Match is honoured.

Of a fitting that follows an assessment this is what was sent alone: what was carried into it stands in carried of its
assessment."""
_LIST_DOC: Final = """Assessments in short, the newest first unless order says otherwise: in the order in which they
were kept. Filters are joined by and; one that is left out sets no bound. from and to are days in UTC of created,
both included; fitted_from and fitted_to are days of the fitting. current leaves what counts: of each foot at a visit
the latest. grade and rule look into the findings. With total=true the answer has total: how many there are in all.

Where there are more, next has a cursor for after, and the header Link the whole address of the next page. A cursor
belongs to its filters and order. It goes on just behind the last one shown, whatever was kept meanwhile: with
order=newest later ones do not come up, with order=oldest they come at the end. Corrected assessments are listed too
and say superseded."""


class _OneQuery(Query):
    view: Literal["whole", "brief"] = "whole"
    """The assessment as it was answered; or in brief the decision, each finding in a sentence, and what to do."""


class _IdConvertor(StringConvertor):
    """An assessment's id; the address of the batch is not one."""

    regex = "(?!batch$)[^/]+"


def add_stored(app: FastAPI, async_store: AsyncStore, book: Rulebook) -> None:
    """Add the routes that show what is in ``async_store``; ``book`` is the service's rulebook."""
    register_url_convertor("assessment", _IdConvertor())

    @needs("read")
    async def show_one(request: Request) -> Response:
        brief = _OneQuery.of(request).view == "brief"
        id_ = request.path_params["id"]
        record, successors = await async_store.read(lambda store: _one(store, id_))
        body = brief_body(record, book) if brief else record.answer
        headers = {"etag": tag_of(__version__, body.decode()) if brief else etag_of(record)}
        if language := stored_language(record):
            headers["content-language"] = language
        if links := _links(record, successors):
            headers["link"] = links
        if has_already(request, headers["etag"]):
            return Response(status_code=HTTPStatus.NOT_MODIFIED, headers=headers)
        return Response(body, headers=headers, media_type=BRIEF_TYPE if brief else JSON)

    @needs("read")
    async def show_fitting(request: Request) -> Response:
        Query.of(request)
        id_ = request.path_params["id"]
        record = await async_store.read(lambda store: assessment_record(store, id_))
        headers = {"etag": etag_of(record)}
        if has_already(request, headers["etag"]):
            return Response(status_code=HTTPStatus.NOT_MODIFIED, headers=headers)
        return Response(record.received, headers=headers, media_type=JSON)

    @needs("read")
    async def show_many(request: Request) -> Response:
        query = ListQuery.of(request)
        # What may go through thousands of records waits for others of its kind, and holds up no list.
        read = async_store.read_much if query.goes_through_answers or query.total else async_store.read
        page, following = await read(lambda store: page_of(store, query))
        headers = {} if following is None else {"link": f'<{following}>; rel="next"'}
        return Response(page.model_dump_json(), headers=headers, media_type=JSON)

    add_operation(app, LIST, show_many, _LIST)
    add_operation(app, f"{LIST}/{{id:assessment}}", show_one, _SHOW)
    add_operation(app, f"{LIST}/{{id:assessment}}/fitting", show_fitting, _SHOW_FITTING)


def _one(store: Store, id_: str) -> tuple[Record, list[str]]:
    """The record of an assessment and the ids of those that correct it. Raises ProblemError, StoreError."""
    return assessment_record(store, id_), store.corrections_of([id_]).get(id_, [])


def _links(record: Record, successors: list[str]) -> str:
    """The header Link, with relations of RFC 5829; empty where there is nothing to tell."""
    links = [] if record.about is None else [f'<{address_of(record.about)}>; rel="predecessor-version"']
    links += [f'<{address_of(each)}>; rel="successor-version"' for each in successors]
    return ", ".join(links)


_EXAMPLE: Final = StoredAssessment(
    id=EXAMPLE_ID,
    number=7,
    created="2026-03-04T10:00:00.000Z",
    foot="left_fore",
    stage="hot_fit",
    decision="go_on",
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
_PAGE: Final = StoredAssessments(assessments=(_EXAMPLE,), next=None)
_LIST: Final = Operation(
    name="list_assessments",
    tag=TAG,
    summary="List assessments that were kept",
    description=_LIST_DOC,
    query=ListQuery,
    answers={
        HTTPStatus.OK: Answer(
            "A page of assessments.",
            Content(
                (StoredAssessments,),
                examples={"one": {"summary": "The only one", "value": _PAGE.model_dump(mode="json")}},
            ),
            {"Link": header('The next page: rel="next". Not there at the end.')},
        )
    },
    problems=READING,
)
_LINKS: Final = 'What it corrects (rel="predecessor-version") and what corrects it (rel="successor-version").'
_SHOW: Final = Operation(
    name="assessment",
    tag=TAG,
    summary="One assessment that was kept",
    description=_ONE,
    path=(ASSESSMENT_ID,),
    query=_OneQuery,
    answers={
        HTTPStatus.OK: Answer(
            "The assessment; with view=brief, in short.",
            Content((Assessment,)),
            {**RECORD_TAG, "Link": header(_LINKS), **CONTENT_LANGUAGE},
            BRIEF,
        )
    },
    problems=("not-found", "gone", "cannot-show", *READING),
)
_SHOW_FITTING: Final = Operation(
    name="fitting",
    tag=TAG,
    summary="The fitting of an assessment that was kept, as it was sent",
    description=_FITTING_DOC,
    path=(ASSESSMENT_ID,),
    query=Query,
    answers={HTTPStatus.OK: Answer("The fitting.", Content((Fitting,), as_sent=True), RECORD_TAG)},
    problems=("not-found", "gone", *READING),
)
