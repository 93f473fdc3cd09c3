"""The log of the service: JSON, one object a line, and one such line for each request."""

from __future__ import annotations

import json
import logging
import time
from datetime import UTC, datetime
from functools import lru_cache
from typing import Any

from api.http.request_notes import RequestNote
from fitcheck.vocabulary import utc

__all__ = ["JsonLines", "log_request"]

_requests = logging.getLogger("api.requests")
_quoted = lru_cache(maxsize=1024)(json.dumps)


def log_request(note: RequestNote) -> None:
    """One line for a request: never its address as sent, its query, its body, its headers or where it came from.

    A line for each request has to be cheap: it is put together here, and not by the formatter.
    """
    if _requests.isEnabledFor(logging.INFO):
        status = note.status or "null"
        key = _quoted(note.key) if note.key else "null"
        line = (
            f'{{"time": "{_when(time.time())}", "level": "info", "logger": "api.requests", "message": "request", '
            f'"request_id": {json.dumps(note.id)}, "method": {_quoted(note.method)}, "route": {_quoted(note.route)}, '
            f'"status": {status}, "ms": {note.ms:.3f}, "key": {key}}}'
        )
        # Not made by the logger, which looks for the calling line each time.
        _requests.handle(logging.LogRecord(_requests.name, logging.INFO, __file__, 0, line, None, None))


class JsonLines(logging.Formatter):
    """Each record as one line of JSON in ASCII, whatever the message holds."""

    def format(self, record: logging.LogRecord) -> str:
        """The record as JSON: time (UTC), level, logger and message, and the exception where there is one."""
        if record.name == _requests.name:
            return record.getMessage()
        line: dict[str, Any] = {
            "time": _when(record.created),
            "level": record.levelname.lower(),
            "logger": record.name,
            "message": record.getMessage(),
        }
        if record.exc_info:
            line["exception"] = self.formatException(record.exc_info)
        return json.dumps(line)


def _when(seconds: float) -> str:
    return utc(datetime.fromtimestamp(seconds, UTC))
