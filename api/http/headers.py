"""Headers: those of a request one by one, and those of an answer that tell a browser to do little.

Where few of a request's headers are asked for, that is quicker than a mapping of all of them.
"""

from __future__ import annotations

from typing import Final

from starlette.requests import Request

__all__ = ["CONTENT_POLICY", "JSON", "first_value", "fixed_headers", "values"]

JSON: Final = "application/json"


def values(request: Request, name: bytes) -> list[str]:
    """Every value of the header ``name``, which is given in lower case, in the order in which they were sent."""
    return [value.decode("latin-1") for header, value in request.scope["headers"] if header == name]


def first_value(request: Request, name: bytes, default: str) -> str:
    """The first value of the header ``name``, or ``default`` where it was not sent."""
    found = values(request, name)
    return found[0] if found else default


CONTENT_POLICY: Final = "default-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
"""What an answer may load or run when it does not say so itself: nothing.

A page says so itself, in its own ``content-security-policy``: files of this service, or the hash of what stands in it;
never 'unsafe-inline'.
"""

_PERMISSIONS: Final = (
    "accelerometer",
    "autoplay",
    "bluetooth",
    "camera",
    "display-capture",
    "encrypted-media",
    "fullscreen",
    "geolocation",
    "gyroscope",
    "hid",
    "magnetometer",
    "microphone",
    "midi",
    "payment",
    "picture-in-picture",
    "publickey-credentials-get",
    "screen-wake-lock",
    "serial",
    "usb",
    "web-share",
    "xr-spatial-tracking",
)
_YEAR_S: Final = 365 * 24 * 3600


def fixed_headers(*, behind_tls: bool) -> tuple[tuple[bytes, bytes], ...]:
    """The headers that every answer has, whatever it is; ``behind_tls`` adds that browsers must keep to TLS."""
    headers = {
        "x-content-type-options": "nosniff",
        "referrer-policy": "no-referrer",
        "permissions-policy": ", ".join(f"{name}=()" for name in _PERMISSIONS),
        "cross-origin-opener-policy": "same-origin",
        "cross-origin-embedder-policy": "require-corp",
        "cross-origin-resource-policy": "same-origin",
    }
    if behind_tls:
        headers["strict-transport-security"] = f"max-age={_YEAR_S}"
    return tuple((name.encode(), value.encode()) for name, value in headers.items())
