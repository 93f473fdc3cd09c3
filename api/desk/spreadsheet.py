"""/desk/list.csv: the list of kept assessments as a table for a spreadsheet, no cell of which is a formula."""

from __future__ import annotations

import csv
from dataclasses import replace
from http import HTTPStatus
from io import StringIO
from typing import Final

from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import Response

from api.desk.forms import PATHS, query_of
from api.desk.pages import DESK_TAG, ListPageQuery
from api.http.problems import READING
from api.http.route_scopes import needs
from api.openapi.operation import Answer, Content, Operation, add_operation
from api.parameters.language import requested_language
from api.parameters.query import not_too_many
from api.routes.assessments import listed
from api.store import AsyncStore
from fitcheck.records import Store
from fitcheck.records.exchange.spreadsheet import safe_cell
from fitcheck.stored.by_hand import order_of

__all__ = ["MOST_ROWS", "add_spreadsheet"]

MOST_ROWS: Final = 5000
_COLUMNS: Final = (
    "id", "created", "fitted", "horse", "visit", "foot", "stage", "decision", "person", "assessor", "superseded",
    "erased",
)  # fmt: skip
_CSV: Final = "text/csv"
_TABLE: Final = Operation(
    name="desk_list_csv",
    tag=DESK_TAG,
    summary="Kept assessments as a table",
    description=f"What /desk lists, as CSV (RFC 4180) in UTF-8, {MOST_ROWS} rows at most, with the names that the API "
    "has for fields and words. A cell that a spreadsheet would take for a formula has an apostrophe before it. Empty "
    "parameters are taken as left out.",
    query=ListPageQuery,
    answers={HTTPStatus.OK: Answer("The table.", Content(media_type=_CSV))},
    problems=READING,
)


def add_spreadsheet(app: FastAPI, async_store: AsyncStore) -> None:
    """Add the route that gives out the list of what is in ``async_store``."""

    @needs("read")
    async def table(request: Request) -> Response:
        requested_language(request)  # names of fields and words have none, but a wrong one is a fault as on /desk
        query = ListPageQuery.of(query_of(request))
        text = await async_store.read_much(lambda store: _table(store, query))
        headers = {"content-disposition": 'attachment; filename="assessments.csv"'}
        return Response(text, headers=headers, media_type=_CSV)

    add_operation(app, PATHS["csv"], table, _TABLE)


def _table(store: Store, query: ListPageQuery) -> str:
    with not_too_many():
        found = store.each_record(query.record_filter, most=MOST_ROWS)
        # Bodies and answers of thousands need not lie in memory together.
        records = [replace(each, received=b"", answer=b"") for each in found]
    if query.sorted == "horse":
        records.sort(key=lambda record: (record.horse or "", *order_of(record)))
    elif query.order == "newest":
        records.reverse()
    fitted = {record.id: record.fitted for record in records}
    written = StringIO()
    rows = csv.writer(written)
    rows.writerow(_COLUMNS)
    for each in listed(store, records):
        cells = each.model_dump(mode="json") | {"fitted": fitted[each.id]}
        rows.writerow([_cell(cells[name]) for name in _COLUMNS])
    return written.getvalue()


def _cell(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    return "" if value is None else safe_cell(str(value))
