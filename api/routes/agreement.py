"""GET /v1/agreement: how far two raters agree over what was kept."""

from __future__ import annotations

from http import HTTPStatus
from typing import Annotated, Any, Final

from fastapi import FastAPI
from pydantic import Field
from starlette.requests import Request
from starlette.responses import Response

from api.http.problems import READING
from api.http.route_scopes import needs
from api.openapi.operation import Answer, Content, Operation, add_operation
from api.parameters.query import Days, Query, not_too_many, refuse
from api.routes.marks import as_json
from api.routes.overrides import MARKS_TAG
from api.routes.stored_record import TAGGED
from api.store import AsyncStore
from fitcheck.errors import BadInput
from fitcheck.fitting.identity import Identifier
from fitcheck.records import Store
from fitcheck.stored.rater_report import Agreement, rater_report
from rules import Rulebook

__all__ = ["AgreementQuery", "add_agreement", "agreement_of"]

_DOC: Final = """Two raters, each an assessor by id or tool, over the feet that both judged: for each criterion the
share of equal grades and kappa (no weights, linear, quadratic) with 95 % intervals, on what they differ most, and
every foot on which they differ, with the assessments behind it.

An assessor judges a foot by an assessment that names them as assessor, by marks by hand, or by an override of any
assessment that they had not marked by hand; the latest of each rater and foot counts, and what a later assessment
corrects counts nowhere. One foot is the same horse, visit,
foot and stage: fittings without horse or visit are left out and counted in nameless.

The tool judges what somebody read. Against an assessor who went over an assessment it is that one as it was answered;
against one who read the foot themselves it is the latest that somebody else read. Whoever made an override had seen
what the tool said: overrides tells how many such judgements there are; blind, how many marks by hand came before.

What was not assessed is never taken as good. Where a figure would say nothing it is null, and why says why. from and
to are days in UTC of created, both included."""
_Rater = Annotated[Identifier, Field(description="An assessor's id, or tool.")]


class _Raters(Query):
    first: _Rater
    second: _Rater


class AgreementQuery(Days, _Raters):
    """Whose judgements are compared, and of which days."""


def add_agreement(app: FastAPI, async_store: AsyncStore, book: Rulebook) -> None:
    """Add the route that compares raters in ``async_store``; ``book`` applies overrides and names criteria."""

    @needs("read")
    async def show(request: Request) -> Response:
        query = AgreementQuery.of(request)
        return as_json(request, await async_store.read_much(lambda store: agreement_of(store, query, book)))

    add_operation(app, "/v1/agreement", show, _AGREEMENT)


_AGREEMENT: Final = Operation(
    name="agreement",
    tag=MARKS_TAG,
    summary="How far two raters agree",
    description=_DOC,
    query=AgreementQuery,
    answers={HTTPStatus.OK: Answer("How far two raters agree.", Content((Agreement,)), TAGGED)},
    problems=READING,
)


def agreement_of(store: Store, query: AgreementQuery, book: Rulebook, *, by_day: bool = False) -> Agreement:
    """How far the two agree; ``by_day``: the days asked for are those of the fittings, as at the desk.

    Raises ProblemError and StoreError.
    """
    asked: Any = {"days": query.days} if by_day else {"since": query.since, "until": query.until}
    with not_too_many():
        try:
            return rater_report(store, query.first, query.second, book, **asked)
        except BadInput as error:
            fault = error.problems[0]
            refuse(fault.field, fault.value, fault.allowed, fault.detail)
