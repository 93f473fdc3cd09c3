"""Access keys: what a program shows to be let in, what of it may be kept, and what it opens.

A key's token is ``hoof_``, the key's public id, ``_`` and a secret of 256 random bits.  It is shown once, to whoever
makes it.  Kept is only the SHA-256 of the whole token: a secret that long cannot be guessed from its digest, so nothing
slower is needed.
"""

from __future__ import annotations

import hashlib
import re
import secrets
from dataclasses import dataclass, field
from typing import Final

__all__ = ["ADMIN", "PREFIX", "SCOPES", "AccessKey", "KeyUse", "Token"]

SCOPES: Final = {
    "assess": "send fittings to be assessed",
    "read": "read what is kept and the rulebook",
    "metrics": "read the counts of /metrics, and nothing of any fitting",
    "admin": "everything",
}
"""What a key may open, and what that means."""

ADMIN: Final = "admin"
"""The scope that opens everything."""

PREFIX: Final = "hoof_"
"""How every token begins, so that one that was left lying about can be searched for."""

_ID_BYTES: Final = 6
_SECRET_BYTES: Final = 32
_FORM: Final = re.compile(PREFIX + r"([0-9a-f]{12})_[A-Za-z0-9_-]{43}", re.ASCII)


@dataclass(frozen=True, slots=True)
class Token:
    """A token by its parts; the text itself is never shown by accident."""

    id: str
    """The public id of the key: it names the key and opens nothing."""
    digest: str
    """SHA-256 of the text, hexadecimal: all that is kept of it."""
    text: str = field(repr=False)

    @classmethod
    def make(cls) -> Token:
        """A new token."""
        identity = secrets.token_hex(_ID_BYTES)
        return cls._of(identity, f"{PREFIX}{identity}_{secrets.token_urlsafe(_SECRET_BYTES)}")

    @classmethod
    def read(cls, text: str) -> Token | None:
        """The token that ``text`` is; None where it has not the form of one.

        >>> Token.read("hoof_0123456789ab_" + "A" * 43).id
        '0123456789ab'
        >>> Token.read("hoof_0123456789ab_") is None
        True
        """
        form = _FORM.fullmatch(text)
        return None if form is None else cls._of(form[1], text)

    @classmethod
    def _of(cls, identity: str, text: str) -> Token:
        return cls(identity, hashlib.sha256(text.encode()).hexdigest(), text)


@dataclass(frozen=True, slots=True)
class AccessKey:
    """A key as it is kept; times are RFC 3339 in UTC."""

    id: str
    name: str
    scopes: frozenset[str]
    created: str
    revoked: str | None = None
    """When it was revoked; it opens nothing any more."""
    last_used: str | None = None
    """When it was last shown to the service, whether or not it was let in."""

    def opens(self, scope: str) -> bool:
        """Whether the key, unless revoked, opens what needs ``scope``."""
        return scope in self.scopes or ADMIN in self.scopes


@dataclass(frozen=True, slots=True)
class KeyUse:
    """One request that showed a key, for the audit; nothing of what was sent."""

    key: str
    """The key's id."""
    at: str
    """When it came, RFC 3339 in UTC."""
    request: str
    """The request's id, as in the log and in the answer's X-Request-Id."""
    method: str
    route: str
    """The address as a template, such as /v1/assessments/{id}."""
    status: int
    """The HTTP status of the answer; 0 where there was none."""
