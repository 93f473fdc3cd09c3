"""What every request and answer has: an id, a note of it, a few headers, and no exception that gets out."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable, Sequence
from typing import Final

from starlette.requests import ClientDisconnect
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.http.headers import CONTENT_POLICY, fixed_headers
from api.http.problems import ProblemError, problem_response
from api.http.request_notes import ALWAYS_ANSWERED, BEYOND, RequestNote, attach_note

__all__ = ["RequestMiddleware", "internal_error"]

_logger = logging.getLogger(__name__)
_FIXED: Final = fixed_headers(behind_tls=False)
_TOO_MANY: Final = ProblemError(
    "busy",
    "As many connections as this service takes are at work. Send the request again after a while.",
    headers={"retry-after": "5", "connection": "close"},
)
_DEFAULTS: Final = (
    (b"cache-control", b"no-store"),
    (b"content-security-policy", CONTENT_POLICY.encode()),
)


def internal_error() -> ProblemError:
    """The problem that stands for any exception that was not foreseen; it tells nothing of it."""
    return ProblemError("internal-error", "The service failed. No foot was released by this request.")


class RequestMiddleware:
    """ASGI middleware: gives each request an id, and turns what nobody foresaw into a plain problem.

    ``fixed`` headers go with every answer.  Each of ``watchers`` gets the request's note when all is over; none may
    raise or wait.
    """

    def __init__(
        self,
        app: ASGIApp,
        fixed: Sequence[tuple[bytes, bytes]] = _FIXED,
        watchers: Sequence[Callable[[RequestNote], None]] = (),
    ) -> None:
        self._app = app
        self._fixed = tuple(fixed)
        self._watchers = tuple(watchers)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        start = time.perf_counter()
        note = attach_note(scope)

        async def sending(message: Message) -> None:
            if message["type"] == "http.response.start":
                note.status = int(message["status"])
                headers = message.get("headers", [])
                names = {name for name, _ in headers}
                message["headers"] = [
                    *headers,
                    (b"x-request-id", note.id.encode()),
                    *self._fixed,
                    *(header for header in _DEFAULTS if header[0] not in names),
                ]
            await send(message)

        try:
            if scope["state"].get(BEYOND) and scope["path"] not in ALWAYS_ANSWERED:
                await problem_response(_TOO_MANY, scope)(scope, receive, sending)
            else:
                await self._app(scope, receive, sending)
        except ClientDisconnect:
            _logger.info("request %s: the client went away", note.id)
        except Exception:
            _logger.exception("request %s failed", note.id)
            if note.status:
                # Too late for another answer: the server must break the connection off, so that what was sent is
                # not taken for the whole.
                raise
            await problem_response(internal_error(), scope)(scope, receive, sending)
        finally:
            note.ms = 1e3 * (time.perf_counter() - start)
            for watch in self._watchers:
                watch(note)
