"""What every request and answer has: an id, a few headers, and no exception that gets out."""

from __future__ import annotations

import logging
import uuid

from starlette.datastructures import MutableHeaders
from starlette.requests import ClientDisconnect
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.problem_details import REQUEST_ID, ProblemError, problem_response

__all__ = ["Envelope", "internal_error"]

_logger = logging.getLogger(__name__)


def internal_error() -> ProblemError:
    """The problem that stands for any exception that was not foreseen; it tells nothing of it."""
    return ProblemError("internal-error", "The service failed. No foot was released by this request.")


class Envelope:
    """ASGI middleware: gives each request an id, and turns what nobody foresaw into a plain problem."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        request_id = str(uuid.uuid4())
        scope["state"] = {**scope.get("state", {}), REQUEST_ID: request_id}
        started = False

        async def sending(message: Message) -> None:
            nonlocal started
            if message["type"] == "http.response.start":
                started = True
                headers = MutableHeaders(scope=message)
                headers["x-request-id"] = request_id
                headers["x-content-type-options"] = "nosniff"
                headers.setdefault("cache-control", "no-store")
            await send(message)

        try:
            await self._app(scope, receive, sending)
        except ClientDisconnect:
            _logger.info("request %s: the client went away", request_id)
        except Exception:
            _logger.exception("request %s failed", request_id)
            if started:
                # Too late for another answer: the server must break the connection off, so that what was sent is
                # not taken for the whole.
                raise
            await problem_response(internal_error(), scope)(scope, receive, sending)
