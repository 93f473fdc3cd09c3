"""Who may use a route: each one says which scope it needs, where it is registered, and none is let through unsaid."""

from __future__ import annotations

import inspect
from collections.abc import Awaitable, Callable
from functools import partial
from typing import Any, Final, TypeVar
from weakref import WeakKeyDictionary, WeakSet

from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route
from starlette.types import ASGIApp, Receive, Scope, Send

from api.http.auth import Authenticator
from api.http.request_notes import note_of
from fitcheck.records.keys import SCOPES

__all__ = [
    "UndeclaredRoute",
    "admit_again",
    "app_of",
    "declared_as",
    "guard",
    "is_plain",
    "needed_by",
    "needs",
    "open_to_all",
]

_Endpoint = TypeVar("_Endpoint", bound=Callable[..., Any])
_NEEDED: Final[WeakKeyDictionary[Callable[..., Any], str | None]] = WeakKeyDictionary()
_BY_SESSION: Final[WeakSet[Callable[..., Any]]] = WeakSet()
_ADMIT: Final = "admit"


class UndeclaredRoute(RuntimeError):
    """A route that does not say who may use it."""


def needs(scope: str, *, by_session: bool = False) -> Callable[[_Endpoint], _Endpoint]:
    """Declare that what answers a route needs a key with ``scope``, one of SCOPES.

    ``by_session``: a browser may show it by its session although the route changes something; what answers must then
    look at the page's token.
    """
    if scope not in SCOPES:
        raise UndeclaredRoute(f'There is no scope "{scope}". There are: {", ".join(SCOPES)}.')

    def declare(endpoint: _Endpoint) -> _Endpoint:
        _NEEDED[endpoint] = scope
        if by_session:
            _BY_SESSION.add(endpoint)
        return endpoint

    return declare


def open_to_all(endpoint: _Endpoint) -> _Endpoint:
    """Declare that what answers a route tells nothing that not everyone may know, and needs no key."""
    _NEEDED[endpoint] = None
    return endpoint


def declared_as(endpoint: Callable[..., Any], other: Callable[..., Any]) -> None:
    """Declare that ``endpoint`` needs what ``other`` does, which it answers by."""
    _NEEDED[endpoint] = _NEEDED[other]
    if other in _BY_SESSION:
        _BY_SESSION.add(endpoint)


def needed_by(route: BaseRoute) -> str | None:
    """The scope that ``route`` needs; None where it is open to all.

    Raises UndeclaredRoute where it does not say.
    """
    if not isinstance(route, Route) or route.endpoint not in _NEEDED:
        raise UndeclaredRoute(
            f"{route!r} does not say who may use it. Put @needs(scope) or @open_to_all over the function that answers."
        )
    return _NEEDED[route.endpoint]


def guard(app: FastAPI, authenticator: Authenticator) -> None:
    """Put ``authenticator`` before every route of ``app``.

    Raises UndeclaredRoute for the first route that does not say who may use it.
    """
    for route in app.routes:
        needed = needed_by(route)
        if isinstance(route, Route):
            admit = partial(authenticator.admit, needed=needed, by_session=route.endpoint in _BY_SESSION)
            route.app = _Guarded(app_of(route), admit, route.path_format)


async def admit_again(scope: Scope) -> None:
    """Let in once more a request that has waited: its key may have been revoked meanwhile.

    Raises what ``Gate.admit`` does.
    """
    await scope["state"][_ADMIT]()


class _Guarded:
    """A route behind the gate."""

    def __init__(self, app: ASGIApp, admit: Callable[[Scope], Awaitable[None]], template: str) -> None:
        self._app = app
        self._admit = admit
        self._template = template

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        note_of(scope).route = self._template
        await self._admit(scope)
        scope["state"][_ADMIT] = partial(self._admit, scope)
        await self._app(scope, receive, send)


def is_plain(route: Route) -> bool:
    """Whether what answers ``route`` takes just the request, returns a Response, and depends on nothing else."""
    if not inspect.iscoroutinefunction(route.endpoint) or getattr(route, "dependencies", None):
        return False
    signature = inspect.signature(route.endpoint, eval_str=True)
    taken = [parameter.annotation for parameter in signature.parameters.values()]
    return taken == [Request] and signature.return_annotation is Response


def app_of(route: Route) -> ASGIApp:
    """What answers ``route``: its function itself where it is plain, and otherwise what FastAPI has made of it.

    Exceptions are left to the handlers of the whole application, which are the same.
    """
    if not is_plain(route):
        return route.app
    endpoint = route.endpoint

    async def answering(scope: Scope, receive: Receive, send: Send) -> None:
        response: Response = await endpoint(Request(scope, receive, send))
        await response(scope, receive, send)

    return answering
