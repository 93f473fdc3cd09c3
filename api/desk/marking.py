"""/desk/queue and /desk/foot: feet marked by hand and blind, foot after foot, by keys; then held against the tool."""

from __future__ import annotations

import json
from collections.abc import Mapping
from http import HTTPStatus
from importlib.resources import files
from types import MappingProxyType
from typing import Any, Final, TypeVar
from urllib.parse import quote

from fastapi import FastAPI
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from api.assessing import gone
from api.desk.forms import DAYS, PATHS, Field, Links, query_of
from api.desk.frame import Frame
from api.desk.marked_foot import (
    MarkedFoot,
    changes_in,
    hand_draft,
    has_other_marks,
    once,
    read_foot,
    shown_blind,
    shown_compared,
    well_filled,
)
from api.desk.pages import DESK_TAG
from api.desk.queue import QUEUED, FootQuery, QueueQuery, foot_link, marker_of, onward, row_of
from api.desk.writing import PAGE_TOKEN, Fields, page_token_of, writes
from api.http.auth import key_of, require_scope
from api.http.problems import READING, ProblemError
from api.http.route_scopes import needs
from api.openapi.operation import Answer, Content, Operation, add_operation, header
from api.parameters.language import CONTENT_LANGUAGE
from api.parameters.query import Query
from api.routes.overrides import Overriding
from api.routes.stored_record import HTML, TAGGED
from api.store import AsyncStore
from fitcheck.marking import parse_override
from fitcheck.marking.by_hand import LONGEST_COMMENT
from fitcheck.records import Draft, Record, UnknownRecord
from fitcheck.report.html.rendering import policy
from fitcheck.stored.by_hand import Waiting, day_of, waiting_for
from fitcheck.view import foot_title
from rules import Rulebook

__all__ = ["add_marking"]

_Query = TypeVar("_Query", bound=QueueQuery)
_TEMPLATES: Final = files("api.desk").joinpath("templates")
_SCRIPT: Final = _TEMPLATES.joinpath("marking.js").read_text(encoding="utf-8")
_STYLE: Final = _TEMPLATES.joinpath("marking.css").read_text(encoding="utf-8")
_POLICY: Final = policy("form-action 'self'", styles=(_STYLE,), scripts=(_SCRIPT,))
_OWN_FILES: Final = {"marking_style": Markup(_STYLE), "marking_script": Markup(_SCRIPT)}  # noqa: S704  (our own files)
_BY: Final = Field("by", required=True)
_ONWARD: Final[Mapping[int, Answer]] = {
    HTTPStatus.SEE_OTHER: Answer(
        "Without a foot: the first that waits, or the feet to mark.",
        headers={"Location": header("The page to go to.", {"type": "string", "format": "uri-reference"})},
    )
}


def add_marking(app: FastAPI, async_store: AsyncStore, book: Rulebook) -> None:
    """Add the pages on which feet in ``async_store`` are marked by hand, by the scheme of ``book``."""
    pages = _Marking(async_store, book)
    add_operation(app, PATHS["queue"], needs("mark")(pages.queue), _page("queue", "The feet to mark", QueueQuery))
    add_operation(app, PATHS["foot"], needs("mark")(pages.foot), _page("foot", "One foot to mark", FootQuery, _ONWARD))
    app.add_route(PATHS["by_hand"], writes(pages.keep_marks), methods=["POST"], include_in_schema=False)
    app.add_route(PATHS["reasons"], writes(pages.keep_reasons), methods=["POST"], include_in_schema=False)


def _page(name: str, summary: str, query: type[Query], more: Mapping[int, Answer] = MappingProxyType({})) -> Operation:
    return Operation(
        name=f"desk_{name}",
        tag=DESK_TAG,
        summary=f"{summary}, as a page",
        description=f"{summary}, for a browser. Until the assessor has marked a foot by hand the page has neither what "
        "the tool found nor what anybody marked. It needs the key of a person, with the scopes read and mark; what its "
        "forms keep needs the token of the page. Empty parameters are taken as left out.",
        query=query,
        blank=True,
        answers={HTTPStatus.OK: Answer(f"{summary}.", Content(media_type=HTML), TAGGED | CONTENT_LANGUAGE), **more},
        problems=("not-found", "gone", "cannot-show", "cannot-mark", "not-in-own-name", *READING),
    )


class _Marking:
    """What each page shows, and what its forms keep."""

    def __init__(self, async_store: AsyncStore, book: Rulebook) -> None:
        self._async_store = async_store
        self._book = book

    async def queue(self, request: Request) -> Response:
        """The feet that wait for the assessor."""
        frame, marker, query = self._read_query(request, QueueQuery)
        found = None
        if marker is not None:
            found = await self._async_store.read(lambda store: waiting_for(store, marker, query.record_filter))
        links, waiting = frame.links, () if found is None else found.records
        first_day, last_day = query.days
        days = {"from": first_day or "", "to": last_day or ""}
        more = [Field(name) for name in QUEUED] + ([] if key_of(request.scope) else [_BY])
        return frame.answer(
            "queue.html",
            frame.messages.say("desk.title.queue"),
            "queue",
            _POLICY,
            fields=[field.shown(frame.messages, days[field.name]) for field in DAYS] + frame.fields(more),
            marker=marker,
            found=found,
            rows=[row_of(each, links, query, frame.messages) for each in waiting],
            people=[] if found is None else _people(found, links, days),
            begin=foot_link(links, waiting[0], query) if waiting else None,
            **_OWN_FILES,
        )

    async def foot(self, request: Request) -> Response:
        """One foot: to be marked, or marked by hand and held against the tool."""
        frame, marker, query = self._read_query(request, FootQuery)
        if marker is None:
            return _see(frame.links.page("queue", **query.filters))
        if query.assessment is None:
            found = await self._async_store.read(lambda store: waiting_for(store, marker, query.record_filter))
            return _see(onward(frame.links, found.records[0] if found.records else None, query))
        id_ = query.assessment
        foot = await self._async_store.read(lambda store: read_foot(store, id_, marker, query, frame.book))
        return _shown(frame, foot, marker, query)

    async def keep_marks(self, request: Request, fields: Fields) -> Response:
        """Keep the marks by hand of a foot, once for each assessor; what would change them later is told."""
        frame, marker, id_, query = self._sent(request)
        draft = await self._async_store.read(lambda store: hand_draft(store, id_, marker, fields, self._book))
        if draft is not None:
            await self._keep(draft, "marks by hand", id_, marker)
        foot = await self._async_store.read(lambda store: read_foot(store, id_, marker, query, frame.book))
        if foot.by_hand is not None and has_other_marks(foot.by_hand, fields):
            return _shown(frame, foot, marker, query, unkept=True)
        return _see(frame.links.page("foot", assessment=id_, **query.filters))

    async def keep_reasons(self, request: Request, fields: Fields) -> Response:
        """Keep, as an override, where the assessor stays with his own marks, and why; then on to the next foot."""
        frame, marker, id_, query = self._sent(request)
        foot = await self._async_store.read(lambda store: read_foot(store, id_, marker, query, self._book))
        if foot.by_hand is None:
            raise ProblemError("bad-form", "This foot has no marks by hand of yours yet. Mark it first.")
        changes = [] if foot.reasoned else list(changes_in(foot, fields, frame.messages))
        if changes:
            sent = {"about": id_, "assessor": {"id": marker}, "changes": changes}
            raw = json.dumps(sent, ensure_ascii=False).encode()
            with well_filled():
                asked = parse_override(sent)
            overriding = Overriding(self._async_store, self._book)
            draft = await self._async_store.read(lambda store: overriding.draft(store, id_, raw, asked))
            await self._keep(draft, "reasons", id_, marker)
        return _see(onward(frame.links, foot.place.next, query))

    async def _keep(self, draft: Draft, what: str, id_: str, marker: str) -> None:
        try:
            await self._async_store.keep_once(draft, once(what, id_, marker))
        except UnknownRecord:
            # It was erased since it was read.
            raise gone(id_) from None

    def _read_query(self, request: Request, model: type[_Query]) -> tuple[Frame, str | None, _Query]:
        """The page's frame, who marks, and what is asked for. Raises ProblemError."""
        require_scope(request.scope, "read")
        query = model.of(query_of(request))
        return Frame.of(request, self._book), marker_of(request, query), query

    def _sent(self, request: Request) -> tuple[Frame, str, str, FootQuery]:
        frame, marker, query = self._read_query(request, FootQuery)
        if marker is None or query.assessment is None:
            raise ProblemError("bad-form", "This form does not say which foot it is of, or who marks it.")
        return frame, marker, query.assessment, query


def _shown(frame: Frame, foot: MarkedFoot, marker: str, query: FootQuery, *, unkept: bool = False) -> Response:
    """The page of a foot; ``unkept``: marks were sent that differ from those that were kept before."""
    title = foot_title(foot.stored.fitting.foot, foot.stored.fitting.stage, frame.messages)
    heading = frame.messages.say("desk.title.foot", foot=title)
    parts = _around(frame.links, frame.request, foot, query) | _drafts(foot, marker)
    if foot.by_hand is None:
        parts |= shown_blind(foot, frame.book, marker)
        return frame.answer("blind.html", heading, "queue", _POLICY, **parts)
    parts |= shown_compared(foot, frame.book)
    return frame.answer("compared.html", heading, "queue", _POLICY, **parts, unkept=unkept)


def _drafts(foot: MarkedFoot, marker: str) -> dict[str, str]:
    """Under which name a browser keeps what is not sent yet, and under which what it need not keep any more."""
    marks, reasons = (
        f"fitcheck.{what}.{quote(marker, safe='')}.{foot.stored.record.id}" for what in ("marks", "reasons")
    )
    if foot.by_hand is None:
        return {"draft": marks}
    return {"draft": reasons, "sent_drafts": f"{marks} {reasons}" if foot.reasoned else marks}


def _people(found: Waiting, links: Links, days: dict[str, str]) -> list[tuple[str, str]]:
    """Whose work was marked, each with the sheet of what to practise."""
    names = dict.fromkeys(record.person for record in found.marked if record.person)
    return [
        (name, links.page("practice", person=name, **{key: day or None for key, day in days.items()})) for name in names
    ]


def _around(links: Links, request: Request, foot: MarkedFoot, query: FootQuery) -> dict[str, Any]:
    """What both pages of a foot have besides the foot: where it stands, where forms and links lead."""
    record: Record = foot.stored.record
    here = {"assessment": record.id, **query.filters}
    before = foot.place.before
    return {
        "record": record,
        "corrected": foot.corrected,
        "day": day_of(record),
        "left": foot.place.left,
        "next": onward(links, foot.place.next, query),
        "last": foot.place.next is None,
        "before": None if before is None else foot_link(links, before, query),
        "queue": links.page("queue", **query.filters),
        "action": links.page("by_hand", **here),
        "reasons_action": links.page("reasons", **here),
        "token_field": PAGE_TOKEN,
        "token": page_token_of(request),
        "longest_comment": LONGEST_COMMENT,
        # With no referrer at all a browser would not say either which origin a form is of.
        "referrer": "same-origin",
        **_OWN_FILES,
    }


def _see(address: str) -> Response:
    return RedirectResponse(address, HTTPStatus.SEE_OTHER)
