"""HTTP methods that go without saying: HEAD is GET without the body, OPTIONS tells what an address takes."""

from __future__ import annotations

from starlette.applications import Starlette
from starlette.routing import Match, Route
from starlette.types import ASGIApp, Message, Receive, Scope, Send

__all__ = ["HeadAsGet", "methods_at"]


def methods_at(app: Starlette, scope: Scope) -> list[str]:
    """The methods that the address of ``scope`` takes, over all its routes; none where there is no such address."""
    found: set[str] = set()
    for route in app.routes:
        if isinstance(route, Route) and route.matches(dict(scope))[0] is not Match.NONE:
            found |= route.methods or set()
    if "GET" in found:
        found.add("HEAD")
    return sorted({*found, "OPTIONS"}) if found else []


class HeadAsGet:
    """ASGI middleware: answers HEAD as GET, without the body."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one request."""
        if scope["type"] != "http" or scope["method"] != "HEAD":
            await self._app(scope, receive, send)
            return

        async def headers_only(message: Message) -> None:
            if message["type"] == "http.response.body":
                message = {**message, "body": b""}
            await send(message)

        await self._app({**scope, "method": "GET"}, receive, headers_only)
