"""A person by the id in an address, and the days that a query asks for."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from typing import Any, Final, NamedTuple

from pydantic import TypeAdapter, ValidationError
from starlette.requests import Request

from api.desk.kept import markable, readable
from api.problem_details import ProblemError
from api.queries import day, refuse
from fitcheck.desk.bounded import TooMany
from fitcheck.desk.work import marked_feet
from fitcheck.errors import Problem
from fitcheck.identity import Identifier
from fitcheck.marking.progress import Progress, progress_of
from fitcheck.problems import summary
from fitcheck.records import Store, Wanted
from fitcheck.strict_json import cut
from rules import Rulebook

__all__ = ["DAYS", "PERSON", "Days", "days_asked", "not_too_many", "progress_kept"]

_NAME: Final[TypeAdapter[str]] = TypeAdapter(Identifier)
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
PERSON: Final[dict[str, Any]] = {
    "name": "person",
    "in": "path",
    "required": True,
    "description": "Who fitted the shoes, by the id in the fittings.",
    "schema": {"type": "string"},
    "example": "A-1",
}


class Days(NamedTuple):
    """From when until when, as records are asked for."""

    since: str | None
    until: str | None


def days_asked(request: Request) -> Days:
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
    except TooMany as error:
        detail = f"These are more than {error.most} records, too many for one request. Ask for fewer days."
        fault = Problem("query.from", None, f"days with at most {error.most} records", detail)
        raise ProblemError("bad-query", detail, [fault]) from error


def progress_kept(store: Store, person: str, days: Days, book: Rulebook) -> Progress:
    """The progress of that person. Raises ProblemError of kind not-found, bad-query, cannot-show or cannot-mark."""
    detail = f'No work of a person "{cut(person)}" was kept in these days. GET /v1/assessments lists what was.'
    nobody = ProblemError(
        "not-found", detail, [Problem("path.person", summary(person), "a person in GET /v1/assessments", detail)]
    )
    try:
        _NAME.validate_python(person, strict=True)
    except ValidationError:
        raise nobody from None
    wanted = Wanted(person=person, kind="assessment", since=days.since, until=days.until, superseded=False)
    with not_too_many(), readable(person), markable(person):
        feet = list(marked_feet(store, wanted, book))
    if not feet:
        raise nobody
    return progress_of(feet, book)
