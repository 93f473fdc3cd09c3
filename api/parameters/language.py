"""In which language a request is answered: what its address asks for, else its Accept-Language, else the service's own.

Texts only: findings, actions, cautions, what is still needed.  Problems are told in English, in every language.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from typing import Annotated, Any, Final

from fastapi import FastAPI
from pydantic import AfterValidator, Field, ValidationInfo
from starlette.requests import Request

from api.http.headers import values
from api.parameters.query import Query, parameter, refuse_twice, refuse_word
from fitcheck.rulebooks.selection import localized_book
from rules import Rulebook, localized
from rules.loading.translation import BASE, languages_of

__all__ = [
    "ACCEPT_LANGUAGE",
    "CONTENT_LANGUAGE",
    "LANG",
    "LANGUAGE_HEADER",
    "Language",
    "LanguageQuery",
    "StoredLanguageQuery",
    "add_languages",
    "book_in",
    "language_headers",
    "language_of",
    "requested_language",
]

LANG: Final = "lang"
"""The query parameter that asks for a language."""

_LONGEST: Final = 1000
_WISH: Final = re.compile(
    r"(\*|[A-Za-z]{1,8}(?:-[A-Za-z0-9]{1,8})*)(?:[ \t]*;[ \t]*[qQ]=(0(?:\.[0-9]{0,3})?|1(?:\.0{0,3})?))?"
)


def _known(lang: str, info: ValidationInfo[Request]) -> str:
    known: tuple[str, ...] = info.context.app.state.languages
    if lang not in known:
        refuse_word(LANG, lang, known)
    return lang


Language = Annotated[
    str | None,
    AfterValidator(_known),
    Field(
        description="The language of the texts, such as de; it goes before Accept-Language. Decisions and numbers "
        "are the same in every language.",
        json_schema_extra={"default": BASE},
    ),
]
"""The query parameter lang."""


class LanguageQuery(Query):
    """The query of a route that takes a language alone."""

    lang: Language = None


class StoredLanguageQuery(Query):
    """The query of a page that is made of what was kept."""

    lang: Annotated[
        str | None,
        AfterValidator(_known),
        Field(
            description="The language of labels and names, such as de; without it that in which the foot was answered. "
            "Findings, actions and cautions stay as they were answered."
        ),
    ] = None


ACCEPT_LANGUAGE: Final = "accept-language"
LANGUAGE_HEADER: Final = parameter("header", "Accept-Language", "The languages that you would like the texts in.")
"""The header of a request that goes with lang, for the OpenAPI document."""
CONTENT_LANGUAGE: Final[dict[str, Any]] = {
    "Content-Language": {"description": "The language of the texts.", "schema": {"type": "string"}}
}
"""The header of an answer that has a language, for the OpenAPI document."""


def add_languages(app: FastAPI, book: Rulebook) -> None:
    """Let :func:`language_of` answer for the service of ``app``, whose rulebook is ``book``.

    Raises rules.RulebookError where the setting FITCHECK_LANGUAGE names a language that the book does not have.
    """
    app.state.languages = languages_of(book)
    app.state.language = localized_book(book).language


def requested_language(request: Request) -> str | None:
    """The language that the address asks for, if any; ProblemError for a lang that there is not."""
    known: tuple[str, ...] = request.app.state.languages
    given = request.query_params.getlist(LANG)
    if len(given) > 1:
        refuse_twice(LANG, given[1])
    if given and given[0] not in known:
        refuse_word(LANG, given[0], known)
    return given[0] if given else None


def language_of(request: Request, lang: str | None) -> str:
    """The language in which the request is to be answered; ``lang``: the one that its address asks for."""
    known: tuple[str, ...] = request.app.state.languages
    own: str = request.app.state.language
    accepts = values(request, ACCEPT_LANGUAGE.encode())
    return lang or (_accepted(", ".join(accepts), known, own) if accepts else None) or own


def book_in(request: Request, lang: str | None, book: Rulebook) -> Rulebook:
    """``book`` with its texts in the language of the request, see :func:`language_of`; it judges alike in each."""
    return localized(book, language_of(request, lang))


def language_headers(language: str | None) -> Mapping[str, str]:
    """The headers of an answer whose texts are in ``language``; None: in one that is not known."""
    return {"vary": ACCEPT_LANGUAGE} if language is None else {"content-language": language, "vary": ACCEPT_LANGUAGE}


def _accepted(header: str, known: Collection[str], own: str) -> str | None:
    """The best of the ``known`` languages that an Accept-Language names; None where it names none of them.

    By RFC 4647, 3.4: a wish that is not known is cut short until it is.  A header that is no such list is let be.

    >>> _accepted("fr, de-AT;q=0.8, en;q=0.5", ("en", "de"), "en"), _accepted("fr, *;q=0.1", ("en", "de"), "en")
    ('de', 'en')
    """
    if len(header) > _LONGEST:
        return None
    wishes = sorted(_wishes(header), key=lambda wish: -wish[1])
    refused = {name for name, weight in wishes if weight == 0}
    for name, weight in wishes:
        if weight == 0:
            continue
        if name == "*":
            return own if own not in refused else None
        for language in _shorter(name):
            match = next((each for each in known if each.lower() == language), None)
            if match is not None:
                return match
    return None


def _wishes(header: str) -> Iterator[tuple[str, float]]:
    for part in header.split(","):
        found = _WISH.fullmatch(part.strip())
        if found is not None:
            yield found[1].lower(), float(found[2] or 1)


def _shorter(name: str) -> Iterator[str]:
    parts = name.split("-")
    for end in range(len(parts), 0, -1):
        yield "-".join(parts[:end])
