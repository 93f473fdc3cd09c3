"""The log of the service: JSON, one object a line, and one such line for each request.

What else is said again and again is said some times and then counted, so that no client can fill a disk with it.
"""

from __future__ import annotations

import json
import logging
import time
from collections import Counter
from collections.abc import Callable
from datetime import UTC, datetime
from functools import lru_cache
from typing import Any, Final, TextIO

from api.http.request_notes import RequestNote
from fitcheck.vocabulary import utc

__all__ = ["JsonLines", "LogHandler", "log_request"]

_requests = logging.getLogger("api.requests")
_MINUTE_S: Final = 60.0
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


class LogHandler(logging.StreamHandler[TextIO]):
    """Writes to standard error; of what is said again and again, ``most`` a minute, and then how often it was."""

    def __init__(self, most: int = 20, clock: Callable[[], float] = time.monotonic) -> None:
        super().__init__()
        self._most = most
        self._clock = clock
        self._ends = 0.0
        self._times: Counter[tuple[str, str]] = Counter()

    def emit(self, record: logging.LogRecord) -> None:
        """Write the record, unless as many like it were written within the minute."""
        if self._clock() >= self._ends:
            self._count()
        if record.name != _requests.name:
            # What differs from one time to the next, such as an id, is in the arguments or on a later line.
            like = record.name, str(record.msg).partition("\n")[0]
            self._times[like] += 1
            if self._times[like] > self._most:
                return
        super().emit(record)

    def close(self) -> None:
        """End, with what is still to be told."""
        self._count()
        super().close()

    def _count(self) -> None:
        for (name, message), times in self._times.items():
            if times > self._most:
                again = f"said {times - self._most} times more within a minute: {message}"
                super().emit(logging.LogRecord(name, logging.WARNING, __file__, 0, again, None, None))
        self._times.clear()
        self._ends = self._clock() + _MINUTE_S


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
