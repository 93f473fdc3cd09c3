"""GET /v1/people/{person}/progress: how somebody's work goes over time, as figures and as plots."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final, TypeVar

from fastapi import FastAPI
from pydantic import TypeAdapter, ValidationError
from starlette.requests import Request
from starlette.responses import Response

from api.http.problems import ProblemError
from api.http.route_scopes import needs
from api.openapi.document import media
from api.parameters.days import DAYS, Days, days_of, not_too_many
from api.parameters.query import known_only
from api.routes.marks import DECIDES_NOTHING, OperationDoc, as_json, operation
from api.routes.overrides import MARKS_TAG
from api.routes.stored_record import SVG, SVG_POLICY, answered, markable, readable
from api.store import AsyncStore
from fitcheck.errors import Problem
from fitcheck.fitting.identity import Identifier
from fitcheck.fitting.strict_json import cut
from fitcheck.fitting.validation import summary
from fitcheck.marking.progress import Progress, progress_of
from fitcheck.marking.progress_plots import marks_plot, shares_plot
from fitcheck.records import RecordFilter, Store
from fitcheck.stored.marks import dated_sheets
from rules import Rulebook

__all__ = ["PLOTS", "add_progress", "stored_progress"]

_DOC: Final = f"""How a person's work goes over time: for each criterion the share of feet on which nothing had to be
put right, with its 95 % interval; the marks over the days; whether they go up or down by more than chance may do; and
what to practise next. Corrected assessments are left out; an assessor's reckoning counts where there is one. from and
to are days in UTC of created, both included. {DECIDES_NOTHING}"""
_PROBLEMS: Final = ("not-found", "cannot-show", "cannot-mark")
_NAME: Final[TypeAdapter[str]] = TypeAdapter(Identifier)
_PERSON: Final[dict[str, Any]] = {
    "name": "person",
    "in": "path",
    "required": True,
    "description": "Who fitted the shoes, by the id in the fittings.",
    "schema": {"type": "string"},
    "example": "A-1",
}
_Made = TypeVar("_Made")
_PATH: Final = "/v1/people/{person:path}/progress"
PLOTS: Final[dict[str, tuple[Callable[[Progress, Rulebook], str], str]]] = {
    "marks": (marks_plot, "The mark of each foot over the days"),
    "shares": (shares_plot, "The share of feet on which nothing had to be put right, by criterion"),
}
"""What is plotted, by the name of its file."""


def stored_progress(store: Store, person: str, days: Days, book: Rulebook) -> Progress:
    """The progress of that person. Raises ProblemError of kind not-found, bad-query, cannot-show or cannot-mark."""
    detail = f'No work of a person "{cut(person)}" was kept in these days. GET /v1/assessments lists what was.'
    nobody = ProblemError(
        "not-found", detail, [Problem("path.person", summary(person), "a person in GET /v1/assessments", detail)]
    )
    try:
        _NAME.validate_python(person, strict=True)
    except ValidationError:
        raise nobody from None
    record_filter = RecordFilter(person=person, kind="assessment", since=days.since, until=days.until, superseded=False)
    with not_too_many(), readable(person), markable(person):
        feet = list(dated_sheets(store, record_filter, book))
    if not feet:
        raise nobody
    return progress_of(feet, book)


def add_progress(app: FastAPI, async_store: AsyncStore, book: Rulebook) -> None:
    """Add the routes that show the progress of people in ``async_store`` by the scheme of ``book``."""

    async def made_of(request: Request, make: Callable[[Progress], _Made]) -> _Made:
        known_only(request, ("from", "to"))
        days = days_of(request)
        person = request.path_params["person"]
        return await async_store.read_much(lambda store: make(stored_progress(store, person, days, book)))

    @needs("read")
    async def show(request: Request) -> Response:
        return as_json(request, await made_of(request, lambda progress: progress))

    parameters = [_PERSON, *DAYS]
    doc = OperationDoc("progress", "A person's progress", _DOC, parameters, _PROBLEMS)
    app.add_api_route(_PATH, show, **operation(doc, MARKS_TAG, media(Progress)))

    def add_plot(name: str, plot: Callable[[Progress, Rulebook], str], title: str) -> None:
        @needs("read")
        async def show_plot(request: Request) -> Response:
            drawing = await made_of(request, lambda progress: plot(progress, book))
            return answered(request, drawing, SVG, SVG_POLICY)

        drawn = f"{title}, as a picture of what GET /v1/people/{{person}}/progress says; from and to as there."
        doc = OperationDoc(f"progress_{name}", f"{title}, plotted", drawn, parameters, _PROBLEMS)
        content = {SVG: {"schema": {"type": "string"}}}
        app.add_api_route(f"{_PATH}/{name}.svg", show_plot, **operation(doc, MARKS_TAG, content))

    for name, (plot, title) in PLOTS.items():
        add_plot(name, plot, title)
