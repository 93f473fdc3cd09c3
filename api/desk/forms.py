"""Fields of the desk's forms, their values as strict as any query's, and where its pages lead to."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final, NamedTuple, get_args
from urllib.parse import parse_qsl, quote, urlencode

from starlette.requests import Request

from api.parameters.language import LANG, requested_language
from api.parameters.record_address import address_of
from fitcheck.assessment.models import Decision
from fitcheck.fitting.models import FittedFoot
from fitcheck.text.catalogue import Messages, capital

__all__ = [
    "DAYS",
    "FILTERS",
    "ORDER",
    "PATHS",
    "RATERS",
    "SORTED",
    "WHO",
    "Field",
    "FieldView",
    "Links",
    "filled_in",
    "query_of",
]

PATHS: Final = {
    "list": "/desk",
    "csv": "/desk/list.csv",
    "marks": "/desk/marks",
    "progress": "/desk/progress",
    "agreement": "/desk/agreement",
    "eyes": "/desk/eyes",
    "queue": "/desk/queue",
    "foot": "/desk/foot",
    "by_hand": "/desk/by-hand",
    "reasons": "/desk/reasons",
    "practice": "/desk/practice",
    "sheet": "/desk/sheet",
    "sign_in": "/desk/sign-in",
}
"""The address of each page."""


class Links(NamedTuple):
    """Addresses that keep the language in which a page was asked for; what ids hold is never more than one part."""

    lang: str | None

    @classmethod
    def of(cls, request: Request) -> Links:
        """Those of a page that answers ``request``. Raises ProblemError."""
        return cls(requested_language(request))

    def path(self, page: str) -> str:
        """A page of the desk without a query."""
        return PATHS[page]

    def page(self, page: str, **query: str | None) -> str:
        """A page of the desk with these query parameters, None left out.

        >>> Links(None).page("marks", visit="a/b?&", horse=None), Links("de").page("list")
        ('/desk/marks?visit=a%2Fb%3F%26', '/desk?lang=de')
        """
        return self._with_query(PATHS[page], query)

    def sheet(self, id_: str) -> str:
        """The sheet of marks of an assessment as a page."""
        return self.page("sheet", assessment=id_)

    def report(self, id_: str) -> str:
        """The report of an assessment."""
        return self._with_query(f"{address_of(id_)}/report.html", {})

    def paper(self, id_: str) -> str:
        """The same, set to be printed on one page."""
        return self._with_query(f"{address_of(id_)}/report.html", {"form": "paper"})

    def drawing(self, id_: str) -> str:
        """The drawing of an assessment, as a sheet; it speaks the language of the answer."""
        return f"{address_of(id_)}/drawing.svg?form=sheet"

    def visit_report(self, visit: str) -> str:
        """The report of a visit."""
        return self._with_query(f"/v1/visits/{quote(visit, safe='')}/report.html", {})

    def visit_paper(self, visit: str) -> str:
        """The same, set to be printed on a page a foot."""
        return self._with_query(f"/v1/visits/{quote(visit, safe='')}/report.html", {"form": "paper"})

    def _with_query(self, path: str, query: dict[str, str | None]) -> str:
        parameters = [(name, value) for name, value in {**query, LANG: self.lang}.items() if value is not None]
        return f"{path}?{urlencode(parameters)}" if parameters else path


Choices = Callable[[Messages], tuple[tuple[str, str], ...]]


def _feet(messages: Messages) -> tuple[tuple[str, str], ...]:
    return tuple((foot, capital(messages.named("foot", foot))) for foot in get_args(FittedFoot))


def _decisions(messages: Messages) -> tuple[tuple[str, str], ...]:
    return tuple((decision, messages.say(f"desk.decision.{decision}")) for decision in get_args(Decision))


def _orders(messages: Messages) -> tuple[tuple[str, str], ...]:
    return tuple((order, messages.say(f"desk.order.{order}")) for order in ("newest", "oldest"))


def _sorts(messages: Messages) -> tuple[tuple[str, str], ...]:
    return tuple((by, messages.say(f"desk.sorted.{by}")) for by in ("time", "horse"))


class Field(NamedTuple):
    """One field of a form that only reads."""

    name: str
    kind: str = "text"
    choices: Choices | None = None
    required: bool = False

    def shown(self, messages: Messages, value: str = "") -> FieldView:
        """The field with its label, its choices and what is in it."""
        label = messages.say(f"desk.field.{self.name}")
        choices = () if self.choices is None else self.choices(messages)
        return FieldView(self.name, self.kind, label, choices, self.required, value)


class FieldView(NamedTuple):
    """A field as a form has it."""

    name: str
    kind: str
    label: str
    choices: tuple[tuple[str, str], ...]
    required: bool
    value: str


DAYS: Final = (Field("from", "date"), Field("to", "date"))
WHO: Final = tuple(Field(name) for name in ("visit", "horse", "person", "assessor"))
FILTERS: Final = (*WHO, Field("foot", choices=_feet), Field("decision", choices=_decisions), *DAYS)
ORDER: Final = Field("order", choices=_orders)
SORTED: Final = Field("sorted", choices=_sorts)
RATERS: Final = (Field("first", required=True), Field("second", required=True))


def filled_in(fields: Sequence[Field], request: Request, messages: Messages) -> list[FieldView]:
    """The fields with what the query has in them."""
    return [field.shown(messages, request.query_params.get(field.name, "")) for field in fields]


def query_of(request: Request) -> Request:
    """The request without the language, and without the parameters that are empty: fields that were left out."""
    pairs = parse_qsl(request.scope["query_string"].decode("latin-1"), keep_blank_values=True)
    query = urlencode([(name, value) for name, value in pairs if value.strip() and name != LANG])
    return Request({**request.scope, "query_string": query.encode("latin-1")}, request.receive)
