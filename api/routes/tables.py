"""GET /v1/findings.csv and /v1/readings.csv: what is kept, a row to a finding or a reading."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from http import HTTPStatus
from typing import Final

from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import Response

from api.http.problems import READING, ProblemError
from api.http.route_scopes import needs
from api.openapi.operation import Answer, Content, Operation, add_operation, header
from api.parameters.query import not_too_many
from api.routes.assessments import TAG, Filtered
from api.store import AsyncStore
from fitcheck.records import Record, Store
from fitcheck.stored import Unreadable, table_by_finding, table_by_reading

__all__ = ["CSV", "add_tables"]

CSV: Final = "text/csv"
MOST_ASSESSMENTS: Final = 2000
_Table = Callable[[Iterable[Record]], str]
_DOC: Final = """As CSV (RFC 4180, UTF-8, a header line), the oldest assessment first, for spreadsheets and statistics.
The filters are those of GET /v1/assessments. Units stand beside their codes of the Unified Code for Units of Measure. A
text that a spreadsheet would take for a formula begins with an apostrophe; take one off where a program reads it. At
most 2,000 assessments at once: ask for fewer days where there are more. What was erased has no rows."""
_BY_FINDING: Final = "One row for each finding of the assessments that the filters leave."
_BY_READING: Final = "One row for each number, read or computed, of the assessments that the filters leave."


def add_tables(app: FastAPI, async_store: AsyncStore) -> None:
    """Add the routes that show what is in ``async_store`` as tables."""

    @needs("read")
    async def show_findings(request: Request) -> Response:
        return await answered(request, "findings", table_by_finding)

    @needs("read")
    async def show_readings(request: Request) -> Response:
        return await answered(request, "readings", table_by_reading)

    async def answered(request: Request, name: str, table: _Table) -> Response:
        query = Filtered.of(request)
        text = await async_store.read_much(lambda store: _made(store, query, table))
        headers = {"content-disposition": f'attachment; filename="{name}.csv"'}
        return Response(text, headers=headers, media_type=f"{CSV}; header=present")

    add_operation(app, "/v1/findings.csv", show_findings, _operation("findings", _BY_FINDING, _FINDING_ROWS))
    add_operation(app, "/v1/readings.csv", show_readings, _operation("readings", _BY_READING, _READING_ROWS))


def _made(store: Store, query: Filtered, table: _Table) -> str:
    with not_too_many():
        try:
            return table(store.each_record(query.record_filter, most=MOST_ASSESSMENTS))
        except Unreadable as error:
            detail = f"One of these was written in a way that this version does not read: {error}"
            raise ProblemError("cannot-show", detail) from error


_ABOUT: Final = (
    "assessment,number,created,fitted,visit,horse,foot,stage,person,assessor,decision,external_system,external_id"
)
_EXAMPLE: Final = (
    "6f1c2f0e-8a55-4f0e-9a3e-2d1f0c5b7a10,7,2026-03-04T10:00:00.000Z,2026-03-04,2026-03-04-H-101,H-101,left_fore,"
    "hot_fit,A-1,S-1,put_right,,"
)
_FINDING_ROWS: Final = (
    f"{_ABOUT},rule,criterion,place,grade,confidence,blocks,quantity,value,u,unit,ucum,limit_low,limit_high,finding,"
    f"action,caution\r\n{_EXAMPLE},seat-gap,levelness,medial_heel,major,0.98,true,gap,0.8,0.1,mm,mm,,0.5,"
    '"There is a gap at the inner heel.","Level the seat, then try the shoe again.",\r\n'
)
_READING_ROWS: Final = (
    f"{_ABOUT},quantity,place,value,u,unit,ucum,where,carried\r\n{_EXAMPLE},width,medial_heel,2.4,0.5,mm,mm,,\r\n"
)


def _operation(name: str, what: str, rows: str) -> Operation:
    return Operation(
        name=f"{name}_table",
        tag=TAG,
        summary=f"The {name} of what was kept, as a table",
        description=f"{what}\n\n{_DOC}",
        query=Filtered,
        answers={
            HTTPStatus.OK: Answer(
                "The table.",
                Content(media_type=CSV, examples={"one": {"summary": "One row", "value": rows}}),
                {"Content-Disposition": header("A name for the file.")},
            )
        },
        problems=("cannot-show", *READING),
    )
