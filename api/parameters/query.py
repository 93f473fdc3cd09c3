"""Query parameters, strictly: nothing unknown, nothing twice, no value that is merely ignored."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager, suppress
from datetime import date, timedelta
from typing import Any, Final, NamedTuple, NoReturn

from pydantic import TypeAdapter, ValidationError
from starlette.requests import Request

from api.http.problems import ProblemError
from fitcheck.errors import Problem
from fitcheck.fitting.identity import Identifier
from fitcheck.fitting.strict_json import cut
from fitcheck.fitting.validation import summary
from fitcheck.records import TooManyRecords

__all__ = [
    "DAYS",
    "Days",
    "days_of",
    "flag",
    "identifier",
    "known_only",
    "not_too_many",
    "one_of",
    "refuse",
    "whole",
]

_IDENTIFIER: Final[TypeAdapter[str]] = TypeAdapter(Identifier)
_DAY: Final = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_DIGITS: Final = 9


def known_only(request: Request, known: Collection[str] = ()) -> None:
    """Refuse any query parameter that is not ``known`` or is given twice, with ProblemError."""
    seen: set[str] = set()
    for name, value in request.query_params.multi_items():
        if name not in known:
            allowed = f"the query parameters {', '.join(known)}" if known else "no query parameters"
            refuse(name, value, allowed, f'There is no query parameter "{cut(name)}" here. Take it out.')
        if name in seen:
            refuse(name, value, "each query parameter once", "This query parameter is given twice. Keep one of them.")
        seen.add(name)


def flag(request: Request, name: str, *, default: bool) -> bool:
    """A query parameter that is true or false; anything else is a ProblemError."""
    value = request.query_params.get(name)
    if value is None:
        return default
    if value not in {"true", "false"}:
        refuse(name, value, "true or false", f'"{cut(value)}" is neither true nor false. Write one of them.')
    return value == "true"


def identifier(request: Request, name: str) -> str | None:
    """A query parameter that is an opaque name, such as a person's; None where it is not given.

    Raises ProblemError for one that nothing can have.
    """
    value = request.query_params.get(name)
    if value is None:
        return None
    try:
        return _IDENTIFIER.validate_python(value, strict=True)
    except ValidationError:
        allowed = "1 to 64 characters, without control characters"
        refuse(name, value, allowed, f'"{cut(value)}" is not such a name. Write {allowed}.')


def one_of(request: Request, name: str, words: Sequence[str]) -> str | None:
    """A query parameter that is one of ``words``; None where it is not given, a ProblemError for anything else."""
    value = request.query_params.get(name)
    if value is not None and value not in words:
        listed = ", ".join(words)
        refuse(name, value, f"one of {listed}", f'"{cut(value)}" is not known here. Write one of {listed}.')
    return value


def _day(request: Request, name: str) -> date | None:
    """A query parameter that is a day such as 2026-03-04; None where it is not given, a ProblemError for others."""
    value = request.query_params.get(name)
    if value is None:
        return None
    with suppress(ValueError):
        if _DAY.fullmatch(value):
            return date.fromisoformat(value)
    detail = f'"{cut(value)}" is not a day of the calendar. Write YYYY-MM-DD.'
    return refuse(name, value, "a day such as 2026-03-04", detail)


def whole(request: Request, name: str, *, least: int, most: int, default: int) -> int:
    """A query parameter that is a whole number from ``least`` to ``most``; anything else is a ProblemError."""
    value = request.query_params.get(name)
    if value is None:
        return default
    number = int(value) if value.isascii() and value.isdecimal() and len(value) <= _DIGITS else -1
    if not least <= number <= most:
        allowed = f"a whole number from {least} to {most}"
        refuse(name, value, allowed, f'"{cut(value)}" is not {allowed}.')
    return number


def refuse(name: str, value: str, allowed: str, detail: str) -> NoReturn:
    """Raise the ProblemError of a query parameter that is not allowed."""
    fault = Problem(f"query.{cut(name)}", summary(value), allowed, detail)
    raise ProblemError("bad-query", f"The query of this address is wrong: {detail}", [fault])


_DAY_SCHEMA: Final[dict[str, Any]] = {"type": "string", "format": "date"}
DAYS: Final[tuple[dict[str, Any], ...]] = tuple(
    {
        "name": name,
        "in": "query",
        "required": False,
        "description": f"Created on this day (UTC) or {which}.",
        "schema": _DAY_SCHEMA,
    }
    for name, which in (("from", "later"), ("to", "earlier"))
)


class Days(NamedTuple):
    """From when until when, as records are asked for."""

    since: str | None
    until: str | None


def days_of(request: Request) -> Days:
    """The days from and to of the query, both included. Raises ProblemError."""
    since, last = _day(request, "from"), _day(request, "to")
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
