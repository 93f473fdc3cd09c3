"""An access key that a browser keeps after signing in at the desk: a cookie that only reads.

A page cannot add a header to the links in it, so a browser shows the key by a cookie.  No script can read it, no other
site's page can have it sent (SameSite=Strict), and it opens nothing but GET: whatever changes anything needs the header
Authorization, which no form and no link can forge.
"""

from __future__ import annotations

from typing import Final

from starlette.types import Scope

from fitcheck.records.keys import Token
from fitcheck.settings import ServiceSettings

__all__ = ["cookie_forgotten", "cookie_of", "key_in_cookie"]

_READING: Final = frozenset({"GET", "HEAD"})
_COOKIE_SECONDS: Final = "Path=/; HttpOnly; SameSite=Strict"


def _name(settings: ServiceSettings) -> str:
    # RFC 6265bis, 4.1.3.2: a name that only this host can set, and only over TLS.
    return "__Host-fitcheck-key" if settings.behind_tls else "fitcheck-key"


def cookie_of(token: Token, settings: ServiceSettings) -> str:
    """The header Set-Cookie that has the browser keep ``token`` until it is closed."""
    return f"{_name(settings)}={token.text}; {_COOKIE_SECONDS}{'; Secure' if settings.behind_tls else ''}"


def cookie_forgotten(settings: ServiceSettings) -> str:
    """The header Set-Cookie that has the browser forget the key."""
    return f"{_name(settings)}=; Max-Age=0; {_COOKIE_SECONDS}{'; Secure' if settings.behind_tls else ''}"


def key_in_cookie(scope: Scope, settings: ServiceSettings) -> bytes | None:
    """The key that the request in ``scope`` shows by its cookie; None without one, and for all but GET."""
    if scope["method"] not in _READING:
        return None
    cookie = f"{_name(settings)}=".encode()
    pairs = [pair.strip() for name, value in scope["headers"] if name == b"cookie" for pair in value.split(b";")]
    return next((pair.removeprefix(cookie) for pair in pairs if pair.startswith(cookie)), None)
