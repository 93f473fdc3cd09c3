"""/desk/sign-in: a session that begins with an access key and ends, and problems of the desk as pages."""

from __future__ import annotations

import asyncio
from http import HTTPStatus
from typing import Final
from urllib.parse import parse_qs

from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from api.desk.back import SignInQuery, page_requested
from api.desk.forms import PATHS, Links
from api.desk.frame import PAGE_POLICY, page_as_made
from api.desk.writing import FORM
from api.http.bodies import read_body, require_media_type
from api.http.local_only import refuse_other_origin
from api.http.problems import ProblemError, instance_of, store_problem
from api.http.request_notes import note_of
from api.http.route_scopes import open_to_all
from api.http.session_cookie import cookie_forgotten, cookie_of, session_in_cookie
from api.parameters.language import language_headers, language_of, requested_language
from api.parameters.query import Query
from api.routes.stored_record import HTML
from api.store import AsyncStore
from fitcheck.records import StoreError
from fitcheck.records.keys import Token
from fitcheck.records.sessions import SessionToken
from fitcheck.settings import ServiceSettings
from fitcheck.text.catalogue import ENGLISH, messages_in
from fitcheck.vocabulary import now

__all__ = ["add_signing_in", "desk_problem"]

_MOST: Final = 4096
_POLICY: Final = f"{PAGE_POLICY}; frame-ancestors 'none'"


def add_signing_in(app: FastAPI, async_store: AsyncStore, settings: ServiceSettings) -> None:
    """Add the page where a browser begins a session with a key, and where it ends it."""

    @open_to_all
    async def show_form(request: Request) -> Response:
        return _form(request, SignInQuery.of(request))

    @open_to_all
    async def sign_in(request: Request) -> Response:
        query = SignInQuery.of(request)
        refuse_other_origin(request.scope)
        require_media_type(request, FORM)
        body = await read_body(request, _MOST)
        keys = parse_qs(body.decode("latin-1"), keep_blank_values=True).get("key", [])
        token = Token.read(keys[0].strip()) if len(keys) == 1 else None
        if token is None:
            return _form(request, query, "no_key", HTTPStatus.BAD_REQUEST)
        key = await asyncio.to_thread(async_store.check, token)
        if key is None or key.revoked is not None or key.ended(now()):
            return _form(request, query, "not_good", HTTPStatus.FORBIDDEN)
        note_of(request.scope).key = key.id
        if not key.opens("read"):
            return _form(request, query, "not_reading", HTTPStatus.FORBIDDEN)
        # Never the session that the browser shows: somebody else may have put it there.
        await end_shown(request)
        session = await asyncio.to_thread(async_store.begin_session, key)
        page = query.back or Links(query.lang).page("list")
        return RedirectResponse(page, HTTPStatus.SEE_OTHER, {"set-cookie": cookie_of(session, settings)})

    @open_to_all
    async def sign_out(request: Request) -> Response:
        Query.of(request)
        refuse_other_origin(request.scope)
        forgotten = {"set-cookie": cookie_forgotten(settings)}
        try:
            await end_shown(request)
        except StoreError as error:
            problem = store_problem(error)
            problem.headers |= forgotten
            raise problem from error
        return RedirectResponse(PATHS["sign_in"], HTTPStatus.SEE_OTHER, forgotten)

    async def end_shown(request: Request) -> None:
        session = session_in_cookie(request.scope, settings)
        if isinstance(session, SessionToken):
            await asyncio.to_thread(async_store.end_session, session)

    app.add_route(PATHS["sign_in"], show_form, methods=["GET"], include_in_schema=False)
    app.add_route(PATHS["sign_in"], sign_in, methods=["POST"], include_in_schema=False)
    app.add_route("/desk/sign-out", sign_out, methods=["POST"], include_in_schema=False)


def _form(
    request: Request, query: SignInQuery, wrong: str | None = None, status: HTTPStatus = HTTPStatus.OK
) -> Response:
    """The form; ``wrong`` names the text that says what was wrong with the key."""
    messages = messages_in(language_of(request, requested_language(request)))
    links = Links.of(request)
    # With no referrer at all a browser would not say either which origin a form is of.
    page = page_as_made(
        "sign_in.html",
        messages.say("desk.title.sign_in"),
        messages,
        links,
        "sign_in",
        action=links.page("sign_in", back=query.back),
        wrong=None if wrong is None else messages.say(f"desk.sign_in.{wrong}"),
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
        sign_in=links.page("sign_in", back=page_requested(request))
        if problem.kind.status in {HTTPStatus.UNAUTHORIZED, HTTPStatus.FORBIDDEN}
        else None,
        # What a program would send in a header says nothing to who signs in.
        faults=[each for each in problem.problems if not each.field.startswith("header.")],
        kind=problem.kind.type,
        instance=instance_of(request.scope),
    )
    headers = {**problem.headers, "content-security-policy": _POLICY}
    return Response(page, problem.kind.status, headers, HTML)
