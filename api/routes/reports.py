"""GET …/report.html and …/drawing.svg: a kept foot or visit as a page to be printed and signed, a foot as a picture."""

from __future__ import annotations

from http import HTTPStatus
from typing import Final, Literal, NamedTuple

from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import Response

from api.http.problems import READING
from api.http.route_scopes import needs
from api.openapi.operation import Answer, Content, Operation, add_operation
from api.parameters.language import CONTENT_LANGUAGE, StoredLanguageQuery
from api.parameters.query import Query
from api.routes.assessments import LIST, TAG
from api.routes.stored_record import (
    ASSESSMENT_ID,
    HTML,
    SVG,
    SVG_POLICY,
    TAGGED,
    answered,
    readable,
    stored_foot,
)
from api.routes.visits import VISIT_NAME, VISIT_PROBLEMS, visit_named
from api.store import AsyncStore
from fitcheck.drawing import Form
from fitcheck.records import Store
from fitcheck.report.html import PAPER_POLICY, REPORT_POLICY
from fitcheck.rulebooks.selection import localized_book
from fitcheck.stored import overrides_of, report_of_foot, report_of_visit
from rules import Rulebook

__all__ = ["add_drawings", "add_reports"]

_POLICIES: Final = {
    "screen": f"{REPORT_POLICY}; frame-ancestors 'none'",
    "paper": f"{PAPER_POLICY}; frame-ancestors 'none'",
}
_FOOT: Final = """For owner, farrier and assessor, on screen and on paper (A4): cautions first, what to do in working
order, the next visit, what was found and why, the drawing, what conforms, what was not assessed, measurements with
their uncertainty, sources in full, rulebook and record with their digests, and room for remarks and signatures. What
assessors changed in the marks stands beside the tool's own; a correction is named.

It tells what was kept; nothing is assessed anew. People stand in it by their ids alone. It is one file without script
that loads nothing else, so it can be saved and sent on. Its labels are in the language of lang, or else in that in
which the foot was answered.

form=paper is set to be printed: a foot on one A4 page, a visit on one more than it has feet, as long as not too much
was found. Readings, what conforms and sources are then left out."""
_VISIT: Final = """All feet of a visit as GET /v1/visits/{visit} puts them together, each as in its own report, and the
pairs, which are worked out now by the service's rulebook."""


class _ReportQuery(StoredLanguageQuery):
    form: Literal["screen", "paper"] = "screen"
    """With all readings, or set to be printed on one page a foot."""


def add_reports(app: FastAPI, async_store: AsyncStore, book: Rulebook) -> None:
    """Add the routes that report what is in ``async_store``; ``book`` is the service's rulebook."""

    @needs("read")
    async def show_foot(request: Request) -> Response:
        id_, query = request.path_params["id"], _ReportQuery.of(request)
        report = await async_store.read(lambda store: _of_foot(store, id_, book, query))
        return answered(request, report.page, HTML, _POLICIES[query.form], {"content-language": report.language})

    @needs("read")
    async def show_visit(request: Request) -> Response:
        visit, query = request.path_params["visit"], _ReportQuery.of(request)
        report = await async_store.read(lambda store: _of_visit(store, visit, book, query))
        return answered(request, report.page, HTML, _POLICIES[query.form], {"content-language": report.language})

    add_operation(app, f"{LIST}/{{id:assessment}}/report.html", show_foot, _FOOT_REPORT)
    add_operation(app, "/v1/visits/{visit:path}/report.html", show_visit, _VISIT_REPORT)


class _Report(NamedTuple):
    page: str
    language: str


def _of_foot(store: Store, id_: str, book: Rulebook, query: _ReportQuery) -> _Report:
    foot = stored_foot(store, id_, book)
    corrected_by = store.corrections_of([id_]).get(id_, [])
    with readable(id_):
        language, overrides = query.lang or foot.language, overrides_of(store, [id_])
        page = report_of_foot(foot, overrides, corrected_by, book, language, paper=query.form == "paper")
        return _Report(page, language)


def _of_visit(store: Store, visit: str, book: Rulebook, query: _ReportQuery) -> _Report:
    found = visit_named(store, visit, book)
    language = query.lang or found.language or localized_book(book).language
    return _Report(report_of_visit(found, book, language, paper=query.form == "paper"), language)


_DOC: Final = """The foot from below, its walls with nails and exits from the side, findings at their places, and the
same in words (title and desc). It is drawn from the fitting and the assessment as they were kept; nothing is assessed
anew. form=column is narrow, for a telephone; sheet sets the lists beside the views.

The bands in which nails may come out are those of the rulebook that judged. Where the service has another one since,
the drawing says so and leaves them out; findings and words stay as they were answered.

The picture has no script, style sheet or link, and may be shown under any content security policy."""


class _DrawingQuery(Query):
    form: Form = "column"
    """Narrow, or a sheet for paper."""


def add_drawings(app: FastAPI, async_store: AsyncStore, book: Rulebook) -> None:
    """Add the route that draws what is in ``async_store``, with ``book`` where that one judged."""

    @needs("read")
    async def show_drawing(request: Request) -> Response:
        form = _DrawingQuery.of(request).form
        id_ = request.path_params["id"]
        drawing = await async_store.read(lambda store: stored_foot(store, id_, book).drawing(form=form))
        return answered(request, drawing, SVG, SVG_POLICY)

    add_operation(app, f"{LIST}/{{id:assessment}}/drawing.svg", show_drawing, _DRAWING)


_REPORT: Final[dict[int, Answer]] = {
    HTTPStatus.OK: Answer("The report.", Content(media_type=HTML), TAGGED | CONTENT_LANGUAGE)
}
_FOOT_PROBLEMS: Final = ("not-found", "gone", "cannot-show", *READING)
_FOOT_REPORT: Final = Operation(
    name="report",
    tag=TAG,
    summary="One assessment that was kept, as a report",
    description=_FOOT,
    path=(ASSESSMENT_ID,),
    query=_ReportQuery,
    answers=_REPORT,
    problems=_FOOT_PROBLEMS,
)
_VISIT_REPORT: Final = Operation(
    name="visit_report",
    tag=TAG,
    summary="A visit as a report",
    description=_VISIT,
    path=(VISIT_NAME,),
    query=_ReportQuery,
    answers=_REPORT,
    problems=(*VISIT_PROBLEMS, *READING),
)
_DRAWING: Final = Operation(
    name="drawing",
    tag=TAG,
    summary="One assessment that was kept, as a drawing",
    description=_DOC,
    path=(ASSESSMENT_ID,),
    query=_DrawingQuery,
    answers={HTTPStatus.OK: Answer("The drawing.", Content(media_type=SVG), TAGGED)},
    problems=_FOOT_PROBLEMS,
)
