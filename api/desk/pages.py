"""/desk: what was kept as plain pages, with forms that only read and no script, in the language of the request."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from http import HTTPStatus
from typing import TYPE_CHECKING, Annotated, Final, Literal

from fastapi import FastAPI
from markupsafe import Markup
from pydantic import Field as Documented
from starlette.requests import Request
from starlette.responses import Response

from api.desk.forms import DAYS, FILTERS, ORDER, PATHS, RATERS, SORTED, WHO, Field, query_of
from api.desk.frame import Frame
from api.desk.tables import MarksTable, listed_rows, marks_table
from api.http.problems import READING, ProblemError
from api.http.route_scopes import needs
from api.openapi.operation import Answer, Content, Operation, add_operation
from api.parameters.language import CONTENT_LANGUAGE, LanguageQuery
from api.parameters.query import Days, Query, Who, not_too_many
from api.responses.records import StoredAssessments
from api.routes.agreement import AgreementQuery, agreement_of
from api.routes.assessments import MOST_LISTED, ListQuery, listed, page_of
from api.routes.marks import PLOTS, stored_progress, visit_sheet
from api.routes.stored_record import HTML, TAGGED, assessment_record, markable, readable
from api.store import AsyncStore
from fitcheck.fitting.identity import Identifier
from fitcheck.marking import MarkSheet, VisitSheet
from fitcheck.marking.practice import Practice, practice_of
from fitcheck.marking.practice_plot import practice_plot
from fitcheck.marking.progress import Progress, mark_text
from fitcheck.records import RecordFilter, Store
from fitcheck.settings import ServiceSettings
from fitcheck.stored import assessment_of, overrides_of, sheet_of
from fitcheck.stored.agreement_plot import agreement_plot
from fitcheck.stored.by_hand import day_of, looked_at, order_of
from fitcheck.stored.marks import MOST_SHEETS
from fitcheck.view import foot_title
from rules import Rulebook
from rules.lazy import lazily

if TYPE_CHECKING:
    from fitcheck.eye.side_by_side import EyeRow, side_by_side
else:
    side_by_side = lazily("fitcheck.eye.side_by_side", "side_by_side")

__all__ = ["DESK_TAG", "ListPageQuery", "add_pages"]

DESK_TAG: Final = "desk"
_PERSON: Final = Field("person", required=True)
_ASSESSOR: Final = Field("assessor")


class ListPageQuery(ListQuery, LanguageQuery):
    """Which kept assessments are listed; days are those of the fittings, and horse is a part of a name."""

    sorted: Literal["time", "horse"] = "time"
    """What they are ordered by: by horse the feet of each stand in the order in which one goes round it."""

    @property
    def record_filter(self) -> RecordFilter:
        """The same as the store takes it."""
        first_day, last_day = self.days
        asked = replace(super().record_filter, since=None, until=None, first_day=first_day, last_day=last_day)
        return replace(asked, horse=None, part_of_horse=self.horse)


class _MarksQuery(Days, Who, LanguageQuery):
    """Of which feet the marks are shown."""


class _Person(Query):
    person: Identifier | None = None
    """Who fitted the shoes, by the id in the fittings."""


class _ProgressQuery(Days, _Person, LanguageQuery):
    """Whose progress is shown, and of which days."""


class _EyesQuery(LanguageQuery):
    assessor: Identifier | None = None
    """Whose apprentices: those whose feet this assessor looked at."""


class _AgreementPageQuery(AgreementQuery, LanguageQuery):
    """Which two raters are compared."""


class _SheetQuery(LanguageQuery):
    assessment: Annotated[Identifier, Documented(description="The assessment's id.")]


def add_pages(app: FastAPI, async_store: AsyncStore, book: Rulebook, settings: ServiceSettings) -> None:
    """Add the pages on what is in ``async_store``, marked by ``book``."""
    shown = _Pages(async_store, book, ranked=settings.rank_eyes)
    for name, page, summary, query in (
        ("list", needs("read")(shown.listed), "Kept assessments as a page", ListPageQuery),
        ("marks", needs("read")(shown.marks), "Marks of many feet as a page", _MarksQuery),
        ("practice", needs("read")(shown.practice), "What a person should practise as a page", _ProgressQuery),
        ("progress", needs("read")(shown.progress), "A person's progress as a page", _ProgressQuery),
        ("agreement", needs("read")(shown.agreement), "Agreement of two raters as a page", _AgreementPageQuery),
        ("eyes", needs("read")(shown.eyes), "Eyes side by side as a page", _EyesQuery),
        ("sheet", needs("read")(shown.sheet), "The marks of one foot as a page", _SheetQuery),
    ):
        add_operation(app, PATHS[name], page, _page(name, summary, query))


def _page(name: str, summary: str, query: type[Query]) -> Operation:
    return Operation(
        name=f"desk_{name}",
        tag=DESK_TAG,
        summary=summary,
        description=f"{summary}, for a browser: no script, forms that only read. Empty parameters are taken as left "
        "out. A browser shows its access key by a cookie after signing in at /desk/sign-in; that cookie opens GET "
        "alone.",
        query=query,
        blank=query is not _SheetQuery,
        answers={HTTPStatus.OK: Answer(f"{summary}.", Content(media_type=HTML), TAGGED | CONTENT_LANGUAGE)},
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

    def __init__(self, async_store: AsyncStore, book: Rulebook, *, ranked: bool) -> None:
        self._async_store = async_store
        self._book = book
        self._ranked = ranked

    async def listed(self, request: Request) -> Response:
        """Kept assessments, page by page."""
        frame, request = Frame.of(request, self._book), query_of(request)
        query = ListPageQuery.of(request)
        page = await self._async_store.read(lambda store: _listing(store, query))
        filters = {name: value for name, value in request.query_params.items() if name != "after"}
        return frame.answer(
            "list.html",
            frame.messages.say("desk.title.list"),
            "list",
            fields=frame.fields((*FILTERS, ORDER, SORTED)),
            order=query.order if query.sorted == "time" else "horse",
            left_out=MOST_LISTED if query.sorted == "horse" and page.next is not None else None,
            csv=frame.links.page("csv", **filters),
            rows=list(listed_rows(page.assessments, frame.messages)),
            more=None
            if page.next is None or query.sorted == "horse"
            else frame.links.page("list", **filters, after=page.next),
        )

    async def marks(self, request: Request) -> Response:
        """The marks of many feet, such as those of a visit or of a day."""
        frame, request = Frame.of(request, self._book), query_of(request)
        query = _MarksQuery.of(request)
        visit = query.visit
        record_filter = RecordFilter(
            **query.model_dump(include=set(Who.model_fields)),
            kind="assessment",
            first_day=query.days[0],
            last_day=query.days[1],
            superseded=False,
        )
        asked = dict(request.query_params)

        def read(store: Store) -> tuple[MarksTable, VisitSheet | None]:
            nonlocal record_filter
            if not asked and (day := _latest_day(store)) is not None:
                record_filter = replace(record_filter, first_day=day, last_day=day)
                asked.update({"from": day, "to": day})
            table = marks_table(store, record_filter, frame.book)
            alone = visit is not None and list(request.query_params) == ["visit"] and table.rows
            return table, _visit_or_none(store, visit, frame.book) if visit is not None and alone else None

        table, whole = await self._async_store.read(read)
        say = frame.messages.say
        return frame.answer(
            "marks.html",
            say("desk.title.marks") if visit is None else say("desk.title.marks_visit", visit=visit),
            "marks",
            fields=[field.shown(frame.messages, asked.get(field.name, "")) for field in (*WHO, *DAYS)],
            columns=table.columns,
            rows=table.rows,
            left_out=table.left_out,
            visit_sheet=whole,
        )

    async def sheet(self, request: Request) -> Response:
        """The marks of one foot with every reason."""
        frame = Frame.of(request, self._book)
        id_ = _SheetQuery.of(request).assessment

        def read(store: Store) -> MarkSheet:
            record = assessment_record(store, id_)
            with readable(id_), markable(id_):
                return sheet_of(assessment_of(record), overrides_of(store, [id_]), frame.book)

        sheet = await self._async_store.read(read)
        foot = foot_title(sheet.foot, sheet.stage, frame.messages)
        return frame.answer("sheet.html", frame.messages.say("desk.title.sheet", foot=foot), sheet=sheet)

    async def practice(self, request: Request) -> Response:
        """What marks by hand tell somebody to practise."""
        frame, request = Frame.of(request, self._book), query_of(request)
        query = _ProgressQuery.of(request)
        person, say, found = query.person, frame.messages.say, None
        if person is not None:

            def read(store: Store) -> Practice:
                with not_too_many(), readable(person):
                    return practice_of(looked_at(store, person, *query.days, MOST_SHEETS), frame.book)

            found = await self._async_store.read_much(read)
        return frame.answer(
            "practice.html",
            say("desk.title.practice") if person is None else say("desk.title.practice_of", person=person),
            "practice",
            fields=frame.fields((_PERSON, *DAYS)),
            found=found,
            first=next((row.title for row in found.rows if row.remarks), None) if found else None,
            plot=Markup(practice_plot(found, frame.book)) if found else None,  # noqa: S704  (it escapes what it is given)
        )

    async def progress(self, request: Request) -> Response:
        """How somebody's work goes over time."""
        frame, request = Frame.of(request, self._book), query_of(request)
        query = _ProgressQuery.of(request)
        person = query.person
        found = plots = None
        if person is not None:

            def read(store: Store) -> tuple[Progress, list[Markup]]:
                progress = stored_progress(store, person, query, frame.book, by_day=True)
                # The plots escape what they are given.
                return progress, [Markup(plot(progress, frame.book)) for plot, _ in PLOTS.values()]  # noqa: S704

            found, plots = await self._async_store.read_much(read)
        say = frame.messages.say
        return frame.answer(
            "progress.html",
            say("desk.title.progress") if person is None else say("desk.title.progress_of", person=person),
            "progress",
            fields=frame.fields((_PERSON, *DAYS)),
            progress=found,
            plots=plots,
            mark_text=partial(mark_text, messages=frame.messages),
        )

    async def eyes(self, request: Request) -> Response:
        """How good the eyes of an assessor's apprentices are, side by side."""
        frame, request = Frame.of(request, self._book), query_of(request)
        query = _EyesQuery.of(request)

        def read(store: Store) -> list[EyeRow]:
            with not_too_many():
                return side_by_side(store, query.assessor, frame.book, ranked=self._ranked)

        rows = await self._async_store.read_much(read)
        title = frame.messages.say("desk.title.eyes")
        fields = frame.fields((_ASSESSOR,))
        return frame.answer("eyes.html", title, "eyes", fields=fields, rows=rows, ranked=self._ranked)

    async def agreement(self, request: Request) -> Response:
        """How far two raters agree."""
        frame, request = Frame.of(request, self._book), query_of(request)
        title, found, plot = frame.messages.say("desk.title.agreement"), None, None
        if request.query_params:
            query = _AgreementPageQuery.of(request)
            found = await self._async_store.read_much(lambda store: agreement_of(store, query, frame.book, by_day=True))
            plot = Markup(agreement_plot(found, frame.book))  # noqa: S704  (it escapes what it is given)
            title = frame.messages.say("desk.title.agreement_of", first=found.first, second=found.second)
        return frame.answer(
            "agreement.html", title, "agreement", fields=frame.fields((*RATERS, *DAYS)), found=found, plot=plot
        )


def _latest_day(store: Store) -> str | None:
    """The day of the fitting that was kept last; None where nothing was."""
    found = store.records(RecordFilter(kind="assessment", superseded=False), limit=1)
    return day_of(found[0]) if found else None


def _listing(store: Store, query: ListPageQuery) -> StoredAssessments:
    """The page; by horse, the newest of all that are wanted in the order of their horses."""
    if query.sorted == "time":
        return page_of(store, query)[0]
    found = store.records(query.record_filter, newest_first=query.order == "newest", limit=MOST_LISTED + 1)
    ordered = sorted(found[:MOST_LISTED], key=lambda record: (record.horse or "", *order_of(record)))
    more = query.next_page(found[-1].number)[0] if len(found) > MOST_LISTED else None
    return StoredAssessments(assessments=listed(store, ordered), next=more)


def _visit_or_none(store: Store, visit: str, book: Rulebook) -> VisitSheet | None:
    """The visit as a whole, where it is one."""
    try:
        return visit_sheet(store, visit, book)
    except ProblemError as error:
        if error.kind.status in {HTTPStatus.CONFLICT, HTTPStatus.NOT_FOUND}:
            return None
        raise
