"""Sessions of the desk: each begins with an access key, has a token of its own, and ends.

A session opens what its key opens, never more. It is over when nothing was asked in it for ``IDLE``, when ``LONGEST``
has passed since it began, when it was ended, and with its key. Only the digest of a token is kept.
"""

from __future__ import annotations

import hashlib
import hmac
import re
import secrets
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Final

import sqlalchemy as sa

from fitcheck.records.errors import StoreError
from fitcheck.records.keys import AccessKey, key_of_row
from fitcheck.records.store import Store
from fitcheck.records.tables import access_keys, desk_sessions
from fitcheck.vocabulary import utc

__all__ = ["IDLE", "LONGEST", "SessionToken", "Sessions"]

IDLE: Final = timedelta(hours=1)
LONGEST: Final = timedelta(hours=12)
_NOTED_AFTER: Final = timedelta(minutes=1)
"""That a session was used is written down no more often than this."""
_SECRET_BYTES: Final = 32
_FORM: Final = re.compile(r"[A-Za-z0-9_-]{43}", re.ASCII)
_OF_DIGEST: Final = (
    sa.select(access_keys, desk_sessions.c.last_seen, desk_sessions.c.created.label("begun"))
    .join(desk_sessions, desk_sessions.c.key == access_keys.c.id)
    .where(desk_sessions.c.digest == sa.bindparam("session_digest"))
)


@dataclass(frozen=True, slots=True)
class SessionToken:
    """What a browser shows of its session; the text itself is never shown by accident."""

    digest: str
    """SHA-256 of the text, hexadecimal: all that is kept of it."""
    text: str = field(repr=False)

    @classmethod
    def make(cls) -> SessionToken:
        """A new token."""
        return cls._of(secrets.token_urlsafe(_SECRET_BYTES))

    @classmethod
    def read(cls, text: str) -> SessionToken | None:
        """The token that ``text`` is; None where it has not the form of one."""
        return cls._of(text) if _FORM.fullmatch(text) else None

    @classmethod
    def _of(cls, text: str) -> SessionToken:
        return cls(hashlib.sha256(text.encode()).hexdigest(), text)

    @property
    def page_token(self) -> str:
        """What a page of this session has in its forms: a page of another site cannot know it."""
        return hmac.digest(self.text.encode(), b"page", "sha256").hex()


class Sessions:
    """The sessions of one store. Safe for many threads; every method raises StoreError."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def begin(self, key: AccessKey) -> SessionToken:
        """A new session of that key; those that are over are deleted."""
        token, now = SessionToken.make(), datetime.now(UTC)
        begun = utc(now)
        over = (desk_sessions.c.last_seen < utc(now - IDLE)) | (desk_sessions.c.created < utc(now - LONGEST))
        row = {"digest": token.digest, "key": key.id, "created": begun, "last_seen": begun}
        with self._store.writing() as connection:
            connection.execute(sa.delete(desk_sessions).where(over))
            connection.execute(sa.insert(desk_sessions), [row])
        return token

    def check(self, token: SessionToken) -> AccessKey | None:
        """The key of the session whose token this is, revoked or not; None without one, and where it is over."""
        with self._store.reading() as connection:
            row = connection.execute(_OF_DIGEST, {"session_digest": token.digest}).one_or_none()
        now = datetime.now(UTC)
        if row is None or row.last_seen < utc(now - IDLE) or row.begun < utc(now - LONGEST):
            return None
        if row.last_seen < utc(now - _NOTED_AFTER):
            seen = sa.update(desk_sessions).where(desk_sessions.c.digest == token.digest).values(last_seen=utc(now))
            # What can only be read just now can still be read: the session then ends a little early.
            with suppress(StoreError), self._store.writing() as connection:
                connection.execute(seen)
        return key_of_row(row)

    def end(self, token: SessionToken) -> None:
        """End the session whose token this is, where there is one."""
        with self._store.writing() as connection:
            connection.execute(sa.delete(desk_sessions).where(desk_sessions.c.digest == token.digest))
