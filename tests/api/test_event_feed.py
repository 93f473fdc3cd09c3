"""Waiting for what comes: who is woken, by what, and what it costs; in process, with readings that can be held up."""

from __future__ import annotations

import asyncio
import os
import signal
import threading
import time
from collections.abc import Awaitable, Callable, Iterator
from pathlib import Path
from typing import Any, TypeVar

import pytest

from api.event_feed import EventFeed, TooManyWaiting
from api.http.shutdown import on_shutdown
from fitcheck.records import Draft, Store, StoreUnavailable, open_store
from fitcheck.records.feed import START, Cursor, UnknownCursor

_Result = TypeVar("_Result")
SOON_S = 5.0
NEVER_S = 60.0


class Reading:
    """Reads in threads and counts it; fails while ``away``."""

    def __init__(self, store: Store) -> None:
        self.store = store
        self.times = 0
        self.away = False

    async def read(self, work: Callable[[Store], _Result]) -> _Result:
        self.times += 1
        if self.away:
            raise StoreUnavailable
        return await asyncio.to_thread(work, self.store)


@pytest.fixture
def reading(tmp_path: Path) -> Iterator[Reading]:
    """A store to be read from."""
    with open_store(f"sqlite:///{tmp_path / 'records.sqlite3'}") as store:
        yield Reading(store)


def keep(reading: Reading, number: int = 1) -> None:
    reading.store.keep(
        Draft(
            kind="assessment",
            received=b"{}",
            answer=b"{}",
            id=f"{number:032x}",
            created="2026-03-04T10:00:00.000Z",
            rulebook_version="1.2.0",
            rulebook_digest="sha256:" + "b" * 64,
        )
    )


async def waiting(feed: EventFeed, number: int, seconds: float = NEVER_S) -> asyncio.Task[bool]:
    """A task that waits beyond that number, already at it."""
    task = asyncio.create_task(feed.beyond(number, seconds))
    await asyncio.sleep(0.05)
    assert not task.done()
    return task


def run(work: Awaitable[_Result]) -> _Result:
    async def bounded() -> _Result:
        async with asyncio.timeout(NEVER_S / 2):
            return await work

    return asyncio.run(bounded())


def test_who_waits_is_woken_by_what_another_keeps(reading: Reading) -> None:
    async def work() -> float:
        feed = EventFeed(reading)
        task = await waiting(feed, 0)
        await asyncio.to_thread(keep, reading)
        begin = time.monotonic()
        assert await task
        return time.monotonic() - begin

    assert run(work()) < SOON_S


def test_what_this_process_keeps_wakes_without_waiting_for_the_next_look(reading: Reading) -> None:
    async def work() -> float:
        feed = EventFeed(reading, look_every_s=NEVER_S)
        task = await waiting(feed, 0)
        await asyncio.to_thread(keep, reading)
        begin = time.monotonic()
        await asyncio.to_thread(feed.notify)
        assert await task
        return time.monotonic() - begin

    assert run(work()) < SOON_S


def test_only_those_are_woken_for_whom_there_is_something(reading: Reading) -> None:
    async def work() -> None:
        feed = EventFeed(reading, look_every_s=0.01)
        first, second = await waiting(feed, 0), await waiting(feed, 1)
        await asyncio.to_thread(keep, reading, 1)
        assert await first
        assert not second.done()
        await asyncio.to_thread(keep, reading, 2)
        assert await second

    run(work())


def test_what_was_kept_between_the_reading_and_the_waiting_is_not_missed(reading: Reading) -> None:
    async def work() -> None:
        feed = EventFeed(reading, look_every_s=0.01)
        task = await waiting(feed, 0)
        await asyncio.to_thread(keep, reading)
        assert await task
        assert await feed.beyond(0, NEVER_S)
        # And by one that nobody has yet looked for.
        fresh = EventFeed(reading, look_every_s=NEVER_S)
        assert await fresh.beyond(0, NEVER_S)

    run(work())


def test_time_runs_out(reading: Reading) -> None:
    async def work() -> float:
        begin = time.monotonic()
        assert not await EventFeed(reading).beyond(0, 0.3)
        return time.monotonic() - begin

    assert 0.3 <= run(work()) < SOON_S


def test_many_who_wait_cost_no_more_reading_than_one_and_no_thread(reading: Reading) -> None:
    async def work() -> None:
        feed = EventFeed(reading, look_every_s=0.05)
        before = threading.active_count()
        tasks = [asyncio.create_task(feed.beyond(0, NEVER_S)) for _ in range(900)]
        await asyncio.sleep(0.5)
        assert reading.times <= 12
        assert threading.active_count() <= before + 2
        await asyncio.to_thread(keep, reading)
        assert all(await asyncio.gather(*tasks))
        times = reading.times
        batches = await asyncio.gather(*(feed.batch(START, 10) for _ in range(900)))
        assert {batch.count for batch in batches} == {1}
        assert reading.times == times + 1

    run(work())


def test_nobody_looks_while_nobody_waits(reading: Reading) -> None:
    async def work() -> None:
        feed = EventFeed(reading, look_every_s=0.01)
        assert not await feed.beyond(0, 0.1)
        await asyncio.sleep(0.1)
        times = reading.times
        await asyncio.sleep(0.2)
        assert reading.times == times

    run(work())


def test_a_feed_that_nobody_followed_for_a_while_is_followed_again_also_in_another_loop(reading: Reading) -> None:
    feed = EventFeed(reading, look_every_s=0.01)

    async def once(number: int) -> None:
        task = await waiting(feed, number - 1)
        await asyncio.to_thread(keep, reading, number)
        assert await task

    async def left() -> None:
        await waiting(feed, 2)

    async def twice() -> None:
        await once(3)
        await asyncio.sleep(0.1)
        await once(4)

    run(once(1))
    run(once(2))
    run(left())
    run(twice())


def test_who_goes_away_leaves_the_place_to_another_and_the_batch_to_the_rest(reading: Reading) -> None:
    async def work() -> None:
        keep(reading)
        feed = EventFeed(reading, most_waiting=1)
        gone = await waiting(feed, 1)
        with pytest.raises(TooManyWaiting):
            await feed.beyond(1, NEVER_S)
        gone.cancel()
        await asyncio.gather(gone, return_exceptions=True)
        stays = await waiting(feed, 1)
        stays.cancel()
        first, second = (asyncio.create_task(feed.batch(START, 5)) for _ in range(2))
        await asyncio.sleep(0)
        first.cancel()
        assert (await second).count == 1

    run(work())


def test_a_store_that_is_away_for_a_while_ends_no_waiting(reading: Reading, caplog: pytest.LogCaptureFixture) -> None:
    async def work() -> None:
        feed = EventFeed(reading, look_every_s=0.01)
        reading.away = True
        task = await waiting(feed, 0)
        await asyncio.sleep(0.2)
        reading.away = False
        await asyncio.to_thread(keep, reading)
        assert await task

    run(work())
    assert [record.message for record in caplog.records if record.name == "api.event_feed"] == [
        "the feed waits for the record store: StoreUnavailable"
    ]


def test_what_cannot_be_read_is_told_to_all_who_asked_and_not_to_those_who_ask_later(reading: Reading) -> None:
    async def work() -> None:
        feed = EventFeed(reading)
        reading.away = True
        told = await asyncio.gather(*(feed.batch(START, 5) for _ in range(3)), return_exceptions=True)
        assert [type(each) for each in told] == [StoreUnavailable] * 3
        reading.away = False
        assert (await feed.batch(START, 5)).count == 0
        with pytest.raises(UnknownCursor):
            await feed.batch(Cursor(1, "0" * 16), 5)

    run(work())


def test_once_the_service_stops_nobody_waits_any_longer_or_begins_to(reading: Reading) -> None:
    async def work() -> float:
        feed = EventFeed(reading, look_every_s=NEVER_S)
        tasks = [await waiting(feed, 0) for _ in range(3)]
        begin = time.monotonic()
        feed.stop()
        assert await asyncio.gather(*tasks) == [False] * 3
        assert not await feed.beyond(0, NEVER_S)
        return time.monotonic() - begin

    assert run(work()) < SOON_S


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_is_told_and_does_what_it_did_before(number: signal.Signals) -> None:
    heard: list[Any] = []

    async def work() -> None:
        told = asyncio.Event()
        with on_shutdown(told.set):
            os.kill(os.getpid(), number)
            await told.wait()
        assert heard == [number]
        os.kill(os.getpid(), number)
        assert heard == [number, number]

    earlier = signal.signal(number, lambda signal_, _frame: heard.append(signal_))
    try:
        run(work())
        assert signal.getsignal(number) is not earlier
    finally:
        signal.signal(number, earlier)


def test_a_signal_that_nobody_took_stays_as_it_was_and_so_do_other_threads() -> None:
    async def work() -> None:
        before = signal.getsignal(signal.SIGTERM)
        with on_shutdown(lambda: None):
            assert signal.getsignal(signal.SIGTERM) is before

    earlier = signal.signal(signal.SIGTERM, signal.SIG_DFL)
    try:
        run(work())
        signal.signal(signal.SIGTERM, lambda _signal, _frame: None)
        thread = threading.Thread(target=lambda: asyncio.run(work()))
        thread.start()
        thread.join()
    finally:
        signal.signal(signal.SIGTERM, earlier)
