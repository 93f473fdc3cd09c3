"""The record store as the service uses it: opened when it is first needed, and never waited for by other requests.

The store's calls block, so they run in threads of their own: a few that read, one that goes through much, and one that
writes, since only one can write at a time anyway.  What comes to be kept while that one is at work is kept next, all of
it in one transaction.

Who wants to keep something waits for a turn, for a bounded time and with a bounded number of others and of their bytes:
behind a locked database nothing piles up.
"""

from __future__ import annotations

import asyncio
import copy
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Final, TypeVar

from api.http.worker import in_turn
from fitcheck.practice import PracticeSession
from fitcheck.records import Draft, Idempotency, Record, Store, StoredRecord, StoreError, StoreUnavailable, open_store
from fitcheck.records.keys import AccessKey, AccessKeys, KeyUse, Token
from fitcheck.records.practice import PracticeSessions, StoredPractice
from fitcheck.records.sessions import Sessions, SessionToken

__all__ = ["AsyncStore"]

_Result = TypeVar("_Result")
_READERS: Final = 4
_MOST_IN_STUDY: Final = 16
_AT_ONCE: Final = 100
"""Records in one transaction at most."""
_MOST_WAITING: Final = 1000
_MOST_WAITING_BYTES: Final = 64 * 1024 * 1024
_TURN_S: Final = 10.0
"""How long anybody waits for a turn to write; one whose turn has come is waited for as long as the database takes."""
_TRY_AGAIN_S: Final = 2.0
"""How long a store that could not be opened is left alone."""
_TRIED_S: Final = 1.0
_KEYS_LOOKED_UP_S: Final = 6
"""After this time authentication has looked again whether there are access keys."""


@dataclass(eq=False, slots=True)
class _Waiting:
    draft: Draft
    record: asyncio.Future[Record]


class AsyncStore:
    """One store, by its address; every method raises StoreError."""

    def __init__(self, url: str, store: Store | None = None, *, create: bool = True) -> None:
        """The store at ``url``; ``store``: the same, where it is open already; ``create``: as of ``open_store``."""
        self._url = url
        self._create = create
        self._opened = store
        self._opening = threading.Lock()
        self._failed: tuple[StoreError, float] | None = None
        self._keyless = False
        """Whether there was no access key when the store was last asked."""
        self._unsure = False
        """Whether the gate lets in by what was so then, since the store does not answer."""
        self._readers = ThreadPoolExecutor(_READERS, "records-read")
        self._studies = ThreadPoolExecutor(1, "records-study")
        self._in_study = 0
        self._writer = ThreadPoolExecutor(1, "records-write")
        self._deliveries = ThreadPoolExecutor(1, "records-deliver")
        self._waiting: deque[_Waiting] = deque()
        self._writing: asyncio.Task[None] | None = None
        self._trying = threading.Lock()
        self._tried_until = 0.0
        self._trial_error: StoreError | None = None
        self._places = 0
        self._bytes = 0
        self._watchers: list[Callable[[], None]] = []

    def open(self) -> Store:
        """The store, opened if need be; blocks. One that could not be opened is tried again after a moment."""
        if self._opened is not None:
            return self._opened
        with self._opening:
            if self._opened is None:
                if self._failed is not None and time.monotonic() < self._failed[1]:
                    raise _again(self._failed[0])
                try:
                    self._opened = open_store(self._url, create=self._create)
                except StoreError as error:
                    self._failed = error, time.monotonic() + _TRY_AGAIN_S
                    raise
            return self._opened

    def start(self) -> None:
        """Open the store, and see whether there are access keys; blocks."""
        self.any_made()

    def close(self) -> None:
        """End what is under way, and let go of the database; blocks."""
        self._writer.shutdown()
        self._studies.shutdown(cancel_futures=True)
        self._deliveries.shutdown(cancel_futures=True)
        self._readers.shutdown()
        if self._opened is not None:
            self._opened.close()

    def watch(self, watcher: Callable[[], None]) -> None:
        """Have ``watcher`` called in the event loop whenever something was kept; it may neither wait nor raise."""
        self._watchers.append(watcher)

    async def read(self, work: Callable[[Store], _Result]) -> _Result:
        """What ``work`` reads from the store."""
        return await asyncio.get_running_loop().run_in_executor(self._readers, lambda: work(self._used()))

    async def read_much(self, work: Callable[[Store], _Result]) -> _Result:
        """What ``work`` makes of thousands of records, one after another, so that lists need not wait for it.

        Raises StoreUnavailable also where many wait for that already.
        """
        if self._in_study >= _MOST_IN_STUDY:
            raise _busy()
        self._in_study += 1
        try:
            return await asyncio.get_running_loop().run_in_executor(self._studies, lambda: work(self._used()))
        finally:
            self._in_study -= 1

    async def beside(self, work: Callable[[Store], _Result]) -> _Result:
        """What ``work`` does for deliveries, one after another, so that no request waits for it."""
        return await asyncio.get_running_loop().run_in_executor(self._deliveries, lambda: work(self._used()))

    async def try_writing(self) -> None:
        """Learn whether anything can be kept just now; what was learnt holds for a second for all who ask."""
        await asyncio.to_thread(self._try_writing)

    def _try_writing(self) -> None:
        with self._trying:
            self._used().require_same_file()
            if time.monotonic() >= self._tried_until:
                self._trial_error = None
                try:
                    self._used().try_writing()
                except StoreError as error:
                    self._trial_error = error
                self._tried_until = time.monotonic() + _TRIED_S
            if self._trial_error is not None:
                raise _again(self._trial_error)

    async def keep(self, draft: Draft) -> Record:
        """Keep one record, together with others that wait; it is on disk when this returns."""
        with self._place([draft]):
            loop = asyncio.get_running_loop()
            waiting = _Waiting(draft, loop.create_future())
            self._waiting.append(waiting)
            if self._writing is None or self._writing.done() or self._writing.get_loop() is not loop:
                self._writing = loop.create_task(self._write())
            await asyncio.wait([waiting.record], timeout=_TURN_S)
            if waiting in self._waiting:
                self._waiting.remove(waiting)
                raise _busy()
            return await waiting.record

    async def keep_each(self, requests: Sequence[tuple[Draft, Idempotency | None]]) -> list[StoredRecord | StoreError]:
        """Keep all of them in one transaction, but for those that something stands against: what came of each."""
        with self._place([draft for draft, _ in requests]):
            return await self._keep_each(requests)

    async def keep_once(self, draft: Draft, idempotency: Idempotency | None) -> StoredRecord:
        """Keep one record unless an earlier request of that key has kept it. Raises KeyReused, UnknownRecord."""
        with self._place([draft]):
            return await self._in_writer(lambda store: store.keep(draft, idempotency))

    async def keep_practice(self, person: str, session: PracticeSession) -> tuple[StoredPractice, bool]:
        """Keep a session of practice, and whether it is new. Raises PracticeReused, RequestErased."""
        with self._place([]):
            return await self._in_writer(lambda store: PracticeSessions(store).keep(person, session))

    @contextmanager
    def _place(self, drafts: Sequence[Draft]) -> Iterator[None]:
        """A place among those who wait or write, for as long as the block lasts."""
        size = sum(len(draft.received) + len(draft.answer) for draft in drafts)
        if self._places >= _MOST_WAITING or (self._places and self._bytes + size > _MOST_WAITING_BYTES):
            raise _busy()
        self._places += 1
        self._bytes += size
        try:
            yield
        finally:
            self._places -= 1
            self._bytes -= size

    async def _write(self) -> None:
        """Keep all that waits, a group at a time."""
        while self._waiting:
            group = [self._waiting.popleft() for _ in range(min(_AT_ONCE, len(self._waiting)))]
            try:
                outcomes = await self._keep_each([(each.draft, None) for each in group])
            except Exception as error:  # noqa: BLE001  (it is raised in each request that waits)
                for each in group:
                    if not each.record.done():
                        each.record.set_exception(_again(error))
            else:
                for each, outcome in zip(group, outcomes, strict=True):
                    if each.record.done():
                        continue
                    if isinstance(outcome, StoreError):
                        each.record.set_exception(outcome)
                    else:
                        each.record.set_result(outcome.record)

    async def _keep_each(self, requests: Sequence[tuple[Draft, Idempotency | None]]) -> list[StoredRecord | StoreError]:
        return await self._in_writer(lambda store: store.keep_each(requests))

    async def _in_writer(self, work: Callable[[Store], _Result]) -> _Result:
        try:
            result = await in_turn(self._writer, lambda: work(self._used()), _TURN_S)
        except TimeoutError:
            raise _busy() from None
        for watcher in self._watchers:
            watcher()
        return result

    # What the gate, the audit and the sign-in ask, each in a thread of its own.

    def any_made(self) -> bool:
        """Whether any access key was ever made.

        While the store does not answer, a service that had none still has none, so that its own machine can have
        fittings assessed; but nothing that is kept is used before the store was asked again.
        """
        try:
            made = AccessKeys(self.open()).any_made()
        except StoreError:
            if not self._keyless:
                raise
            self._unsure = True
            return False
        self._keyless = not made
        self._unsure = False
        return made

    def check(self, token: Token | SessionToken) -> AccessKey | None:
        """The access key whose token or session this is, revoked or not; None where there is none."""
        store = self.open()
        return Sessions(store).check(token) if isinstance(token, SessionToken) else AccessKeys(store).check(token)

    def begin_session(self, key: AccessKey) -> SessionToken:
        """A new session of the desk with that key."""
        return Sessions(self.open()).begin(key)

    def end_session(self, token: SessionToken) -> None:
        """End a session of the desk."""
        Sessions(self.open()).end(token)

    def note_uses(self, uses: Sequence[KeyUse]) -> None:
        """Keep these uses of access keys."""
        AccessKeys(self.open()).note_uses(uses)

    def _used(self) -> Store:
        """The store, for a request that the gate let in."""
        store = self.open()
        if self._unsure:
            if AccessKeys(store).any_made():
                # The gate did not know, and may have let in who has no key.
                raise StoreUnavailable(retry_after=_KEYS_LOOKED_UP_S)
            self._unsure = False
        return store


def _busy() -> StoreUnavailable:
    return StoreUnavailable("The record store is busy.")


def _again(error: Exception) -> Exception:
    """The same error, to be raised once more elsewhere: one that is raised often drags all its tracebacks along."""
    fresh = copy.copy(error)
    fresh.__cause__ = error
    return fresh
