"""The days that a query asks for, and what happens where they hold too much."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from typing import Any, Final, NamedTuple

from starlette.requests import Request

from api.http.problems import ProblemError
from api.parameters.query import day, refuse
from fitcheck.errors import Problem
from fitcheck.records import TooManyRecords

__all__ = ["DAYS", "Days", "days_of", "not_too_many"]

_DAY: Final[dict[str, Any]] = {"type": "string", "format": "date"}
DAYS: Final[tuple[dict[str, Any], ...]] = tuple(
    {
        "name": name,
        "in": "query",
        "required": False,
        "description": f"Created on this day (UTC) or {which}.",
        "schema": _DAY,
    }
    for name, which in (("from", "later"), ("to", "earlier"))
)


class Days(NamedTuple):
    """From when until when, as records are asked for."""

    since: str | None
    until: str | None


def days_of(request: Request) -> Days:
    """The days from and to of the query, both included. Raises ProblemError."""
    since, last = day(request, "from"), day(request, "to")
    if since is not None and last is not None and last < since:
        refuse("to", last.isoformat(), f"{since.isoformat()} or later", "The last day lies before the first one.")
    return Days(
        None if since is None else since.isoformat(),
        None if last is None or last == date.max else (last + timedelta(days=1)).isoformat(),
    )


@contextmanager
def not_too_many() -> Iterator[None]:
    """What is read in the block may be too much for one request: ProblemError of kind bad-query then."""
    try:
        yield
    except TooManyRecords as error:
        detail = f"These are more than {error.most} records, too many for one request. Ask for fewer days."
        fault = Problem("query.from", None, f"days with at most {error.most} records", detail)
        raise ProblemError("bad-query", detail, [fault]) from error
