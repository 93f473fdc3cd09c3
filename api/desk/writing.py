"""What a form of the desk may change: with a session whose key has the scope mark, from a page of this session."""

from __future__ import annotations

import hmac
from collections.abc import Awaitable, Callable, Mapping
from typing import Final
from urllib.parse import parse_qsl

from starlette.requests import Request
from starlette.responses import Response

from api.http.auth import session_of
from api.http.bodies import read_body, require_media_type
from api.http.local_only import refuse_other_origin
from api.http.problems import ProblemError
from api.http.route_scopes import needs
from fitcheck.errors import Problem
from fitcheck.records.keys import MARK

__all__ = ["FORM", "PAGE_TOKEN", "Fields", "page_token_of", "writes"]

FORM: Final = "application/x-www-form-urlencoded"
PAGE_TOKEN: Final = "page_token"  # noqa: S105  (the name of a field)
_MOST: Final = 64 * 1024

Fields = Mapping[str, str]
"""A form's fields, each once, without the page's token."""
_Answer = Callable[[Request], Awaitable[Response]]


def page_token_of(request: Request) -> str:
    """What forms of the page answering ``request`` have in their hidden field PAGE_TOKEN; empty without a session."""
    session = session_of(request.scope)
    return "" if session is None else session.page_token


def writes(answer: Callable[[Request, Fields], Awaitable[Response]]) -> _Answer:
    """Declare that ``answer`` takes a form of the desk, and have it called with the form's fields alone.

    The key needs the scope mark.  A browser shows it by its session, and then must come from a page of this origin and
    send that page's token; a program shows it in the header, which no page of another site can.  Without access keys,
    where there are no sessions, only this machine's own pages get here.  Raises ProblemError.
    """

    @needs(MARK, by_session=True)
    async def write(request: Request) -> Response:
        refuse_other_origin(request.scope)
        require_media_type(request, FORM)
        body = await read_body(request, _MOST)
        pairs = parse_qsl(body.decode("latin-1"), keep_blank_values=True, encoding="utf-8", errors="replace")
        fields = dict(pairs)
        if len(fields) != len(pairs):
            raise ProblemError("bad-form", "A field of this form stands there twice. Load the page again.")
        _require_page_token(request, fields.pop(PAGE_TOKEN, ""))
        return await answer(request, fields)

    return write


def _require_page_token(request: Request, shown: str) -> None:
    session = session_of(request.scope)
    if session is None or hmac.compare_digest(shown.encode(), session.page_token.encode()):
        return
    detail = "This form is not of a page of this session. Load the page again, and send the form from there."
    raise ProblemError("not-from-this-page", detail, [Problem(PAGE_TOKEN, None, "the token of the page", detail)])
