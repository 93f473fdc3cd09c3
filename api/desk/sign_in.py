"""/desk/sign-in: an access key that the browser keeps in a cookie, and problems of the desk as pages."""

from __future__ import annotations

from http import HTTPStatus
from typing import Final
from urllib.parse import parse_qs

from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from api.desk.forms import PATHS, Links
from api.desk.pages import PAGE_POLICY, page_as_made
from api.http.auth_cookie import cookie_forgotten, cookie_of
from api.http.bodies import read_body, require_media_type
from api.http.local_only import refuse_other_origin
from api.http.problems import ProblemError, instance_of
from api.http.route_scopes import open_to_all
from api.parameters.language import LanguageQuery, language_headers, language_of, requested_language
from api.parameters.query import Query
from api.routes.stored_record import HTML
from fitcheck.records.keys import Token
from fitcheck.settings import ServiceSettings
from fitcheck.text.catalogue import ENGLISH, messages_in

__all__ = ["add_signing_in", "desk_problem"]

_FORM: Final = "application/x-www-form-urlencoded"
_MOST: Final = 4096
_POLICY: Final = f"{PAGE_POLICY}; frame-ancestors 'none'"


def add_signing_in(app: FastAPI, settings: ServiceSettings) -> None:
    """Add the page where a browser is given a key, and where it forgets it."""

    @open_to_all
    async def show_form(request: Request) -> Response:
        LanguageQuery.of(request)
        return _form(request)

    @open_to_all
    async def sign_in(request: Request) -> Response:
        Query.of(request)
        refuse_other_origin(request.scope)
        require_media_type(request, _FORM)
        body = await read_body(request, _MOST)
        keys = parse_qs(body.decode("latin-1"), keep_blank_values=True).get("key", [])
        token = Token.read(keys[0].strip()) if len(keys) == 1 else None
        if token is None:
            return _form(request, HTTPStatus.BAD_REQUEST)
        return RedirectResponse("/desk", HTTPStatus.SEE_OTHER, {"set-cookie": cookie_of(token, settings)})

    @open_to_all
    async def sign_out(request: Request) -> Response:
        Query.of(request)
        refuse_other_origin(request.scope)
        return RedirectResponse(PATHS["sign_in"], HTTPStatus.SEE_OTHER, {"set-cookie": cookie_forgotten(settings)})

    app.add_route(PATHS["sign_in"], show_form, methods=["GET"], include_in_schema=False)
    app.add_route(PATHS["sign_in"], sign_in, methods=["POST"], include_in_schema=False)
    app.add_route("/desk/sign-out", sign_out, methods=["POST"], include_in_schema=False)


def _form(request: Request, status: HTTPStatus = HTTPStatus.OK) -> Response:
    messages = messages_in(language_of(request, requested_language(request)))
    # With no referrer at all a browser would not say either which origin a form is of.
    page = page_as_made(
        "sign_in.html",
        messages.say("desk.title.sign_in"),
        messages,
        Links.of(request),
        "sign_in",
        wrong=status != HTTPStatus.OK,
        referrer="same-origin",
    )
    headers = {"content-security-policy": _POLICY, **language_headers(messages.language)}
    return Response(page, status, headers, HTML)


def desk_problem(request: Request, problem: ProblemError) -> Response | None:
    """The problem as a page, for a browser at the desk; None for everybody else.

    What the problem is stands there in English.
    """
    path = request.url.path
    if not (path == "/desk" or path.startswith("/desk/")) or "text/html" not in request.headers.get("accept", ""):
        return None
    try:
        messages, links = messages_in(language_of(request, requested_language(request))), Links.of(request)
    except ProblemError:
        messages, links = messages_in(ENGLISH), Links(None)
    page = page_as_made(
        "problem.html",
        problem.kind.title,
        messages,
        links,
        detail=problem.detail,
        sign_in=problem.kind.status in {HTTPStatus.UNAUTHORIZED, HTTPStatus.FORBIDDEN},
        faults=problem.problems,
        kind=problem.kind.type,
        instance=instance_of(request.scope),
    )
    headers = {**problem.headers, "content-security-policy": _POLICY}
    return Response(page, problem.kind.status, headers, HTML)
