"""Fields of the desk's forms, and their values as strict as any query's: a form sends empty ones too."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple, get_args
from urllib.parse import parse_qsl, urlencode

from starlette.requests import Request

from fitcheck.assessment.models import Decision
from fitcheck.fitting.models import FittedFoot
from fitcheck.text.catalogue import ENGLISH, capital, messages_in

__all__ = ["DAYS", "FILTERS", "ORDER", "RATERS", "WHO", "Field", "filled_in", "without_blanks"]


class Field(NamedTuple):
    """One field of a form that only reads."""

    name: str
    label: str
    kind: str = "text"
    choices: tuple[tuple[str, str], ...] = ()
    required: bool = False
    value: str = ""


_FEET: Final = tuple((foot, capital(messages_in(ENGLISH).named("foot", foot))) for foot in get_args(FittedFoot))
_DECISIONS: Final = tuple((decision, decision.replace("_", " ")) for decision in get_args(Decision))
DAYS: Final = (Field("from", "From this day", "date"), Field("to", "To this day", "date"))
WHO: Final = (
    Field("visit", "Visit"),
    Field("horse", "Horse"),
    Field("person", "Fitted by"),
    Field("assessor", "Assessed by"),
)
FILTERS: Final = (*WHO, Field("foot", "Foot", choices=_FEET), Field("decision", "Decision", choices=_DECISIONS), *DAYS)
ORDER: Final = Field("order", "Order", choices=(("newest", "newest first"), ("oldest", "oldest first")))
RATERS: Final = (Field("first", "First rater", required=True), Field("second", "Second rater", required=True))


def filled_in(fields: Sequence[Field], request: Request) -> list[Field]:
    """The fields with what the query has in them."""
    return [field._replace(value=request.query_params.get(field.name, "")) for field in fields]


def without_blanks(request: Request) -> Request:
    """The request without the query parameters that are empty: fields of a form that were left out."""
    pairs = parse_qsl(request.scope["query_string"].decode("latin-1"), keep_blank_values=True)
    query = urlencode([(name, value) for name, value in pairs if value.strip()])
    return Request({**request.scope, "query_string": query.encode("latin-1")}, request.receive)
