"""GET /v1/agreement: how far two raters agree over what was kept."""

from __future__ import annotations

from typing import Any, Final, NoReturn

from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import Response

from api.http.problems import ProblemError
from api.http.route_scopes import needs
from api.openapi.document import media
from api.parameters.query import DAYS, Days, days_of, identifier, known_only, not_too_many
from api.routes.marks import OperationDoc, as_json, operation
from api.routes.overrides import MARKS_TAG
from api.store import AsyncStore
from fitcheck.errors import BadInput, Problem
from fitcheck.records import Store
from fitcheck.stored.rater_report import Agreement, rater_report
from rules import Rulebook

__all__ = ["RATER_PARAMETERS", "add_agreement", "agreement_of", "raters_of"]

_DOC: Final = """Two raters, each an assessor by id or tool, over the feet that both judged: for each criterion the
share of equal grades and kappa (no weights, linear, quadratic) with 95 % intervals, on what they differ most, and
every foot on which they differ, with the assessments behind it.

An assessor judges a foot by an assessment that names them as assessor, or by an override of any assessment; the latest
of each rater and foot counts, and what a later assessment corrects counts nowhere. One foot is the same horse, visit,
foot and stage: fittings without horse or visit are left out and counted in nameless.

The tool judges what somebody read. Against an assessor who went over an assessment it is that one as it was answered;
against one who read the foot themselves it is the latest that somebody else read. Whoever made an override had seen
what the tool said: overrides tells how many such judgements there are.

What was not assessed is never taken as good. Where a figure would say nothing it is null, and why says why. from and
to are days in UTC of created, both included."""
RATER_PARAMETERS: Final[tuple[dict[str, Any], ...]] = tuple(
    {
        "name": name,
        "in": "query",
        "required": True,
        "description": "An assessor's id, or tool.",
        "schema": {"type": "string", "minLength": 1, "maxLength": 64},
    }
    for name in ("first", "second")
)


def add_agreement(app: FastAPI, async_store: AsyncStore, book: Rulebook) -> None:
    """Add the route that compares raters in ``async_store``; ``book`` applies overrides and names criteria."""

    @needs("read")
    async def show(request: Request) -> Response:
        known_only(request, ("first", "second", "from", "to"))
        first, second = raters_of(request)
        days = days_of(request)
        return as_json(request, await async_store.read(lambda store: agreement_of(store, first, second, days, book)))

    doc = OperationDoc("agreement", "How far two raters agree", _DOC, [*RATER_PARAMETERS, *DAYS], ())
    app.add_api_route("/v1/agreement", show, **operation(doc, MARKS_TAG, media(Agreement)))


def raters_of(request: Request) -> tuple[str, str]:
    """The two raters of the query. Raises ProblemError."""
    first, second = identifier(request, "first"), identifier(request, "second")
    for name, value in (("first", first), ("second", second)):
        if value is None:
            _refuse(
                Problem(
                    f"query.{name}",
                    None,
                    "an assessor's id, or tool",
                    f'The query parameter "{name}" is missing. Add it.',
                )
            )
    return first or "", second or ""


def agreement_of(store: Store, first: str, second: str, days: Days, book: Rulebook) -> Agreement:
    """How far the two agree. Raises ProblemError and StoreError."""
    with not_too_many():
        try:
            return rater_report(store, first, second, book, since=days.since, until=days.until)
        except BadInput as error:
            fault = error.problems[0]
            _refuse(Problem(f"query.{fault.field}", fault.value, fault.allowed, fault.detail))


def _refuse(fault: Problem) -> NoReturn:
    raise ProblemError("bad-query", f"The query of this address is wrong: {fault.detail}", [fault])
