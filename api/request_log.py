"""The log of the service: JSON, one object a line, and one such line for each request."""

from __future__ import annotations

import json
import logging
from datetime import UTC, datetime
from typing import Any, Final

from api.request_notes import RequestNote

__all__ = ["JsonLines", "log_request"]

_FIELDS: Final = "fields"
_requests = logging.getLogger("api.requests")


def log_request(note: RequestNote) -> None:
    """One line for a request: never its address as sent, its query, its body, its headers or where it came from."""
    if _requests.isEnabledFor(logging.INFO):
        fields = {
            "request_id": note.id,
            "method": note.method,
            "route": note.route,
            "status": note.status or None,
            "ms": round(note.ms, 3),
            "key": note.key or None,
        }
        _requests.info("request", extra={_FIELDS: fields})


class JsonLines(logging.Formatter):
    """Each record as one line of JSON in ASCII, whatever the message holds."""

    def format(self, record: logging.LogRecord) -> str:
        """The record as JSON: time (UTC), level, logger, message, then what the record has of its own."""
        line: dict[str, Any] = {
            "time": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds")[:-6] + "Z",
            "level": record.levelname.lower(),
            "logger": record.name,
            "message": record.getMessage(),
            **getattr(record, _FIELDS, {}),
        }
        if record.exc_info:
            line["exception"] = self.formatException(record.exc_info)
        return json.dumps(line)
