"""The feed for many clients at once: who waits for the next record costs a little memory, and no thread."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable
from contextlib import suppress
from typing import Final, Protocol, TypeVar

from fitcheck.errors import FitcheckError
from fitcheck.records import Store, StoreError
from fitcheck.records.feed import Batch, Cursor, batch_after, latest

__all__ = ["EventFeed", "Reads", "TooManyWaiting"]

_Result = TypeVar("_Result")
_LOOK_EVERY_S: Final = 0.1
_MOST_WAITING: Final = 1000
_logger = logging.getLogger(__name__)


class TooManyWaiting(FitcheckError):
    """As many requests as this process lets wait are waiting already."""


class Reads(Protocol):
    """Reads from a record store without holding up other requests."""

    async def read(self, work: Callable[[Store], _Result]) -> _Result:
        """What ``work`` reads. Raises StoreError."""
        raise NotImplementedError


class EventFeed:
    """The events of ``store``.

    While anybody waits, one task looks every ``look_every_s`` seconds for records that another process kept;
    ``notify`` spares the wait for those of this process.
    """

    def __init__(self, store: Reads, *, look_every_s: float = _LOOK_EVERY_S, most_waiting: int = _MOST_WAITING) -> None:
        self._store = store
        self._look_every_s = look_every_s
        self._most_waiting = most_waiting
        self._reading: dict[tuple[Cursor, int], asyncio.Task[Batch]] = {}
        self._waiting: dict[asyncio.Future[bool], int] = {}
        """Who waits for a record beyond which number."""
        self._seen = 0
        self._looking: tuple[asyncio.AbstractEventLoop, asyncio.Event] | None = None
        self._looker: asyncio.Task[None] | None = None
        self._shutting_down = False

    async def latest(self) -> Cursor:
        """The place after the last record that there is. Raises StoreError."""
        return await self._store.read(latest)

    async def batch(self, after: Cursor, limit: int) -> Batch:
        """What ``batch_after`` gives; clients that ask for the same at once get the same.

        Raises UnknownCursor, StoreError.
        """
        key = after, limit
        task = self._reading.get(key)
        if task is None:
            task = asyncio.create_task(self._store.read(lambda store: batch_after(store, after, limit)))
            self._reading[key] = task
            task.add_done_callback(lambda done: self._has_read(key, done))
        # A client that goes away takes nothing from the others.
        return await asyncio.shield(task)

    async def beyond(self, number: int, seconds: float) -> bool:
        """Wait until there is a record beyond that number; False where time was up, or the service stops.

        Raises TooManyWaiting.
        """
        if self._seen > number or self._shutting_down:
            return not self._shutting_down
        if len(self._waiting) >= self._most_waiting:
            raise TooManyWaiting
        come = asyncio.get_running_loop().create_future()
        self._waiting[come] = number
        if self._looking is None:
            self._looking = asyncio.get_running_loop(), asyncio.Event()
            self._looker = asyncio.create_task(self._look(self._looking[1]))
        try:
            async with asyncio.timeout(seconds):
                return bool(await come)
        except TimeoutError:
            return False
        finally:
            del self._waiting[come]

    def notify(self) -> None:
        """Look at once, for a record was kept; from any thread."""
        looking = self._looking
        if looking is not None:
            with suppress(RuntimeError):  # the loop was closed meanwhile
                looking[0].call_soon_threadsafe(looking[1].set)

    def stop(self) -> None:
        """Let nobody wait any longer."""
        self._shutting_down = True
        for come in self._waiting:
            if not come.done():
                come.set_result(False)
        self.notify()

    async def _look(self, at_once: asyncio.Event) -> None:
        failing = False
        try:
            while self._waiting and not self._shutting_down:
                at_once.clear()
                try:
                    self._wake((await self._store.read(latest)).number)
                    failing = False
                except StoreError as error:
                    # Who waits is told no more than that nothing came; the next request is told what is wrong.
                    if not failing:
                        _logger.warning("the feed waits for the record store: %s", type(error).__name__)
                    failing = True
                with suppress(TimeoutError):
                    async with asyncio.timeout(self._look_every_s):
                        await at_once.wait()
        finally:
            self._looking = None

    def _wake(self, number: int) -> None:
        self._seen = max(self._seen, number)
        for come, beyond in self._waiting.items():
            if number > beyond and not come.done():
                come.set_result(True)

    def _has_read(self, key: tuple[Cursor, int], task: asyncio.Task[Batch]) -> None:
        del self._reading[key]
        if not task.cancelled():
            # All who asked may have gone away before it failed.
            task.exception()
