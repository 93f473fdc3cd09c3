"""Events sent to subscribers, in order for each, until they are taken.

One task looks for subscriptions that are behind, and each of these is followed by a task of its own: one that is dead
or slow holds nobody up. Messages are signed as the Standard Webhooks specification has it.
"""

from __future__ import annotations

import asyncio
import base64
import hashlib
import hmac
import logging
import random
import secrets
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Final, Protocol, TypeVar

import httpx

from api.webhooks.targets import RefusedTarget, Targets, post
from fitcheck import __version__
from fitcheck.records import Store, StoreError
from fitcheck.records.feed import Notice, UnknownCursor, notices_after
from fitcheck.records.subscriptions import SECRET_PREFIX, Subscription, Subscriptions

__all__ = ["Attempt", "Beside", "Deliveries", "Patience", "signature_of"]

_Result = TypeVar("_Result")
_AT_ONCE: Final = 50
_MEDIA_TYPE: Final = "application/cloudevents+json"
_GOOD: Final = range(200, 300)
_GONE: Final = 410
_logger = logging.getLogger(__name__)


class Beside(Protocol):
    """Works with a record store without holding up any request."""

    async def beside(self, work: Callable[[Store], _Result]) -> _Result:
        """What ``work`` gives. Raises StoreError."""
        raise NotImplementedError


@dataclass(frozen=True, slots=True)
class Patience:
    """How long is waited for what."""

    look_every_s: float = 1.0
    attempt_s: float = 10.0
    """From looking the target up to the head of its answer."""
    first_pause_s: float = 5.0
    longest_pause_s: float = 3600.0
    gives_up_after: timedelta = timedelta(days=3)

    def pause(self, attempts: int) -> timedelta:
        """How long after so many failures the next attempt is made: twice as long each time, by a random part less."""
        longest = min(self.longest_pause_s, self.first_pause_s * 2.0 ** min(attempts, 30))
        return timedelta(seconds=random.uniform(longest / 2, longest))  # noqa: S311  (nothing secret)


@dataclass(frozen=True, slots=True)
class Attempt:
    """What came of sending one message: the status of the answer, or why there was none."""

    status: int | None
    error: str | None
    ms: float


def signature_of(secret: str, id_: str, timestamp: int, body: bytes) -> str:
    """The header webhook-signature of a message (Standard Webhooks 1.0, symmetric)."""
    key = base64.b64decode(secret.removeprefix(SECRET_PREFIX))
    digest = hmac.digest(key, f"{id_}.{timestamp}.".encode() + body, hashlib.sha256)
    return f"v1,{base64.b64encode(digest).decode()}"


class Deliveries:
    """Sends the events of a store to its subscribers, for as long as it runs."""

    def __init__(self, store: Beside, targets: Targets, patience: Patience = Patience()) -> None:
        self._store = store
        self.targets = targets
        self._patience = patience
        self._process = secrets.token_hex(8)
        self._following: dict[str, asyncio.Task[None]] = {}
        self._behind: tuple[asyncio.AbstractEventLoop, asyncio.Event] | None = None
        self._client: httpx.AsyncClient | None = None
        self._looker: asyncio.Task[None] | None = None
        self._any = False
        """Whether there was a subscription at the last look."""

    def start(self) -> None:
        """Begin; in the event loop that serves."""
        self._behind = asyncio.get_running_loop(), asyncio.Event()
        self._looker = asyncio.create_task(self._look(self._behind[1]))

    def notify(self) -> None:
        """Look at once, for a record was kept; from any thread."""
        if self._behind is not None and self._any:
            with suppress(RuntimeError):  # the loop was closed meanwhile
                self._behind[0].call_soon_threadsafe(self._behind[1].set)

    async def stop(self) -> None:
        """End; what was not delivered is later."""
        tasks = [each for each in (self._looker, *self._following.values()) if each is not None]
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
        with suppress(StoreError):
            await self._with(lambda held: held.release(self._process))
        if self._client is not None:
            await self._client.aclose()

    async def attempt(self, subscription: Subscription, id_: str, body: bytes) -> Attempt:
        """Send one message; whatever comes of it is told."""
        begun = time.monotonic()
        status, error = None, None
        try:
            async with asyncio.timeout(self._patience.attempt_s):
                status = await self._sent(subscription, id_, body)
        except RefusedTarget as refused:
            error = str(refused)
        except TimeoutError:
            error = f"No answer within {self._patience.attempt_s:g} s."
        except (httpx.HTTPError, OSError) as failed:
            error = f"No answer: {type(failed).__name__}."
        if status is not None and status not in _GOOD:
            error = f"The answer was {status}."
        return Attempt(status, error, round(1e3 * (time.monotonic() - begun), 1))

    async def _sent(self, subscription: Subscription, id_: str, body: bytes) -> int:
        target = await self.targets.resolved(subscription.url)
        timestamp = int(datetime.now(UTC).timestamp())
        headers = {
            "content-type": _MEDIA_TYPE,
            "user-agent": f"fitcheck/{__version__}",
            "webhook-id": id_,
            "webhook-timestamp": f"{timestamp}",
            "webhook-signature": signature_of(subscription.secret, id_, timestamp, body),
        }
        if self._client is not None:
            return await post(self._client, target, body, headers)
        async with self._new_client() as client:
            return await post(client, target, body, headers)

    def _new_client(self) -> httpx.AsyncClient:
        return httpx.AsyncClient(timeout=self._patience.attempt_s, follow_redirects=False, trust_env=False)

    async def _look(self, behind: asyncio.Event) -> None:
        failing = False
        while True:
            behind.clear()
            try:
                self._any = await self._with(Subscriptions.any_made)
                if self._any and self._client is None:
                    # It reads certificates as it is made, which who has no subscription need not wait for.
                    self._client = self._new_client()
                for each in await self._with(Subscriptions.due) if self._any else ():
                    if each.id not in self._following:
                        task = asyncio.create_task(self._follow(each))
                        self._following[each.id] = task
                        task.add_done_callback(lambda _, id_=each.id: self._following.pop(id_, None))  # type: ignore[misc]
                failing = False
            except StoreError as error:
                if not failing:
                    _logger.warning("deliveries wait for the record store: %s", type(error).__name__)
                failing = True
            with suppress(TimeoutError):
                async with asyncio.timeout(self._patience.look_every_s):
                    await behind.wait()

    async def _follow(self, subscription: Subscription) -> None:
        """Send all that there is for one subscription, until one message is not taken."""
        try:
            id_ = subscription.id
            while True:
                if not await self._with(lambda held: held.claim(id_, self._process)):
                    return
                current = await self._with(lambda held: held.one(id_))
                if current is None or current.disabled is not None:
                    return
                closed = await self._with(lambda held, of=current: held.key_closed(of))  # type: ignore[misc]
                if closed is not None:
                    await self._with(lambda held, why=closed: held.disable(id_, why))  # type: ignore[misc]
                    return
                notices = await self._notices(current)
                for notice in notices:
                    if not await self._take(current, notice):
                        return
                if not notices:
                    return
        except StoreError as error:
            _logger.warning("a delivery waits for the record store: %s", type(error).__name__)
        except Exception:
            _logger.exception("a delivery failed")

    async def _notices(self, subscription: Subscription) -> list[Notice]:
        try:
            return await self._store.beside(lambda store: notices_after(store, subscription.place, _AT_ONCE))
        except UnknownCursor:
            reason = "The records were put back to an earlier state: make a new subscription."
            await self._with(lambda held: held.disable(subscription.id, reason))
            return []

    async def _take(self, subscription: Subscription, notice: Notice) -> bool:
        """Send one event, or pass it over; whether to go on behind it."""
        id_ = subscription.id
        if subscription.types and notice.type not in subscription.types:
            await self._with(lambda held: held.delivered(id_, notice.place, sent=False))
            return True
        if not await self._with(lambda held: held.claim(id_, self._process)):
            return False
        attempt = await self.attempt(subscription, notice.id, notice.body)
        if attempt.error is None:
            await self._with(lambda held: held.delivered(id_, notice.place, sent=True))
            return True
        await self._failed(id_, attempt)
        return False

    async def _failed(self, id_: str, attempt: Attempt) -> None:
        subscription = await self._with(lambda held: held.one(id_))
        if subscription is None:
            return
        error = attempt.error or ""
        await self._with(lambda held: held.failed(subscription, error, self._patience.pause(subscription.attempts)))
        since = subscription.failing_since
        if attempt.status == _GONE:
            await self._with(lambda held: held.disable(id_, "The answer was 410: it wants no more."))
        elif since is not None and datetime.now(UTC) - datetime.fromisoformat(since) > self._patience.gives_up_after:
            reason = f"Nothing was taken for {self._patience.gives_up_after.days} days. {error}"
            await self._with(lambda held: held.disable(id_, reason))

    async def _with(self, work: Callable[[Subscriptions], _Result]) -> _Result:
        return await self._store.beside(lambda store: work(Subscriptions(store)))
