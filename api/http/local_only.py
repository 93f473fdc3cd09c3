"""A service without access keys answers this machine alone, and no web page that a browser on it has open.

A page of any site can send requests to the machine that it is shown on, and by changing what its own name stands for
(DNS rebinding) even read the answers.  Its name then stands in Host, so only names of this machine are taken there;
what changes anything is taken from no other origin.  A proxy on this machine would let in everybody, so a request with
one of four headers that most proxies send is refused as well; a proxy that sends none of them cannot be told.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final
from urllib.parse import urlsplit

from starlette.types import Scope

from api.http.problems import ProblemError
from fitcheck.errors import Problem
from fitcheck.fitting.strict_json import cut
from fitcheck.fitting.validation import summary
from fitcheck.settings import is_this_machine

__all__ = ["refuse_other_origin", "refuse_unless_local"]

_READING: Final = frozenset({"GET", "HEAD", "OPTIONS"})
_PROXIED: Final = frozenset({b"forwarded", b"x-forwarded-for", b"x-forwarded-host", b"x-real-ip"})
"""By these alone a proxy is known."""
_OF_ORIGIN: Final = frozenset({b"host", b"origin", b"sec-fetch-site"})
_LOOKED_AT: Final = _PROXIED | {b"host"}
_SAME_SITE: Final = frozenset({"same-origin", "none"})
_MAKE_ONE: Final = "Make an access key with `fitcheck keys make` and send it."


def refuse_unless_local(scope: Scope) -> None:
    """Refuse a request from elsewhere, for another host, or from a page of another origin.

    Raises ProblemError of kind unauthorized, wrong-host or cross-origin.
    """
    server = scope.get("server")
    if server is None or server[1] is None:
        # Not over TCP/IP: called in this process, or over a socket that is a file with its own permissions.
        return
    headers: dict[bytes, str] = {}
    for name, value in scope["headers"]:
        if name in _LOOKED_AT:
            if name in headers and name == b"host":
                raise _wrong_host(value.decode("latin-1"))
            headers[name] = value.decode("latin-1")
    if not _is_this_machine(server[0]) or not _PROXIED.isdisjoint(headers):
        raise ProblemError(
            "unauthorized",
            f"Without an access key this service answers only the machine that it runs on. {_MAKE_ONE}",
            headers={"www-authenticate": 'Bearer realm="fitcheck"'},
        )
    host = headers.get(b"host", "")
    if not _names_this_machine(host):
        raise _wrong_host(host)
    if scope["method"] not in _READING:
        refuse_other_origin(scope)


def refuse_other_origin(scope: Scope) -> None:
    """Refuse a request that a page of another origin has a browser send; what is no browser says nothing of it.

    Raises ProblemError of kind cross-origin.
    """
    origin_headers = {name: value.decode("latin-1") for name, value in scope["headers"] if name in _OF_ORIGIN}
    origin = origin_headers.get(b"origin")
    foreign = origin is not None and not _is_of(origin, origin_headers.get(b"host", ""))
    if foreign or origin_headers.get(b"sec-fetch-site", "none") not in _SAME_SITE:
        raise _cross_origin(origin)


@lru_cache(maxsize=64)
def _is_this_machine(address: str) -> bool:
    return is_this_machine(address)


@lru_cache(maxsize=64)
def _names_this_machine(host: str) -> bool:
    """Whether a Host header asks for this machine."""
    return is_this_machine(_name_of(host))


def _name_of(host: str) -> str:
    """The name in a Host header, without its port; empty where it is not one."""
    try:
        parts = urlsplit(f"//{host}")
        _ = parts.port
    except ValueError:
        return ""
    return (parts.hostname or "") if parts.netloc == host and parts.username is None else ""


def _is_of(origin: str, host: str) -> bool:
    return origin.lower() in {f"http://{host.lower()}", f"https://{host.lower()}"}


def _wrong_host(host: str) -> ProblemError:
    detail = f'This service does not answer for the host "{cut(host)}". Ask for localhost or 127.0.0.1. {_MAKE_ONE}'
    return ProblemError(
        "wrong-host", detail, [Problem("header.host", summary(host), "localhost, 127.0.0.1 or [::1]", detail)]
    )


def _cross_origin(origin: str | None) -> ProblemError:
    detail = f"A page of another origin may not send this. {_MAKE_ONE}"
    return ProblemError(
        "cross-origin",
        detail,
        [Problem("header.origin", summary(origin), "the origin of this service, or none", detail)],
    )
