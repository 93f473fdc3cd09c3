"""Query parameters: each route declares its own as a model, from which they are read and documented.

They are read strictly: nothing unknown, nothing twice, no value that is merely ignored.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from datetime import date, timedelta
from functools import cache
from typing import Annotated, Any, ClassVar, Final, NoReturn, Self

from pydantic import BeforeValidator, ConfigDict, Field, ValidationError, model_validator
from starlette.requests import Request

from api.http.problems import ProblemError
from fitcheck.documented import DocumentedModel
from fitcheck.errors import Problem
from fitcheck.fitting.identity import Identifier
from fitcheck.fitting.strict_json import cut
from fitcheck.fitting.validation import summary
from fitcheck.records import TooManyRecords

__all__ = [
    "WHOLE",
    "Day",
    "Days",
    "Flag",
    "Query",
    "Who",
    "not_too_many",
    "parameter",
    "refuse",
    "refuse_twice",
    "refuse_word",
]

_DAY: Final = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_DIGITS: Final = 9
_FLAGS: Final = {"true": True, "false": False}


def _whole(text: str) -> int | str:
    return int(text) if text.isascii() and text.isdecimal() and len(text) <= _DIGITS else text


def _day(text: str) -> date | str:
    with suppress(ValueError):
        if _DAY.fullmatch(text):
            return date.fromisoformat(text)
    return text


# What is not of the form stays text, which a strict model then refuses.
Flag = Annotated[bool, BeforeValidator(lambda text: _FLAGS.get(text, text))]
"""true or false."""
WHOLE: Final = BeforeValidator(_whole)
"""Stands behind the least and the most of an ``int``."""
Day = Annotated[date, BeforeValidator(_day)]
"""A day such as 2026-03-04."""


def parameter(place: str, name: str, description: str, **more: Any) -> dict[str, Any]:
    """A parameter in the path, query or header as OpenAPI has it, of any text unless ``more`` has another schema."""
    shown = {"name": name, "in": place, "required": place == "path", "description": description}
    return shown | {"schema": {"type": "string"}} | more


class Query(DocumentedModel):
    """The query parameters of a route; this one itself: none.  They stand in the document in the order of the fields.

    What the text below a field, its type and its default say is both what is taken and what is documented.
    """

    model_config = ConfigDict(frozen=True, strict=True)
    names: ClassVar[tuple[str, ...]] = ()

    @classmethod
    def __pydantic_init_subclass__(cls, **_options: Any) -> None:
        cls.names = tuple(field.alias or name for name, field in cls.model_fields.items())

    @classmethod
    def of(cls, request: Request) -> Self:
        """What the query of ``request`` asks for. Raises ProblemError of kind bad-query with the first fault."""
        values: dict[str, str] = {}
        for name, value in request.query_params.multi_items():
            if name not in cls.names:
                allowed = f"the query parameters {', '.join(cls.names)}" if cls.names else "no query parameters"
                refuse(name, value, allowed, f'There is no query parameter "{cut(name)}" here. Take it out.')
            if name in values:
                refuse_twice(name, value)
            values[name] = value
        try:
            return cls.model_validate(values, context=request)
        except ValidationError as error:
            name = str(error.errors(include_url=False)[0]["loc"][0])
            refuse(name, values.get(name), *_fault(name, values.get(name), parameter_schemas(cls)[name]))

    @classmethod
    def parameters(cls, *, blank: bool = False) -> list[dict[str, Any]]:
        """The parameters for the OpenAPI document; ``blank``: whether all of them may be left out together."""
        required = {field.alias or name for name, field in cls.model_fields.items() if field.is_required()}
        return [
            parameter(
                "query",
                name,
                " ".join(schema["description"].split()),
                required=name in required and not blank,
                schema={key: value for key, value in schema.items() if key not in _APART},
            )
            for name, schema in parameter_schemas(cls).items()
        ]


_APART: Final = {"title", "description"}


@cache
def parameter_schemas(query: type[Query]) -> Mapping[str, dict[str, Any]]:
    """The JSON schema of each parameter; a parameter that may be left out is never null."""
    schemas: dict[str, dict[str, Any]] = {}
    for name, schema in query.model_json_schema()["properties"].items() if query.names else ():
        there: dict[str, Any] = next((part for part in schema.pop("anyOf", ()) if part != {"type": "null"}), {})
        schemas[name] = {key: value for key, value in (there | schema).items() if (key, value) != ("default", None)}
    return schemas


def _fault(name: str, value: str | None, schema: Mapping[str, Any]) -> tuple[str, str]:
    """What a parameter of that schema may be, and what is wrong with ``value``; None: it is not there."""
    if value is None:
        needed = schema["description"].rstrip(".")
        return f"{needed[0].lower()}{needed[1:]}", f'The query parameter "{name}" is missing. Add it.'
    shown = f'"{cut(value)}"'
    if "enum" in schema:
        return _word_fault(value, schema["enum"])
    if schema["type"] == "boolean":
        return "true or false", f"{shown} is neither true nor false. Write one of them."
    if schema["type"] == "integer":
        allowed = f"a whole number from {schema['minimum']} to {schema['maximum']}"
        return allowed, f"{shown} is not {allowed}."
    if schema.get("format") == "date":
        return "a day such as 2026-03-04", f"{shown} is not a day of the calendar. Write YYYY-MM-DD."
    allowed = f"{schema['minLength']} to {schema['maxLength']} characters, without control characters"
    return allowed, f"{shown} is not such a name. Write {allowed}."


def _word_fault(value: str, words: Sequence[str]) -> tuple[str, str]:
    listed = ", ".join(words)
    return f"one of {listed}", f'"{cut(value)}" is not known here. Write one of {listed}.'


def refuse(name: str, value: str | float | None, allowed: str, detail: str) -> NoReturn:
    """Raise the ProblemError of a query parameter that is not allowed."""
    fault = Problem(f"query.{cut(name)}", summary(value), allowed, detail)
    raise ProblemError("bad-query", f"The query of this address is wrong: {detail}", [fault])


def refuse_twice(name: str, value: str) -> NoReturn:
    """Raise the ProblemError of a query parameter that is given twice; ``value``: the second time."""
    refuse(name, value, "each query parameter once", "This query parameter is given twice. Keep one of them.")


def refuse_word(name: str, value: str, words: Sequence[str]) -> NoReturn:
    """Raise the ProblemError of a query parameter that is none of ``words``."""
    refuse(name, value, *_word_fault(value, words))


class Who(Query):
    """Whom and what records are about."""

    person: Identifier | None = None
    """Who fitted the shoe."""
    assessor: Identifier | None = None
    """Who looked at it."""
    horse: Identifier | None = None
    """The horse: the yard's own name, or else its UELN or transponder."""
    visit: Identifier | None = None
    """The visit."""


class Days(Query):
    """From when until when, as records are asked for; both days are included."""

    first_day: Annotated[Day | None, Field(alias="from")] = None
    """Created on this day (UTC) or later."""
    last_day: Annotated[Day | None, Field(alias="to")] = None
    """Created on this day (UTC) or earlier."""

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        first, last = self.first_day, self.last_day
        if first is not None and last is not None and last < first:
            detail = "The last day lies before the first one."
            refuse("to", last.isoformat(), f"{first.isoformat()} or later", detail)
        return self

    @property
    def days(self) -> tuple[str | None, str | None]:
        """The first and the last day, where they are of the fitting."""
        first, last = self.first_day, self.last_day
        return None if first is None else first.isoformat(), None if last is None else last.isoformat()

    @property
    def since(self) -> str | None:
        """Where the days begin."""
        return None if self.first_day is None else self.first_day.isoformat()

    @property
    def until(self) -> str | None:
        """The day after the last one."""
        last = self.last_day
        return None if last is None or last == date.max else (last + timedelta(days=1)).isoformat()


@contextmanager
def not_too_many() -> Iterator[None]:
    """What is read in the block may be too much for one request: ProblemError of kind bad-query then."""
    try:
        yield
    except TooManyRecords as error:
        detail = f"These are more than {error.most} records, too many for one request. Ask for fewer days."
        fault = Problem("query.from", None, f"days with at most {error.most} records", detail)
        raise ProblemError("bad-query", detail, [fault]) from error
