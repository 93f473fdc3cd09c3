"""GET …/marks and …/progress: the tool's marks of stored work, an assessor's beside them, and how they go over time."""

from __future__ import annotations

from collections.abc import Callable
from http import HTTPStatus
from typing import Any, Final, TypeVar

from fastapi import FastAPI
from pydantic import BaseModel, TypeAdapter, ValidationError
from starlette.requests import Request
from starlette.responses import Response

from api.http.headers import CONTENT_POLICY, JSON
from api.http.problems import READING, ProblemError
from api.http.route_scopes import needs
from api.openapi.operation import Answer, Content, Operation, add_operation
from api.parameters.query import Days, Query, not_too_many, parameter
from api.routes.assessments import LIST
from api.routes.overrides import MARKS_TAG
from api.routes.stored_record import (
    ASSESSMENT_ID,
    SVG,
    SVG_POLICY,
    TAGGED,
    answered,
    assessment_record,
    markable,
    readable,
)
from api.routes.visits import VISIT_NAME, VISIT_PROBLEMS, visit_named
from api.store import AsyncStore
from fitcheck.errors import Problem
from fitcheck.fitting.identity import Identifier
from fitcheck.fitting.strict_json import cut
from fitcheck.fitting.validation import summary
from fitcheck.marking import MarkSheet, VisitSheet
from fitcheck.marking.progress import Progress, progress_of
from fitcheck.marking.progress_plots import marks_plot, shares_plot
from fitcheck.records import RecordFilter, Store
from fitcheck.stored import assessment_of, overrides_of, sheet_of
from fitcheck.stored.marks import dated_sheets
from rules import Rulebook

__all__ = [
    "DECIDES_NOTHING",
    "PLOTS",
    "add_marks",
    "add_progress",
    "as_json",
    "stored_progress",
    "visit_sheet",
]

_Made = TypeVar("_Made")
DECIDES_NOTHING: Final = "Marks are for practice and decide nothing: the decision on the foot stands as it is."
_FOOT: Final = f"""The sheet of marks of one kept assessment by the marking scheme of the service's rulebook: each
criterion with what was taken off and why, the whole mark, and its band. Where assessors made overrides, assessor has
the reckoning with them beside the tool's own, and changes has every change with its reason. A critical finding leaves
no mark, whoever strikes it. {DECIDES_NOTHING}"""
_VISIT: Final = f"""The sheets of the feet that count at a visit, the marks of the pairs, and all of it added up.
{DECIDES_NOTHING}"""


def as_json(request: Request, found: BaseModel) -> Response:
    """The model as JSON, or 304 where the client has it."""
    return answered(request, found.model_dump_json(), JSON, CONTENT_POLICY)


def add_marks(app: FastAPI, async_store: AsyncStore, book: Rulebook) -> None:
    """Add the routes that mark what is in ``async_store`` by the scheme of ``book``."""

    @needs("read")
    async def show_foot(request: Request) -> Response:
        Query.of(request)
        id_ = request.path_params["id"]
        return as_json(request, await async_store.read(lambda store: _foot_sheet(store, id_, book)))

    @needs("read")
    async def show_visit(request: Request) -> Response:
        Query.of(request)
        visit = request.path_params["visit"]
        return as_json(request, await async_store.read(lambda store: visit_sheet(store, visit, book)))

    add_operation(app, f"{LIST}/{{id:assessment}}/marks", show_foot, _FOOT_MARKS)
    add_operation(app, "/v1/visits/{visit:path}/marks", show_visit, _VISIT_MARKS)


_FOOT_MARKS: Final = Operation(
    name="marks",
    tag=MARKS_TAG,
    summary="The marks of one assessment",
    description=_FOOT,
    path=(ASSESSMENT_ID,),
    query=Query,
    answers={HTTPStatus.OK: Answer("The marks of one assessment.", Content((MarkSheet,)), TAGGED)},
    problems=("not-found", "gone", "cannot-show", "cannot-mark", *READING),
)
_VISIT_MARKS: Final = Operation(
    name="visit_marks",
    tag=MARKS_TAG,
    summary="The marks of a visit",
    description=_VISIT,
    path=(VISIT_NAME,),
    query=Query,
    answers={HTTPStatus.OK: Answer("The marks of a visit.", Content((VisitSheet,)), TAGGED)},
    problems=(*VISIT_PROBLEMS, "cannot-mark", *READING),
)


def _foot_sheet(store: Store, id_: str, book: Rulebook) -> MarkSheet:
    record = assessment_record(store, id_)
    with readable(id_), markable(id_):
        return sheet_of(assessment_of(record), overrides_of(store, [id_]), book)


def visit_sheet(store: Store, visit: str, book: Rulebook) -> VisitSheet:
    """The marks of that visit. Raises ProblemError and StoreError."""
    found = visit_named(store, visit, book)
    with markable(visit):
        return found.sheet(book)


_DOC: Final = f"""How a person's work goes over time: for each criterion the share of feet on which nothing had to be
put right, with its 95 % interval; the marks over the days; whether they go up or down by more than chance may do; and
what to practise next. Corrected assessments are left out; an assessor's reckoning counts where there is one. from and
to are days in UTC of created, both included. {DECIDES_NOTHING}"""
_NAME: Final[TypeAdapter[str]] = TypeAdapter(Identifier)
_PERSON: Final = parameter("path", "person", "Who fitted the shoes, by the id in the fittings.", example="A-1")
_PATH: Final = "/v1/people/{person:path}/progress"
PLOTS: Final[dict[str, tuple[Callable[[Progress, Rulebook], str], str]]] = {
    "marks": (marks_plot, "The mark of each foot over the days"),
    "shares": (shares_plot, "The share of feet on which nothing had to be put right, by criterion"),
}
"""What is plotted, by the name of its file."""


def stored_progress(store: Store, person: str, days: Days, book: Rulebook, *, by_day: bool = False) -> Progress:
    """The progress of that person; ``by_day``: the days asked for are those of the fittings, as at the desk.

    Raises ProblemError of kind not-found, bad-query, cannot-show or cannot-mark.
    """
    detail = f'No work of a person "{cut(person)}" was kept in these days. GET /v1/assessments lists what was.'
    nobody = ProblemError(
        "not-found", detail, [Problem("path.person", summary(person), "a person in GET /v1/assessments", detail)]
    )
    try:
        _NAME.validate_python(person, strict=True)
    except ValidationError:
        raise nobody from None
    asked: Any = (
        {"first_day": days.days[0], "last_day": days.days[1]} if by_day else {"since": days.since, "until": days.until}
    )
    record_filter = RecordFilter(person=person, kind="assessment", superseded=False, **asked)
    with not_too_many(), readable(person), markable(person):
        feet = list(dated_sheets(store, record_filter, book))
    if not feet:
        raise nobody
    return progress_of(feet, book)


def add_progress(app: FastAPI, async_store: AsyncStore, book: Rulebook) -> None:
    """Add the routes that show the progress of people in ``async_store`` by the scheme of ``book``."""

    async def made_of(request: Request, make: Callable[[Progress], _Made]) -> _Made:
        days = Days.of(request)
        person = request.path_params["person"]
        return await async_store.read_much(lambda store: make(stored_progress(store, person, days, book)))

    @needs("read")
    async def show(request: Request) -> Response:
        return as_json(request, await made_of(request, lambda progress: progress))

    add_operation(app, _PATH, show, _progress("progress", "A person's progress", _DOC, Content((Progress,))))

    def add_plot(name: str, plot: Callable[[Progress, Rulebook], str], title: str) -> None:
        @needs("read")
        async def show_plot(request: Request) -> Response:
            drawing = await made_of(request, lambda progress: plot(progress, book))
            return answered(request, drawing, SVG, SVG_POLICY)

        drawn = f"{title}, as a picture of what GET /v1/people/{{person}}/progress says; from and to as there."
        plotted = _progress(f"progress_{name}", f"{title}, plotted", drawn, Content(media_type=SVG))
        add_operation(app, f"{_PATH}/{name}.svg", show_plot, plotted)

    for name, (plot, title) in PLOTS.items():
        add_plot(name, plot, title)


def _progress(name: str, summary: str, description: str, content: Content) -> Operation:
    return Operation(
        name=name,
        tag=MARKS_TAG,
        summary=summary,
        description=description,
        path=(_PERSON,),
        query=Days,
        answers={HTTPStatus.OK: Answer(f"{summary}.", content, TAGGED)},
        problems=("not-found", "cannot-show", "cannot-mark", *READING),
    )
