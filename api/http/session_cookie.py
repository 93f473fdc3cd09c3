"""The cookie of a session at the desk: out of reach of scripts, and of other sites' pages.

A page cannot add a header to the links in it, so a browser shows its session by a cookie.  No script can read it, and
no other site's page can have it sent (SameSite=Strict).  It reads; what it may write says so, and takes the page's
token besides (``api.desk.writing``).
"""

from __future__ import annotations

from typing import Final

from starlette.types import Scope

from fitcheck.records.sessions import SessionToken
from fitcheck.settings import ServiceSettings

__all__ = ["cookie_forgotten", "cookie_of", "session_in_cookie"]

_ATTRIBUTES: Final = "Path=/; HttpOnly; SameSite=Strict"


def _name(settings: ServiceSettings) -> str:
    # RFC 6265bis, 4.1.3.2: a name that only this host can set, and only over TLS.
    return "__Host-fitcheck-session" if settings.behind_tls else "fitcheck-session"


def cookie_of(token: SessionToken, settings: ServiceSettings) -> str:
    """The header Set-Cookie that has the browser keep ``token`` until it is closed."""
    return f"{_name(settings)}={token.text}; {_ATTRIBUTES}{'; Secure' if settings.behind_tls else ''}"


def cookie_forgotten(settings: ServiceSettings) -> str:
    """The header Set-Cookie that has the browser forget the session."""
    return f"{_name(settings)}=; Max-Age=0; {_ATTRIBUTES}{'; Secure' if settings.behind_tls else ''}"


def session_in_cookie(scope: Scope, settings: ServiceSettings) -> SessionToken | str | None:
    """The session that the request in ``scope`` shows; the text where that is none, and None without the cookie."""
    cookie = f"{_name(settings)}=".encode()
    pairs = [pair.strip() for name, value in scope["headers"] if name == b"cookie" for pair in value.split(b";")]
    shown = next((pair.removeprefix(cookie).decode("latin-1") for pair in pairs if pair.startswith(cookie)), None)
    return None if shown is None else SessionToken.read(shown) or shown
