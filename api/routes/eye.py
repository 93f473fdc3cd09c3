"""GET /v1/people/{person}/eye: how good a person's eye is, by words that were kept beside measures."""

from __future__ import annotations

from http import HTTPStatus
from typing import TYPE_CHECKING, Final

from fastapi import FastAPI
from pydantic import TypeAdapter, ValidationError
from starlette.requests import Request
from starlette.responses import Response

from api.http.problems import READING, ProblemError
from api.http.route_scopes import needs
from api.openapi.operation import Answer, Content, Operation, add_operation
from api.parameters.language import CONTENT_LANGUAGE, LanguageQuery, book_in, language_headers
from api.parameters.query import not_too_many, parameter
from api.routes.marks import as_json
from api.routes.overrides import MARKS_TAG
from api.routes.stored_record import SVG, SVG_POLICY, TAGGED, answered
from api.store import AsyncStore
from fitcheck.errors import Problem
from fitcheck.eye.models import EyeView
from fitcheck.fitting.identity import Identifier
from fitcheck.fitting.strict_json import cut
from fitcheck.fitting.validation import summary
from fitcheck.records import Store
from rules import Rulebook
from rules.lazy import lazily

if TYPE_CHECKING:
    from fitcheck.eye.curve_plot import curve_plot
    from fitcheck.eye.eye import stored_eye
else:
    # They need scipy, which takes a service two seconds to load.
    curve_plot = lazily("fitcheck.eye.curve_plot", "curve_plot")
    stored_eye = lazily("fitcheck.eye.eye", "stored_eye")

__all__ = ["add_eye", "eye_in"]

_DOC: Final = """How good a person's eye is: words of the eye that stand beside a measure of the same thing in the same
state of the foot, by the same person, a trace or an assessor. By quantity, and by side, fore and hind where there are
enough: where each word begins and ends (ordered probit), how much more or less is seen than there is against the ends
of the rulebook, how sharp the eye is, each with its 95 % interval; how it goes over the visits, how the words agree
with those of assessors, and what to practise next. An end of an interval that is null is open. Below fewest_pairs
pairs it says how many are missing.

The words of a record are those of its assessor, or else of its person. What was said good of a whole group with one
button is never a pair, nor are corrected and erased records. What practice by drawings tells stands beside it under
practice, apart from the pairs. Nothing of it decides anything; docs/eye.md has the
method. Sentences are in the language of lang, or else of Accept-Language."""
_NAME: Final[TypeAdapter[str]] = TypeAdapter(Identifier)
_PERSON: Final = parameter("path", "person", "Whose eye, by the id in the fittings.", example="A-1")
_QUANTITY: Final = parameter(
    "path", "quantity", "Which words: a quantity that is judged by eye.", example="width_by_eye"
)
_PATH: Final = "/v1/people/{person}/eye"


def eye_in(store: Store, person: str, book: Rulebook) -> EyeView:
    """The eye of that person.

    Raises ProblemError of kind not-found where neither words nor practice of them are kept; and StoreError.
    """
    detail = (
        f'No words of the eye and no practice of a person "{cut(person)}" are kept. GET /v1/assessments lists what is.'
    )
    nobody = ProblemError(
        "not-found", detail, [Problem("path.person", summary(person), "a person in GET /v1/assessments", detail)]
    )
    try:
        _NAME.validate_python(person, strict=True)
    except ValidationError:
        raise nobody from None
    with not_too_many():
        found = stored_eye(store, person, book)
    if not found.words and found.practice is None:
        raise nobody
    return found


def add_eye(app: FastAPI, async_store: AsyncStore, book: Rulebook) -> None:
    """Add the routes that show the eyes of people in ``async_store``, with the titles of ``book``."""

    async def view_of(request: Request) -> tuple[EyeView, Rulebook]:
        query = LanguageQuery.of(request)
        localized = book_in(request, query.lang, book)
        person = request.path_params["person"]
        return await async_store.read_much(lambda store: eye_in(store, person, localized)), localized

    @needs("read")
    async def show(request: Request) -> Response:
        view, localized = await view_of(request)
        response = as_json(request, view)
        response.headers.update(language_headers(localized.language))
        return response

    @needs("read")
    async def show_plot(request: Request) -> Response:
        view, localized = await view_of(request)
        quantity = request.path_params["quantity"]
        plot = curve_plot(view, quantity, localized)
        if plot is None:
            detail = f'These pairs tell no curve of "{cut(quantity)}". GET {_PATH} says why, and how many are missing.'
            allowed = "a quantity in quantities that has words"
            raise ProblemError("not-found", detail, [Problem("path.quantity", summary(quantity), allowed, detail)])
        response = answered(request, plot, SVG, SVG_POLICY)
        response.headers.update(language_headers(localized.language))
        return response

    add_operation(app, _PATH.replace("{person}", "{person:path}"), show, _operation("eye", "A person's eye", _DOC))
    plotted = "The curve of one quantity, as a picture of what GET /v1/people/{person}/eye says; lang as there."
    add_operation(
        app,
        f"{_PATH.replace('{person}', '{person:path}')}/{{quantity}}.svg",
        show_plot,
        _operation("eye_curve", "The curve of an eye, plotted", plotted, plot=True),
    )


def _operation(name: str, title: str, description: str, *, plot: bool = False) -> Operation:
    return Operation(
        name=name,
        tag=MARKS_TAG,
        summary=title,
        description=description,
        path=(_PERSON, _QUANTITY) if plot else (_PERSON,),
        query=LanguageQuery,
        answers={
            HTTPStatus.OK: Answer(
                f"{title}.", Content(media_type=SVG) if plot else Content((EyeView,)), TAGGED | CONTENT_LANGUAGE
            )
        },
        problems=("not-found", *READING),
    )
