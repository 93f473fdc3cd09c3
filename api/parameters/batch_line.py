"""One line of a batch: a fitting, or an object with a key of the client's own and the fitting.

A fitting with a key is kept as it stands in its line, byte for byte, just as if it had been sent by itself.
"""

from __future__ import annotations

import json
import re
from typing import Final, NamedTuple

from api.http.problems import ProblemError
from api.parameters.idempotency import key_of_line
from fitcheck.errors import BadInput, Problem
from fitcheck.fitting.strict_json import cut, loads
from fitcheck.fitting.validation import summary

__all__ = ["BatchLine", "read_line"]

_KEY: Final = "key"
_FITTING: Final = "fitting"
_MARK: Final = f'"{_FITTING}"'.encode()
_BLANKS: Final = re.compile(r"[ \t\r\n]*")


class BatchLine(NamedTuple):
    """A fitting as it was sent, and its key where it has one."""

    raw: bytes
    key: str | None = None


def read_line(raw: bytes) -> BatchLine:
    """The fitting and the key in a line.

    Raises ProblemError where a line with a key is not strict JSON, has other members, or where the key is none.
    """
    if _MARK not in raw:
        return BatchLine(raw)
    try:
        document = loads(raw)
    except BadInput as error:
        raise ProblemError("bad-json", error.problems[0].detail, error.problems) from None
    if not isinstance(document, dict) or _FITTING not in document:
        return BatchLine(raw)
    allowed = f"{_KEY} and {_FITTING}"
    faults = [
        Problem(cut(name), summary(value), allowed, f"A line with a fitting and its key has {allowed} alone.")
        for name, value in document.items()
        if name not in {_KEY, _FITTING}
    ]
    if faults:
        raise ProblemError("bad-input", f"{faults[0].field}: {faults[0].detail}", faults)
    return BatchLine(_member(raw.decode(), _FITTING).encode(), key_of_line(document.get(_KEY)))


def _member(text: str, name: str) -> str:
    """The text of the value of ``name`` in ``text``, an object that is known to be strict JSON and to have it."""
    decoder = json.JSONDecoder()
    at = _after_blanks(text, 0) + 1
    while True:
        found, at = decoder.raw_decode(text, _after_blanks(text, at))
        start = _after_blanks(text, _after_blanks(text, at) + 1)
        _, at = decoder.raw_decode(text, start)
        if found == name:
            return text[start:at]
        at = _after_blanks(text, at) + 1


def _after_blanks(text: str, at: int) -> int:
    blanks = _BLANKS.match(text, at)
    return at if blanks is None else blanks.end()
