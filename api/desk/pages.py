"""/desk: what was kept as plain pages, with forms that only read and no script."""

from __future__ import annotations

from http import HTTPStatus
from typing import Annotated, Any, Final

from fastapi import FastAPI
from markupsafe import Markup
from pydantic import Field as Documented
from starlette.requests import Request
from starlette.responses import Response

from api.desk.addresses import desk_address, drawing_address, report_address, sheet_address
from api.desk.forms import DAYS, FILTERS, ORDER, RATERS, WHO, Field, filled_in, without_blanks
from api.desk.tables import MarksTable, listed_rows, marks_table
from api.http.problems import READING, ProblemError
from api.http.route_scopes import needs
from api.openapi.operation import Answer, Content, Operation, add_operation
from api.parameters.query import Days, Query, Who
from api.routes.agreement import AgreementQuery, agreement_of
from api.routes.assessments import ListQuery, page_of
from api.routes.marks import DECIDES_NOTHING, PLOTS, stored_progress, visit_sheet
from api.routes.stored_record import HTML, TAGGED, answered, assessment_record, markable, readable
from api.store import AsyncStore
from fitcheck.drawing import shipped_words
from fitcheck.fitting.identity import Identifier
from fitcheck.marking import MarkSheet, VisitSheet
from fitcheck.records import RecordFilter, Store
from fitcheck.report.html.rendering import filled, policy
from fitcheck.stored import assessment_of, overrides_of, sheet_of
from rules import Rulebook

__all__ = ["DESK_TAG", "PAGE_POLICY", "add_pages", "desk_page", "page_as_made"]

DESK_TAG: Final = "desk"
PAGE_POLICY: Final = policy("form-action 'self'")
_PERSON: Final = Field("person", "Fitted by", required=True)


class _MarksQuery(Days, Who):
    """Of which feet the marks are shown."""


class _Person(Query):
    person: Identifier | None = None
    """Who fitted the shoes, by the id in the fittings."""


class _ProgressQuery(Days, _Person):
    """Whose progress is shown, and of which days."""


class _SheetQuery(Query):
    assessment: Annotated[Identifier, Documented(description="The assessment's id.")]


def page_as_made(template: str, title: str, here: str = "", **parts: Any) -> str:
    """A page of the desk; ``here`` is its address in the row of links."""
    return filled(template, package="api.desk", title=title, here=here, policy=PAGE_POLICY, **parts)


def desk_page(request: Request, template: str, title: str, here: str = "", **parts: Any) -> Response:
    """The answer with such a page; 304 where the browser has it."""
    page = page_as_made(template, title, here, **parts)
    return answered(request, page, HTML, f"{PAGE_POLICY}; frame-ancestors 'none'")


def add_pages(app: FastAPI, async_store: AsyncStore, book: Rulebook) -> None:
    """Add the pages on what is in ``async_store``, marked by ``book``."""
    shown = _Pages(async_store, book)
    for path, page, summary, query in (
        ("/desk", needs("read")(shown.listed), "Kept assessments as a page", ListQuery),
        ("/desk/marks", needs("read")(shown.marks), "Marks of many feet as a page", _MarksQuery),
        ("/desk/progress", needs("read")(shown.progress), "A person's progress as a page", _ProgressQuery),
        ("/desk/agreement", needs("read")(shown.agreement), "Agreement of two raters as a page", AgreementQuery),
        ("/desk/sheet", needs("read")(shown.sheet), "The marks of one foot as a page", _SheetQuery),
    ):
        add_operation(app, path, page, _page(path, summary, query))


def _page(path: str, summary: str, query: type[Query]) -> Operation:
    return Operation(
        name="desk_" + (path.removeprefix("/desk").strip("/") or "list"),
        tag=DESK_TAG,
        summary=summary,
        description=f"{summary}, for a browser: no script, forms that only read. Empty parameters are taken as left "
        "out. A browser shows its access key by a cookie after signing in at /desk/sign-in; that cookie opens GET "
        "alone.",
        query=query,
        blank=query is not _SheetQuery,
        answers={HTTPStatus.OK: Answer(f"{summary}.", Content(media_type=HTML), TAGGED)},
        problems=(
            "not-found",
            "gone",
            "cannot-show",
            "cannot-mark",
            "visit-in-conflict",
            "not-assessed",
            *READING,
        ),
    )


class _Pages:
    """What each page shows."""

    def __init__(self, async_store: AsyncStore, book: Rulebook) -> None:
        self._async_store = async_store
        self._book = book

    async def listed(self, request: Request) -> Response:
        """Kept assessments, page by page."""
        request = without_blanks(request)
        query = ListQuery.of(request)
        page, _ = await self._async_store.read(lambda store: page_of(store, query))
        filters = {name: value for name, value in request.query_params.items() if name != "after"}
        return desk_page(
            request,
            "list.html",
            "Kept assessments",
            "/desk",
            fields=filled_in((*FILTERS, ORDER), request),
            newest=query.order == "newest",
            rows=list(listed_rows(page.assessments)),
            more=None if page.next is None else desk_address("", **filters, after=page.next),
        )

    async def marks(self, request: Request) -> Response:
        """The marks of many feet, such as those of a visit or of a day."""
        request = without_blanks(request)
        query = _MarksQuery.of(request)
        visit = query.visit
        record_filter = RecordFilter(
            **query.model_dump(include=set(Who.model_fields)),
            kind="assessment",
            since=query.since,
            until=query.until,
            superseded=False,
        )
        searched = bool(request.query_params)

        def read(store: Store) -> tuple[MarksTable, VisitSheet | None]:
            table = marks_table(store, record_filter, self._book)
            alone = visit is not None and list(request.query_params) == ["visit"] and table.rows
            return table, _visit_or_none(store, visit, self._book) if visit is not None and alone else None

        table, whole = await self._async_store.read(read) if searched else (MarksTable((), (), left_out=False), None)
        return desk_page(
            request,
            "marks.html",
            f"Marks: visit {visit}" if visit else "Marks",
            "/desk/marks",
            fields=filled_in((*WHO, *DAYS), request),
            decides_nothing=DECIDES_NOTHING,
            searched=searched,
            columns=table.columns,
            rows=table.rows,
            left_out=table.left_out,
            visit_sheet=whole,
        )

    async def sheet(self, request: Request) -> Response:
        """The marks of one foot with every reason."""
        id_ = _SheetQuery.of(request).assessment

        def read(store: Store) -> MarkSheet:
            record = assessment_record(store, id_)
            with readable(id_), markable(id_):
                return sheet_of(assessment_of(record), overrides_of(store, [id_]), self._book)

        sheet = await self._async_store.read(read)
        say = shipped_words().say
        return desk_page(
            request,
            "sheet.html",
            f"Marks: {say(f'foot.{sheet.foot}')}, {say(f'stage.{sheet.stage}')}",
            sheet=sheet,
            decision_text=say(f"decision.{sheet.decision}"),
            report=report_address(id_),
            drawing=drawing_address(id_),
        )

    async def progress(self, request: Request) -> Response:
        """How somebody's work goes over time."""
        request = without_blanks(request)
        query = _ProgressQuery.of(request)
        person = query.person
        found = plots = None
        if person is not None:
            found = await self._async_store.read(lambda store: stored_progress(store, person, query, self._book))
            # The plots escape what they are given.
            plots = [Markup(plot(found, self._book)) for plot, _ in PLOTS.values()]  # noqa: S704
        return desk_page(
            request,
            "progress.html",
            "Progress" if person is None else f"Progress of {person}",
            "/desk/progress",
            fields=filled_in((_PERSON, *DAYS), request),
            decides_nothing=DECIDES_NOTHING,
            progress=found,
            plots=plots,
            sheet_of=sheet_address,
        )

    async def agreement(self, request: Request) -> Response:
        """How far two raters agree."""
        request = without_blanks(request)
        found = None
        if request.query_params:
            query = AgreementQuery.of(request)
            found = await self._async_store.read(lambda store: agreement_of(store, query, self._book))
        return desk_page(
            request,
            "agreement.html",
            "Agreement of raters" if found is None else f"Agreement: {found.first} and {found.second}",
            "/desk/agreement",
            fields=filled_in((*RATERS, *DAYS), request),
            found=found,
            sheet_of=sheet_address,
        )


def _visit_or_none(store: Store, visit: str, book: Rulebook) -> VisitSheet | None:
    """The visit as a whole, where it is one."""
    try:
        return visit_sheet(store, visit, book)
    except ProblemError as error:
        if error.kind.status in {HTTPStatus.CONFLICT, HTTPStatus.NOT_FOUND}:
            return None
        raise
