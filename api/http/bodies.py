"""Reading a request's body: the right content type, and never more bytes than allowed."""

from __future__ import annotations

from typing import Final

from starlette.requests import ClientDisconnect, Request

from api.http.headers import first_value, values
from api.http.problems import ProblemError
from fitcheck.errors import Problem
from fitcheck.fitting.validation import summary

__all__ = ["read_body", "require_media_type"]

_DRAINED: Final = 8
"""A body is read on up to this many times its limit, unkept, so that an ordinary client gets to read the answer."""
_DIGITS: Final = 18


def require_media_type(request: Request, *accepted: str) -> None:
    """Refuse a body of another content type than ``accepted``, another charset than utf-8, or a compressed one.

    Raises ProblemError.
    """
    expected = f"{accepted[0]}, in UTF-8, not compressed"
    content_types = values(request, b"content-type")
    if len(content_types) != 1:
        raise _unsupported("content-type", None, expected, "The request must name one content type.")
    media_type, *parameters = (part.strip().lower() for part in content_types[0].split(";"))
    if media_type not in accepted:
        raise _unsupported("content-type", content_types[0], expected, "This content type is not read here.")
    for parameter in parameters:
        name, _, value = parameter.partition("=")
        if name.strip() == "charset" and value.strip().strip('"') != "utf-8":
            raise _unsupported("content-type", content_types[0], expected, "This charset is not read here.")
    coding = first_value(request, b"content-encoding", "identity").strip().lower()
    if coding not in {"", "identity"}:
        raise _unsupported("content-encoding", coding, expected, "A compressed body is not read here.")


async def read_body(request: Request, limit: int) -> bytes:
    """The whole body of at most ``limit`` bytes, to be read once.

    Raises ProblemError where it is larger, whether or not the request says so in advance.
    """
    declared = first_value(request, b"content-length", "")
    announced = int(declared[:_DIGITS]) if declared.isdecimal() else 0
    if announced > limit:
        # A client that waits to be told to continue sends nothing until it is.
        if announced <= _DRAINED * limit and "expect" not in request.headers:
            await _drain(request, _DRAINED * limit)
        raise _too_large(request, limit)
    body, more = bytearray(), True
    while more and len(body) <= limit:
        part, more = await _part(request)
        body += part
    if len(body) > limit:
        if more:
            await _drain(request, _DRAINED * limit)
        raise _too_large(request, limit)
    return bytes(body)


async def _part(request: Request) -> tuple[bytes, bool]:
    """What came next of the body, and whether there is more.

    Raises ClientDisconnect where the client went away.
    """
    message = await request.receive()
    if message["type"] == "http.disconnect":
        raise ClientDisconnect
    return message.get("body", b""), message.get("more_body", False)


async def _drain(request: Request, most: int) -> None:
    read, more = 0, True
    while more and read <= most:
        part, more = await _part(request)
        read += len(part)


def _too_large(request: Request, limit: int) -> ProblemError:
    # The rest of the body would stand in the way of another request; from HTTP/2 on that is the server's business.
    ends = {"connection": "close"} if request.scope.get("http_version", "1.1").startswith("1") else {}
    return ProblemError(
        "body-too-large",
        f"The body has more than {limit} bytes, the most that is read here. Send many fittings as a batch.",
        headers=ends,
    )


def _unsupported(header: str, value: str | None, allowed: str, detail: str) -> ProblemError:
    fault = Problem(f"header.{header}", summary(value), allowed, f"{detail} Send {allowed}.")
    return ProblemError("unsupported-media-type", fault.detail, [fault])
