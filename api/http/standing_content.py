"""What is sent as it stands for as long as the service runs: with an entity tag, and compressed where that is taken."""

from __future__ import annotations

import gzip
import hashlib
from collections.abc import Mapping
from http import HTTPStatus
from typing import Final

from starlette.requests import Request
from starlette.responses import Response

from api.http.headers import first_value, values

__all__ = ["LEAST", "StandingContent", "takes_gzip"]

LEAST: Final = 1000
"""Bytes below which nothing is gained by compressing."""


class StandingContent:
    """Bytes of one media type, their entity tag (RFC 9110, 8.8.3), and the same bytes compressed."""

    __slots__ = ("_packed", "content", "etag", "media_type")

    def __init__(self, content: bytes, media_type: str) -> None:
        self.content: Final = content
        self.media_type: Final = media_type
        self.etag: Final = f'"{hashlib.sha256(content).hexdigest()[:32]}"'
        packed = gzip.compress(content, mtime=0) if len(content) >= LEAST else content
        self._packed = packed if len(packed) < len(content) else None

    def answer(self, request: Request, headers: Mapping[str, str]) -> Response:
        """The content with ``headers``, compressed where the request takes gzip; or 304 where the client has it."""
        vary = ", ".join(filter(None, (headers.get("vary"), "accept-encoding" if self._packed else None)))
        # A weak comparison: what was packed on its way is the same content.
        sent = {**headers, "etag": self.etag} | ({"vary": vary} if vary else {})
        tags = [tag.strip().removeprefix("W/") for tag in ",".join(values(request, b"if-none-match")).split(",")]
        if self.etag in tags or "*" in tags:
            return Response(status_code=HTTPStatus.NOT_MODIFIED, headers=sent)
        if self._packed is not None and takes_gzip(first_value(request, b"accept-encoding", "")):
            sent["content-encoding"] = "gzip"
            return Response(self._packed, headers=sent, media_type=self.media_type)
        return Response(self.content, headers=sent, media_type=self.media_type)


def takes_gzip(accepted: str) -> bool:
    """Whether an Accept-Encoding names gzip and does not rule it out.

    >>> takes_gzip("br, gzip;q=0.8"), takes_gzip("gzip;q=0"), takes_gzip("")
    (True, False, False)
    """
    for each in accepted.lower().split(","):
        coding, _, weight = each.strip().partition(";")
        if coding.strip() == "gzip":
            return weight.replace(" ", "") not in {"q=0", "q=0.0", "q=0.00", "q=0.000"}
    return False
