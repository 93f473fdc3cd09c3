"""Query parameters: what is declared is what is documented and what is read, on every route."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date
from typing import Annotated, Any, Literal

import httpx
import pytest
from fastapi import FastAPI
from pydantic import Field
from starlette.requests import Request

from api.application import create_app
from api.http.problems import ProblemError
from api.openapi.operation import operation_of
from api.parameters.query import WHOLE, Days, Flag, Query
from fitcheck.fitting.identity import Identifier

Ask = Callable[..., httpx.Response]
CheckProblem = Callable[..., list[dict[str, Any]]]


class Trimming(Days):
    """How feet are to be trimmed."""

    owner: Annotated[Identifier, Field(description="Whose horse it is.")]
    hind: Flag = False
    """Whether the hind feet too."""
    feet: Annotated[int, Field(ge=1, le=4), WHOLE] = 4
    """How many feet."""
    tool: Literal["rasp", "nippers"] | None = None
    """With
    what."""


def of(query: str) -> Trimming:
    return Trimming.of(Request({"type": "http", "query_string": query.encode(), "headers": []}))


def test_values_are_read_by_their_types_and_defaults() -> None:
    asked = of("owner=A%2F1&hind=true&feet=2&tool=rasp&from=2026-03-04&to=2026-03-05")
    assert (asked.owner, asked.hind, asked.feet, asked.tool) == ("A/1", True, 2, "rasp")
    assert (asked.first_day, asked.since, asked.until) == (date(2026, 3, 4), "2026-03-04", "2026-03-06")
    bare = of("owner=x")
    assert (bare.hind, bare.feet, bare.tool, bare.since, bare.until) == (False, 4, None, None, None)
    assert of("owner=x&to=9999-12-31").until is None


@pytest.mark.parametrize(
    ("query", "field", "allowed", "detail"),
    [
        ("", "owner", "whose horse it is", 'The query parameter "owner" is missing. Add it.'),
        (
            "owner=",
            "owner",
            "1 to 64 characters, without control characters",
            '"" is not such a name. Write 1 to 64 characters, without control characters.',
        ),
        *(
            (f"owner=x&hind={bad}", "hind", "true or false", f'"{bad}" is neither true nor false. Write one of them.')
            for bad in ("", "1", "True", "yes")
        ),
        *(
            (f"owner=x&feet={bad}", "feet", "a whole number from 1 to 4", f'"{bad}" is not a whole number from 1 to 4.')
            for bad in ("", "0", "5", "-1", "1.0", "1_0", "9999999999")
        ),
        (
            "owner=x&tool=saw",
            "tool",
            "one of rasp, nippers",
            '"saw" is not known here. Write one of rasp, nippers.',
        ),
        *(
            (
                f"owner=x&from={bad}",
                "from",
                "a day such as 2026-03-04",
                f'"{bad}" is not a day of the calendar. Write YYYY-MM-DD.',
            )
            for bad in ("", "2026-02-30", "20260304", "2026-W10-3", "1772582400", "2026-03-04T00:00")
        ),
        (
            "owner=x&from=2026-03-05&to=2026-03-04",
            "to",
            "2026-03-05 or later",
            "The last day lies before the first one.",
        ),
        (
            "owner=x&last_day=2026-03-05",
            "last_day",
            "the query parameters from, to, owner, hind, feet, tool",
            'There is no query parameter "last_day" here. Take it out.',
        ),
        (
            "owner=x&owner=x",
            "owner",
            "each query parameter once",
            "This query parameter is given twice. Keep one of them.",
        ),
    ],
)
def test_what_is_wrong_is_named_with_what_is_allowed(query: str, field: str, allowed: str, detail: str) -> None:
    with pytest.raises(ProblemError) as raised:
        of(query)
    [fault] = raised.value.problems
    assert (raised.value.kind.name, fault.field, fault.allowed) == ("bad-query", f"query.{field}", allowed)
    assert fault.detail == detail
    assert raised.value.detail == f"The query of this address is wrong: {detail}"


@pytest.mark.parametrize("query", ["owner=%07", f"owner={'x' * 65}", "owner=x&feet=%C2%B2", "owner=x&feet=%D9%A3"])
def test_control_characters_long_names_and_digits_of_other_scripts_are_refused(query: str) -> None:
    with pytest.raises(ProblemError, match="The query of this address is wrong"):
        of(query)


def test_what_is_read_is_what_is_documented() -> None:
    shown = {each["name"]: each for each in Trimming.parameters()}
    assert list(shown) == ["from", "to", "owner", "hind", "feet", "tool"]
    assert {each["in"] for each in shown.values()} == {"query"}
    assert [name for name, each in shown.items() if each["required"]] == ["owner"]
    assert shown["feet"]["schema"] == {"type": "integer", "minimum": 1, "maximum": 4, "default": 4}
    assert shown["hind"]["schema"] == {"type": "boolean", "default": False}
    assert shown["from"]["schema"] == {"type": "string", "format": "date"}
    assert shown["tool"]["schema"]["enum"] == ["rasp", "nippers"]
    assert shown["tool"]["description"] == "With what."
    assert not any(each["required"] for each in Trimming.parameters(blank=True))
    assert Query.parameters() == []


# Every route.


def _routes(app: FastAPI) -> Iterator[tuple[str, str, type[Query]]]:
    for route in app.routes:
        if getattr(route, "include_in_schema", False):
            operation = operation_of(route)  # type: ignore[arg-type]
            if operation.query is not None:
                path = route.path_format.replace("{", "").replace("}", "")  # type: ignore[attr-defined]
                yield operation.method, path, operation.query


ROUTES = list(_routes(create_app()))


@pytest.mark.parametrize(("method", "path", "query"), ROUTES, ids=[f"{method} {path}" for method, path, _ in ROUTES])
def test_every_route_reads_its_query_by_what_it_declares(
    ask: Ask, problem: CheckProblem, method: str, path: str, query: type[Query]
) -> None:
    request: dict[str, Any] = {"content": b"{}"} if method == "POST" else {}
    [fault] = problem(ask(method, f"{path}?colour=bay", **request), "bad-query")
    listed = f"the query parameters {', '.join(query.names)}" if query.names else "no query parameters"
    assert (fault["field"], fault["allowed"]) == ("query.colour", listed)
    for each in query.parameters():
        # An order, a limit, a day, a name: nothing is all of these and this.
        name, wrong = each["name"], "\x00"
        more = "".join(f"&{other['name']}=x" for other in query.parameters() if other["required"] and other != each)
        [fault] = problem(ask(method, f"{path}?{name}=%00{more}", **request), "bad-query")
        assert (fault["field"], fault["value"]) == (f"query.{name}", wrong)


def test_all_routes_with_a_query_are_tried() -> None:
    assert len(ROUTES) > 20
    assert {"keep", "lang", "limit", "after", "from", "form", "first"} <= {name for *_, q in ROUTES for name in q.names}
