"""Subscriptions in the record store: where events are sent, and how far each has come.

Nothing is queued: a subscription has a place in the feed, and what is sent is made of the records behind it when it is
sent. So nothing of an erased person waits anywhere. A server process claims a subscription for a short time, so that
each event is sent by one of them.
"""

from __future__ import annotations

import base64
import secrets
import uuid
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any, Final

import sqlalchemy as sa

from fitcheck.records.errors import StoreError
from fitcheck.records.feed import Cursor, latest
from fitcheck.records.keys import SUBSCRIBE, key_of_row
from fitcheck.records.store import Store
from fitcheck.records.tables import access_keys, subscriptions
from fitcheck.vocabulary import now, utc

__all__ = ["MOST", "SECRET_PREFIX", "Subscription", "Subscriptions", "TooManySubscriptions"]

MOST: Final = 100
"""Subscriptions in one store."""
SECRET_PREFIX: Final = "whsec_"  # noqa: S105  (how each begins)
_SECRET_BYTES: Final = 32
_CLAIM: Final = timedelta(seconds=20)
"""How long a claim lasts that is not renewed: that of a process that was killed."""


class TooManySubscriptions(StoreError):
    """There are as many subscriptions as a store takes."""


@dataclass(frozen=True, slots=True)
class Subscription:
    """Where events are sent, and what came of it; times are RFC 3339 in UTC."""

    id: str
    key: str | None
    """The id of the access key that made it; None where none was needed."""
    created: str
    url: str
    secret: str = field(repr=False)
    types: tuple[str, ...]
    """The types of event that are sent; all where there are none."""
    place: Cursor
    """After the last event that was delivered, or passed over."""
    delivered: str | None = None
    attempts: int = 0
    """Failures one after another, of the event that is next."""
    failing_since: str | None = None
    next_attempt: str | None = None
    last_error: str | None = None
    disabled: str | None = None
    """Since when nothing is sent any more; ``last_error`` says why."""


class Subscriptions:
    """The subscriptions of one store. Safe for many threads; every method raises StoreError."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def make(self, url: str, types: Sequence[str], key: str | None) -> Subscription:
        """A new subscription to what is kept from now on. Raises TooManySubscriptions."""
        place = latest(self._store)
        secret = SECRET_PREFIX + base64.b64encode(secrets.token_bytes(_SECRET_BYTES)).decode()
        made = Subscription(str(uuid.uuid4()), key, now(), url, secret, tuple(types), place)
        row = {"id": made.id, "key": key, "created": made.created, "url": url, "secret": secret, "attempts": 0}
        row |= {"types": " ".join(types), "number": place.number, "mark": place.mark}
        with self._store.writing() as connection:
            if connection.execute(sa.select(sa.func.count()).select_from(subscriptions)).scalar_one() >= MOST:
                raise TooManySubscriptions(f"There are {MOST} subscriptions, as many as there may be.")
            connection.execute(sa.insert(subscriptions), [row])
        return made

    def every(self, key: str | None = None) -> list[Subscription]:
        """All subscriptions, or those that the key of that id made, the oldest first."""
        statement = sa.select(subscriptions).order_by(subscriptions.c.created, subscriptions.c.id)
        if key is not None:
            statement = statement.where(subscriptions.c.key == key)
        with self._store.reading() as connection:
            return [_of_row(row) for row in connection.execute(statement)]

    def one(self, id: str) -> Subscription | None:  # noqa: A002  (the field's name in the contract)
        """The subscription of that id."""
        statement = sa.select(subscriptions).where(subscriptions.c.id == id)
        with self._store.reading() as connection:
            row = connection.execute(statement).one_or_none()
        return None if row is None else _of_row(row)

    def delete(self, id: str) -> None:  # noqa: A002
        """Delete a subscription, where there is one."""
        with self._store.writing() as connection:
            connection.execute(sa.delete(subscriptions).where(subscriptions.c.id == id))

    def any_made(self) -> bool:
        """Whether there is one."""
        with self._store.reading() as connection:
            return connection.execute(sa.select(subscriptions.c.id).limit(1)).first() is not None

    def due(self) -> list[Subscription]:
        """Those that are to be tried: neither disabled, nor up to date, nor waiting after a failure."""
        this, head = subscriptions.c, latest(self._store)
        waiting = this.next_attempt.is_not(None) & (this.next_attempt > now())
        statement = sa.select(subscriptions).where(this.disabled.is_(None), ~waiting, this.number != head.number)
        with self._store.reading() as connection:
            return [_of_row(row) for row in connection.execute(statement)]

    def key_closed(self, subscription: Subscription) -> str | None:
        """Why the key that made it opens nothing any more; None where it does, or none was needed."""
        if subscription.key is None:
            return None
        with self._store.reading() as connection:
            row = connection.execute(sa.select(access_keys).where(access_keys.c.id == subscription.key)).one_or_none()
        key = None if row is None else key_of_row(row)
        if key is None or key.revoked is not None:
            return "The access key that made it was revoked."
        if key.ended(now()):
            return "The access key that made it is at its end."
        return None if key.opens(SUBSCRIBE) else "The access key that made it lacks the scope subscribe."

    def claim(self, id: str, process: str) -> bool:  # noqa: A002
        """Claim it for ``process``, or renew its claim; False where another has it, or it is gone or disabled."""
        this = subscriptions.c
        at = datetime.now(UTC)
        free = this.claimed_by.is_(None) | (this.claimed_by == process) | (this.claimed_until < utc(at))
        claimed = (
            sa.update(subscriptions)
            .where(this.id == id, this.disabled.is_(None), free)
            .values(claimed_by=process, claimed_until=utc(at + _CLAIM))
        )
        with self._store.writing() as connection:
            return connection.execute(claimed).rowcount == 1

    def release(self, process: str) -> None:
        """Let go of all that ``process`` has claimed."""
        self._change(subscriptions.c.claimed_by == process, claimed_by=None, claimed_until=None)

    def delivered(self, id: str, place: Cursor, *, sent: bool) -> None:  # noqa: A002
        """Go on behind ``place``: what stood before it was ``sent``, or passed over."""
        done: dict[str, Any] = {"number": place.number, "mark": place.mark}
        if sent:
            done |= {"delivered": now(), "attempts": 0, "failing_since": None, "next_attempt": None}
            done |= {"last_error": None}
        self._change(subscriptions.c.id == id, **done)

    def failed(self, subscription: Subscription, error: str, again: timedelta) -> None:
        """Note a failure, and not to try before ``again``."""
        at = datetime.now(UTC)
        self._change(
            subscriptions.c.id == subscription.id,
            attempts=subscriptions.c.attempts + 1,
            failing_since=subscription.failing_since or utc(at),
            next_attempt=utc(at + again),
            last_error=error,
        )

    def disable(self, id: str, reason: str) -> None:  # noqa: A002
        """Send nothing any more, because of ``reason``."""
        self._change(subscriptions.c.id == id, disabled=now(), last_error=reason, next_attempt=None)

    def enable(self, id: str) -> None:  # noqa: A002
        """Go on where it stopped."""
        values = {"disabled": None, "last_error": None, "next_attempt": None, "failing_since": None, "attempts": 0}
        self._change(subscriptions.c.id == id, **values)

    def _change(self, which: sa.ColumnElement[bool], **values: Any) -> None:
        with self._store.writing() as connection:
            connection.execute(sa.update(subscriptions).where(which).values(**values))


def _of_row(row: sa.Row[Any]) -> Subscription:
    return Subscription(
        row.id,
        row.key,
        row.created,
        row.url,
        row.secret,
        tuple(row.types.split()),
        Cursor(row.number, row.mark),
        row.delivered,
        row.attempts,
        row.failing_since,
        row.next_attempt,
        row.last_error,
        row.disabled,
    )
