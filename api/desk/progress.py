"""GET /v1/people/{person}/progress: how somebody's work goes over time, as figures and as plots."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import Response

from api.access import needs
from api.desk.kept import SVG, SVG_POLICY, answered
from api.desk.marks import DECIDES_NOTHING, Told, as_json, operation
from api.desk.override_routes import MARKS_TAG
from api.desk.people import DAYS, PERSON, days_asked, progress_kept
from api.kept_store import KeptStore
from api.openapi import media
from api.queries import known_only
from fitcheck.marking.plots import marks_plot, shares_plot
from fitcheck.marking.progress import Progress
from rules import Rulebook

__all__ = ["PLOTS", "add_progress"]

_TOLD: Final = f"""How a person's work goes over time: for each criterion the share of feet on which nothing had to be
put right, with its 95 % interval; the marks over the days; whether they go up or down by more than chance may do; and
what to practise next. Corrected assessments are left out; an assessor's reckoning counts where there is one. from and
to are days in UTC of created, both included. {DECIDES_NOTHING}"""
_PROBLEMS: Final = ("not-found", "cannot-show", "cannot-mark")
_PATH: Final = "/v1/people/{person:path}/progress"
PLOTS: Final[dict[str, tuple[Callable[[Progress, Rulebook], str], str]]] = {
    "marks": (marks_plot, "The mark of each foot over the days"),
    "shares": (shares_plot, "The share of feet on which nothing had to be put right, by criterion"),
}
"""What is plotted, by the name of its file."""


def add_progress(app: FastAPI, kept: KeptStore, book: Rulebook) -> None:
    """Add the routes that show the progress of people in ``kept`` by the scheme of ``book``."""

    async def progress(request: Request) -> Progress:
        known_only(request, ("from", "to"))
        days = days_asked(request)
        person = request.path_params["person"]
        return await kept.read(lambda store: progress_kept(store, person, days, book))

    @needs("read")
    async def show(request: Request) -> Response:
        return as_json(request, await progress(request))

    parameters = [PERSON, *DAYS]
    told = Told("progress", "A person's progress", _TOLD, parameters, _PROBLEMS)
    app.add_api_route(_PATH, show, **operation(told, MARKS_TAG, media(Progress)))

    def add_plot(name: str, plot: Callable[[Progress, Rulebook], str], title: str) -> None:
        @needs("read")
        async def show_plot(request: Request) -> Response:
            return answered(request, plot(await progress(request), book), SVG, SVG_POLICY)

        drawn = f"{title}, as a picture of what GET /v1/people/{{person}}/progress says; from and to as there."
        told = Told(f"progress_{name}", f"{title}, plotted", drawn, parameters, _PROBLEMS)
        content = {SVG: {"schema": {"type": "string"}}}
        app.add_api_route(f"{_PATH}/{name}.svg", show_plot, **operation(told, MARKS_TAG, content))

    for name, (plot, title) in PLOTS.items():
        add_plot(name, plot, title)
