"""Plain routes, which take the request and answer with a Response: called without a detour.

FastAPI prepares for every request what a function might have injected and what it might leave open. For a plain route
that is nothing, and takes longer than all else that is done around an assessment.
"""

from __future__ import annotations

import inspect

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route
from starlette.types import ASGIApp, Receive, Scope, Send

__all__ = ["app_of", "is_plain"]


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
