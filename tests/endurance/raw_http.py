"""HTTP/1.1 by hand: a request with any bytes where a client's library would refuse them or write them otherwise."""

from __future__ import annotations

import http.client
import socket
from collections.abc import Mapping
from typing import NamedTuple
from urllib.parse import urlsplit

__all__ = ["Answer", "ask"]

_PATIENCE_S = 120.0


class Answer(NamedTuple):
    """What came back; ``status`` 0: nothing, the connection was closed."""

    status: int
    headers: Mapping[str, str]
    body: bytes


def ask(address: str, target: bytes, headers: Mapping[bytes, bytes]) -> Answer:
    """GET ``target`` of the server at ``address``, with headers just as they are given."""
    where = urlsplit(address)
    lines = [b"GET " + target + b" HTTP/1.1", b"Host: " + where.netloc.encode(), b"Connection: close"]
    lines += [name + b": " + value for name, value in headers.items()]
    with socket.create_connection((where.hostname, where.port), timeout=_PATIENCE_S) as connection:
        try:
            connection.sendall(b"\r\n".join(lines) + b"\r\n\r\n")
            response = http.client.HTTPResponse(connection)
            response.begin()
            # A server that refuses the start line may leave the rest unread, and the connection then breaks off.
            return Answer(response.status, {n.lower(): v for n, v in response.getheaders()}, response.read())
        except (ConnectionError, http.client.BadStatusLine):
            return Answer(0, {}, b"")
