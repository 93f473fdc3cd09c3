"""Access keys in the record store: made, listed, checked and revoked, and what each was used for.

A key is never deleted: a service that once had one never again answers without.
"""

from __future__ import annotations

import hashlib
import hmac
import re
import secrets
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from typing import Any, Final, Literal

import sqlalchemy as sa

from fitcheck.records.errors import StoreError
from fitcheck.records.store import Store
from fitcheck.records.tables import access_keys, key_uses
from fitcheck.vocabulary import now

__all__ = [
    "ADMIN",
    "MARK",
    "PREFIX",
    "SCOPES",
    "SUBSCRIBE",
    "AccessKey",
    "AccessKeys",
    "Holder",
    "KeyUse",
    "Token",
    "UnknownKey",
    "key_of_row",
]

_NOBODY: Final = "0" * 64
"""Compared with in the place of the digest of a key that is not there."""
_BY_ID: Final = sa.select(access_keys).where(access_keys.c.id == sa.bindparam("wanted_id"))
_USED: Final = (
    sa.update(access_keys).where(access_keys.c.id == sa.bindparam("used_id")).values(last_used=sa.bindparam("used_at"))
)


class UnknownKey(StoreError):
    """There is no access key of that id; ``id`` is it."""

    def __init__(self, id: str) -> None:  # noqa: A002  (what the key calls it)
        self.id = id
        super().__init__(f'There is no access key "{id}".')


class AccessKeys:
    """The keys of one store. Safe for many threads; every method raises StoreError."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def make(
        self, name: str, scopes: Collection[str], *, holder: Holder = "device", until: str | None = None
    ) -> tuple[AccessKey, Token]:
        """A new key and its token, of which only the digest is kept: show it now, or never.

        ``name`` is the device's, or the id of the person; ``until`` the last day (UTC) on which it opens anything.
        Raises ValueError where a device is to mark: marks are a person's.
        """
        if holder == "device" and MARK in scopes:
            raise ValueError("a key with the scope mark belongs to a person")
        token = Token.make()
        key = AccessKey(token.id, name, frozenset(scopes), now(), holder=holder, until=until)
        row = {"id": key.id, "name": name, "digest": token.digest, "scopes": " ".join(sorted(key.scopes))}
        row |= {"created": key.created, "holder": holder}
        with self._store.writing() as connection:
            connection.execute(sa.insert(access_keys), [row | {"until": until}])
        return key, token

    def every(self) -> list[AccessKey]:
        """All keys, the oldest first."""
        statement = sa.select(access_keys).order_by(access_keys.c.created, access_keys.c.id)
        with self._store.reading() as connection:
            return [key_of_row(row) for row in connection.execute(statement)]

    def any_made(self) -> bool:
        """Whether any key was ever made, revoked ones too."""
        return self._any(sa.select(access_keys.c.id))

    def any_usable(self) -> bool:
        """Whether there is a key that is neither revoked nor at its end."""
        until = access_keys.c.until
        usable = access_keys.c.revoked.is_(None) & (until.is_(None) | (until >= now()[:_DAY]))
        return self._any(sa.select(access_keys.c.id).where(usable))

    def check(self, token: Token) -> AccessKey | None:
        """The key whose token this is, revoked or not; None where there is none.

        The key is found by its public id. The digest is then compared in a time that tells nothing of it.
        """
        with self._store.reading() as connection:
            row = connection.execute(_BY_ID, {"wanted_id": token.id}).one_or_none()
        same = hmac.compare_digest(token.digest, _NOBODY if row is None else row.digest)
        return key_of_row(row) if same and row is not None else None

    def revoke(self, id: str) -> AccessKey:  # noqa: A002  (what the key calls it)
        """Revoke a key for good; one that was revoked before stays so since then.

        Raises UnknownKey.
        """
        statement = (
            sa.update(access_keys).where(access_keys.c.id == id, access_keys.c.revoked.is_(None)).values(revoked=now())
        )
        with self._store.writing() as connection:
            connection.execute(statement)
            row = connection.execute(_BY_ID, {"wanted_id": id}).one_or_none()
        if row is None:
            raise UnknownKey(id)
        return key_of_row(row)

    def note_uses(self, uses: Sequence[KeyUse]) -> None:
        """Keep these uses, and for each key when it was last used; all of them or none."""
        last: dict[str, str] = {}
        for use in uses:
            last[use.key] = max(use.at, last.get(use.key, ""))
        rows = [
            {"key": use.key, "at": use.at, "request": use.request, "method": use.method, "route": use.route}
            | {"status": use.status}
            for use in uses
        ]
        # In the order of ids, so that two server processes cannot wait for one another.
        used = [{"used_id": key, "used_at": last[key]} for key in sorted(last)]
        if uses:
            with self._store.writing() as connection:
                connection.execute(_USED, used)
                connection.execute(sa.insert(key_uses), rows)

    def uses(self, key: str | None = None, *, limit: int) -> list[KeyUse]:
        """At most ``limit`` uses, of one key or of all, the latest first."""
        statement = sa.select(key_uses).order_by(key_uses.c.at.desc(), key_uses.c.number.desc()).limit(limit)
        if key is not None:
            statement = statement.where(key_uses.c.key == key)
        with self._store.reading() as connection:
            return [
                KeyUse(row.key, row.at, row.request, row.method, row.route, row.status)
                for row in connection.execute(statement)
            ]

    def forget_uses(self, before: str) -> int:
        """Delete the uses before a time (RFC 3339 in UTC, or its beginning); how many there were."""
        with self._store.writing() as connection:
            return connection.execute(sa.delete(key_uses).where(key_uses.c.at < before)).rowcount

    def _any(self, statement: sa.Select[Any]) -> bool:
        with self._store.reading() as connection:
            return connection.execute(statement.limit(1)).first() is not None


def key_of_row(row: sa.Row[Any]) -> AccessKey:
    """The key in a row with the columns of ``access_keys``."""
    return AccessKey(
        row.id,
        row.name,
        frozenset(row.scopes.split()),
        row.created,
        row.revoked,
        row.last_used,
        holder=row.holder,
        until=row.until,
    )


SCOPES: Final = {
    "assess": "send fittings to be assessed",
    "read": "read what is kept and the rulebook",
    "mark": "override marks, in the name of the key's person alone",
    "subscribe": "have what is kept told to an address of one's own, by ids alone",
    "metrics": "read the counts of /metrics, and nothing of any fitting",
    "admin": "everything",
}
"""What a key may open, and what that means."""

ADMIN: Final = "admin"
"""The scope that opens everything."""

MARK: Final = "mark"
"""The scope of what is said in a person's own name."""

SUBSCRIBE: Final = "subscribe"
"""The scope of having events sent."""

Holder = Literal["person", "device"]
"""Whose a key is."""

_DAY: Final = len("2026-03-04")

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
    holder: Holder = "device"
    """What ``name`` is: a person's id, or the name of a device."""
    until: str | None = None
    """The last day (UTC) on which it opens anything; None for one without an end."""

    @property
    def person(self) -> str | None:
        """The id of the person whose key it is; None for a device's."""
        return self.name if self.holder == "person" else None

    def ended(self, at: str) -> bool:
        """Whether its last day is over at that time, RFC 3339 in UTC."""
        return self.until is not None and at[:_DAY] > self.until

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
