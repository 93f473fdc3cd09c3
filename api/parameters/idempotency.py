"""Idempotency keys: a client's own name for a request or a line, so that sending it again keeps nothing twice."""

from __future__ import annotations

import hashlib
import json
import re
from typing import Final

from starlette.requests import Request

from api.http.problems import ProblemError
from api.http.request_notes import key_of
from api.parameters.query import parameter
from fitcheck.errors import Problem
from fitcheck.fitting.validation import summary
from fitcheck.records import Idempotency

__all__ = [
    "HEADER",
    "IDEMPOTENCY_KEY",
    "REPLAYED",
    "idempotency_key",
    "idempotency_of",
    "key_of_line",
    "refuse_key",
]

HEADER: Final = "idempotency-key"
REPLAYED: Final = "idempotency-replayed"
"""The header that says that an answer is that to an earlier request."""
IDEMPOTENCY_KEY: Final = parameter(
    "header",
    "Idempotency-Key",
    "Your own name for this request, so that sending it again keeps nothing twice: 1 to 255 visible ASCII characters, "
    "such as a random UUID.",
    schema={"type": "string", "minLength": 1, "maxLength": 255, "pattern": "^[!-~]+$"},
)
"""The header of a request, for the OpenAPI document."""
_VISIBLE: Final = re.compile(r"[!-~]{1,255}")
_ALLOWED: Final = "1 to 255 visible ASCII characters, without blanks"


def idempotency_key(request: Request) -> str | None:
    """The request's key; None without one. Raises ProblemError where it is wrong or given twice."""
    keys = request.headers.getlist(HEADER)
    if not keys:
        return None
    if len(keys) > 1:
        raise _wrong(None, "This header is given twice. Send one.")
    if not _VISIBLE.fullmatch(keys[0]):
        raise _wrong(keys[0], f"This is no key. Send {_ALLOWED}.")
    return keys[0]


def key_of_line(value: object) -> str:
    """The key that a line of a batch names. Raises ProblemError where it is none."""
    if isinstance(value, str) and _VISIBLE.fullmatch(value):
        return value
    detail = f"This is no key. Write {_ALLOWED}."
    fault = Problem("key", summary(value), _ALLOWED, detail)
    raise ProblemError("bad-idempotency-key", f"The key of this line is wrong: {detail}", [fault])


def refuse_key(request: Request, detail: str) -> None:
    """Refuse a request that has a key where none has a meaning, with ProblemError; ``detail`` says why."""
    if HEADER in request.headers:
        raise _wrong(request.headers[HEADER], detail, "no such header")


def idempotency_of(request: Request, key: str, body: bytes, query: tuple[str | bool | None, ...]) -> Idempotency:
    """What tells this request from any other: its key, whose that is, its body and what ``query`` bears on it."""
    digest = hashlib.sha256(json.dumps(query).encode() + b"\n" + body).hexdigest()
    return Idempotency(key, key_of(request.scope), f"sha256:{digest}")


def _wrong(value: str | None, detail: str, allowed: str = _ALLOWED) -> ProblemError:
    fault = Problem(f"header.{HEADER}", summary(value), allowed, detail)
    return ProblemError("bad-idempotency-key", f"The header Idempotency-Key is wrong: {detail}", [fault])
