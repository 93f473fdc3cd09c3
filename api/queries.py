"""Query parameters, strictly: nothing unknown, nothing twice, no value that is merely ignored."""

from __future__ import annotations

from collections.abc import Collection
from typing import NoReturn

from starlette.requests import Request

from api.problem_details import ProblemError
from fitcheck.errors import Problem
from fitcheck.problems import summary
from fitcheck.strict_json import cut

__all__ = ["flag", "known_only"]


def known_only(request: Request, known: Collection[str] = ()) -> None:
    """Refuse any query parameter that is not ``known`` or is given twice, with ProblemError."""
    seen: set[str] = set()
    for name, value in request.query_params.multi_items():
        if name not in known:
            allowed = f"the query parameters {', '.join(known)}" if known else "no query parameters"
            _refuse(name, value, allowed, f'There is no query parameter "{cut(name)}" here. Take it out.')
        if name in seen:
            _refuse(name, value, "each query parameter once", "This query parameter is given twice. Keep one of them.")
        seen.add(name)


def flag(request: Request, name: str, *, default: bool) -> bool:
    """A query parameter that is true or false; anything else is a ProblemError."""
    value = request.query_params.get(name)
    if value is None:
        return default
    if value not in {"true", "false"}:
        _refuse(name, value, "true or false", f'"{cut(value)}" is neither true nor false. Write one of them.')
    return value == "true"


def _refuse(name: str, value: str, allowed: str, detail: str) -> NoReturn:
    fault = Problem(f"query.{cut(name)}", summary(value), allowed, detail)
    raise ProblemError("bad-query", f"The query of this address is wrong: {detail}", [fault])
