"""Where a page of the desk leads to; what ids hold is never more than one part of an address."""

from __future__ import annotations

from urllib.parse import quote, urlencode

from api.parameters.record_address import address_of

__all__ = ["desk_address", "drawing_address", "report_address", "sheet_address", "visit_report_address"]


def desk_address(page: str, **query: str | None) -> str:
    """A page of the desk with these query parameters, None left out.

    >>> desk_address("marks", visit="a/b?&", horse=None)
    '/desk/marks?visit=a%2Fb%3F%26'
    """
    parameters = urlencode([(name, value) for name, value in query.items() if value is not None])
    return f"/desk{f'/{page}' if page else ''}{f'?{parameters}' if parameters else ''}"


def sheet_address(id_: str) -> str:
    """The sheet of marks of an assessment as a page."""
    return desk_address("sheet", assessment=id_)


def report_address(id_: str) -> str:
    """The report of an assessment."""
    return f"{address_of(id_)}/report.html"


def drawing_address(id_: str) -> str:
    """The drawing of an assessment, as a sheet."""
    return f"{address_of(id_)}/drawing.svg?form=sheet"


def visit_report_address(visit: str) -> str:
    """The report of a visit."""
    return f"/v1/visits/{quote(visit, safe='')}/report.html"
