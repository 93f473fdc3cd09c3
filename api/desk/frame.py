"""What every page of the desk has: its language, its row of links, its policy."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final, NamedTuple

from starlette.requests import Request
from starlette.responses import Response

from api.desk.forms import Field, FieldView, Links, filled_in
from api.http.auth import key_of
from api.parameters.language import book_in, language_headers, requested_language
from api.routes.stored_record import HTML, answered
from fitcheck.records.keys import MARK
from fitcheck.report.html.rendering import filled, policy
from fitcheck.text.catalogue import Messages, messages_in
from rules import Rulebook

__all__ = ["PAGE_POLICY", "Frame", "page_as_made"]

PAGE_POLICY: Final = policy("form-action 'self'")


def page_as_made(
    template: str, title: str, messages: Messages, links: Links, here: str = "", policy: str = PAGE_POLICY, **parts: Any
) -> str:
    """A page of the desk; ``here`` is its name in the row of links."""
    return filled(
        template,
        messages,
        package="api.desk",
        title=title,
        may_mark=parts.pop("may_mark", True),
        links=links,
        here=here,
        policy=policy,
        **parts,
    )


class Frame(NamedTuple):
    """What every page of the answer to one request has."""

    request: Request
    messages: Messages
    links: Links
    book: Rulebook

    @classmethod
    def of(cls, request: Request, book: Rulebook) -> Frame:
        """The frame in the language of the request. Raises ProblemError."""
        localized = book_in(request, requested_language(request), book)
        return cls(request, messages_in(localized.language), Links.of(request), localized)

    def answer(self, template: str, title: str, here: str = "", policy: str = PAGE_POLICY, **parts: Any) -> Response:
        """The answer with such a page; 304 where the browser has it."""
        key = key_of(self.request.scope)
        may_mark = key is None or (key.person is not None and key.opens(MARK))
        page = page_as_made(template, title, self.messages, self.links, here, policy, may_mark=may_mark, **parts)
        headers = language_headers(self.messages.language)
        return answered(self.request, page, HTML, f"{policy}; frame-ancestors 'none'", headers)

    def fields(self, fields: Sequence[Field]) -> list[FieldView]:
        """Those of a form, with what the query has in them."""
        return filled_in(fields, self.request, self.messages)
