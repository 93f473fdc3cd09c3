"""What is noted of a request while it is answered: for the log, the metrics and the audit of keys."""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

from starlette.types import Scope

__all__ = [
    "ALWAYS_ANSWERED",
    "BEYOND",
    "GONE",
    "NO_ROUTE",
    "REQUEST_ID",
    "RequestNote",
    "attach_note",
    "key_of",
    "note_of",
]

REQUEST_ID: Final = "request_id"
ALWAYS_ANSWERED: Final = frozenset({"/healthz", "/readyz"})
"""The addresses that are answered also over connections beyond the bound."""
BEYOND: Final = "beyond"
"""Where the state of a request has this and it is true, its connection is one more than the service takes."""
GONE: Final = "gone"
"""Where the state of a request has this, it is an asyncio.Event that is set once the client has gone."""
NO_ROUTE: Final = "(none)"
"""The route of a request that none takes: its address is the client's own text, and is noted nowhere."""
OTHER_METHOD: Final = "(other)"

_NOTE: Final = "note"
_METHODS: Final = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"})
_SAFE_ID: Final = re.compile(rb"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")


@dataclass(slots=True)
class RequestNote:
    """One request; nothing in it is text of the client's own, but an id that is safe to write anywhere."""

    id: str
    """The client's X-Request-Id where that is safe to pass on, else one of our own (a UUID)."""
    method: str
    route: str = NO_ROUTE
    """The template of the route that took it."""
    key: str = ""
    """The id of the access key that it showed, whether or not that let it in; empty without one."""
    status: int = 0
    """HTTP status of the answer; 0 while none has begun."""
    ms: float = 0.0
    """Milliseconds to the end of the answer."""


def attach_note(scope: Scope) -> RequestNote:
    """Begin the note of the request in ``scope``, which is given a state of its own."""
    method = scope.get("method", "")
    note = RequestNote(_id_in(scope.get("headers", ())), method if method in _METHODS else OTHER_METHOD)
    scope["state"] = {**scope.get("state", {}), REQUEST_ID: note.id, _NOTE: note}
    return note


def note_of(scope: Scope) -> RequestNote:
    """The note of the request in ``scope``."""
    note: Any = scope["state"][_NOTE]
    assert isinstance(note, RequestNote)  # noqa: S101  (for the type checker)
    return note


def key_of(scope: Scope) -> str:
    """The id of the access key that let this request in; empty where keys are not required."""
    return note_of(scope).key


def _id_in(headers: Iterable[tuple[bytes, bytes]]) -> str:
    """The client's own id, when there is just one and it is safe in a header, a log and an address."""
    ids = [value for name, value in headers if name == b"x-request-id"]
    if len(ids) == 1 and _SAFE_ID.fullmatch(ids[0]):
        return ids[0].decode("ascii")
    return str(uuid.uuid4())
