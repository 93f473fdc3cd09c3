"""Many fittings in one request: NDJSON in, NDJSON out, answered line by line as they arrive."""

from __future__ import annotations

import asyncio
import json
import logging
from http import HTTPStatus
from typing import Final

from starlette.responses import Response
from starlette.types import Receive, Scope, Send

from api.assessing import assess_bytes
from api.backlog import Backlog
from api.envelope import internal_error
from api.limits import Limits
from api.lines import Line, LineSplitter
from api.problem_details import ProblemError, details, instance_of
from fitcheck.assessment import Assessment
from rules import Rulebook

__all__ = ["MEDIA_TYPES", "BatchAnswer"]

MEDIA_TYPES: Final = ("application/x-ndjson", "application/ndjson")
"""The content types that a batch may have; the first is that of the answer."""

_logger = logging.getLogger(__name__)


class BatchAnswer(Response):
    """Reads the request while it answers: one answer line for each line that is not blank, in order."""

    media_type = MEDIA_TYPES[0]

    def __init__(self, book: Rulebook, limits: Limits) -> None:
        self._book = book
        self._limits = limits
        self.status_code = HTTPStatus.OK
        self.background = None
        self.init_headers()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        with Backlog(self._limits) as backlog:
            reader = asyncio.create_task(backlog.fill(receive))
            try:
                await send({"type": "http.response.start", "status": self.status_code, "headers": self.raw_headers})
                await self._answer(scope, backlog, send)
            finally:
                reader.cancel()
                [outcome] = await asyncio.gather(reader, return_exceptions=True)
                if isinstance(outcome, Exception):
                    _logger.error("request %s: its body could not be taken in", instance_of(scope), exc_info=outcome)

    async def _answer(self, scope: Scope, backlog: Backlog, send: Send) -> None:
        lines = LineSplitter(self._limits.line)
        instance = instance_of(scope)

        async def say(line: Line) -> None:
            answer = self._answer_line(line, f"{instance}#line-{line.number}")
            with backlog.stuck():
                await send({"type": "http.response.body", "body": answer, "more_body": True})
            # Sending need not wait: let other requests have their turn.
            await asyncio.sleep(0)

        async for chunk in backlog.chunks():
            for line in lines.feed(chunk):
                if backlog.cut_off:
                    return
                await say(line)
        if not backlog.complete:
            return
        for line in lines.end():
            await say(line)
        await send({"type": "http.response.body", "body": b"", "more_body": False})

    def _assess(self, line: Line) -> Assessment:
        if line.raw is None:
            raise ProblemError("body-too-large", f"This line has more than {self._limits.line} bytes.")
        return assess_bytes(line.raw, self._book)

    def _answer_line(self, line: Line, instance: str) -> bytes:
        try:
            key, text = "assessment", self._assess(line).model_dump_json()
        except ProblemError as error:
            if error.kind.status >= HTTPStatus.INTERNAL_SERVER_ERROR:
                _logger.exception("request %s: %s", instance, error.kind.name)
            key, text = "problem", details(error, instance).model_dump_json()
        except Exception:
            # One line spoils only itself, whatever went wrong with it.
            _logger.exception("request %s failed", instance)
            key, text = "problem", details(internal_error(), instance).model_dump_json()
        return f'{{"line":{line.number},{json.dumps(key)}:{text}}}\n'.encode()
