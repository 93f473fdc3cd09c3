"""A batch streams: answers come while lines still arrive, a client may read late, and memory stays bounded."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Awaitable, Callable
from typing import Any

from starlette.types import Message

from api.http.limits import Limits
from api.http.upload_buffer import SetAside, UploadBuffer
from api.http.worker import Worker
from api.openapi.examples import EXAMPLES
from api.routes.batch import BatchAnswer
from api.store import AsyncStore
from rules import shipped_rulebook

LINE = json.dumps(EXAMPLES[3].fitting).encode() + b"\n"
PATIENCE_S = 20.0


class Client:
    """The other end of one batch, as an ASGI server would stand between."""

    def __init__(self, limits: Limits) -> None:
        self.limits = limits
        self.answers: list[bytes] = []
        self.complete = False
        self.answered = asyncio.Event()
        self.ended = asyncio.Event()

    async def run(
        self,
        receive: Callable[[], Awaitable[Message]],
        hold: Callable[[], Awaitable[None]],
        gone: asyncio.Event | None = None,
    ) -> None:
        """Run a batch to its end; ``hold`` is waited for before each answer is taken."""

        async def receiving() -> Message:
            return await receive()

        async def sending(message: Message) -> None:
            if message["type"] == "http.response.body":
                await hold()
                self.answers += message["body"].splitlines()
                self.answered.set()
                self.complete = not message.get("more_body", False)
                if self.complete:
                    self.ended.set()

        scope: dict[str, Any] = {"type": "http", "state": {"request_id": "7", "gone": gone}}
        set_aside, nothing_kept = SetAside(self.limits.all_batches_disk), AsyncStore("sqlite:///not-opened.sqlite3")
        answer = BatchAnswer(shipped_rulebook(), self.limits, set_aside, Worker(), nothing_kept)
        await asyncio.wait_for(answer(scope, receiving, sending), PATIENCE_S)

    async def gone(self) -> Message:
        """What a server says once the answer is complete."""
        await self.ended.wait()
        return {"type": "http.disconnect"}


async def no_hold() -> None:
    """Take each answer at once."""


def body(chunk: bytes, *, more: bool = True) -> Message:
    return {"type": "http.request", "body": chunk, "more_body": more}


def test_each_line_is_answered_before_the_next_one_need_be_sent() -> None:
    async def play() -> list[int]:
        client = Client(Limits())
        seen: list[int] = []

        async def receive() -> Message:
            if len(seen) == 3:
                return await client.gone()
            # Send another line only after all lines so far have been answered.
            if seen:
                await client.answered.wait()
            client.answered.clear()
            seen.append(len(client.answers))
            return body(LINE, more=len(seen) < 3)

        await client.run(receive, no_hold)
        assert client.complete
        return seen

    assert asyncio.run(play()) == [0, 1, 2]


def test_a_client_that_reads_only_after_all_is_sent_is_not_waited_for_for_ever() -> None:
    async def play() -> int:
        client = Client(Limits(batch_memory=4 * len(LINE)))
        sent, left = asyncio.Event(), 500

        async def receive() -> Message:
            nonlocal left
            if left == 0:
                return await client.gone()
            left -= 1
            if left == 0:
                sent.set()
            return body(LINE, more=left > 0)

        async def hold() -> None:
            await sent.wait()

        await client.run(receive, hold)
        assert client.complete
        return len(client.answers)

    assert asyncio.run(play()) == 500


def test_a_client_that_reads_as_it_sends_is_read_no_further_than_memory_holds() -> None:
    memory = 8 * len(LINE)

    async def play() -> int:
        client = Client(Limits(batch_memory=memory))
        received, ahead = 0, 0

        async def receive() -> Message:
            nonlocal received, ahead
            if received == 300:
                return await client.gone()
            received += 1
            ahead = max(ahead, received - len(client.answers))
            return body(LINE, more=received < 300)

        await client.run(receive, no_hold)
        assert (client.complete, len(client.answers)) == (True, 300)
        return ahead

    # What is being answered was taken out in one piece, so there may be as much again.
    assert asyncio.run(play()) <= 2 * 8 + 1


def test_what_is_set_aside_for_a_client_that_never_reads_has_a_bound() -> None:
    async def play() -> int:
        client = Client(Limits(batch_memory=len(LINE), batch_disk=50 * len(LINE)))
        received = 0

        async def receive() -> Message:
            nonlocal received
            received += 1
            return body(LINE)

        async def hold() -> None:
            await asyncio.Event().wait()

        running = asyncio.create_task(client.run(receive, hold))
        for _ in range(500):
            await asyncio.sleep(0)
        running.cancel()
        await asyncio.gather(running, return_exceptions=True)
        return received

    assert 50 <= asyncio.run(play()) <= 53


def test_a_client_that_goes_away_is_not_answered_further_nor_told_that_all_was_answered() -> None:
    async def play() -> Client:
        client = Client(Limits())
        messages = iter([body(LINE), body(LINE * 100), {"type": "http.disconnect"}])

        async def receive() -> Message:
            return next(messages)

        await client.run(receive, no_hold)
        return client

    client = asyncio.run(play())
    assert not client.complete
    assert len(client.answers) < 101


def test_a_body_that_cannot_be_taken_in_breaks_the_answer_off() -> None:
    async def play() -> Client:
        client = Client(Limits())
        messages = iter([body(LINE)])

        async def receive() -> Message:
            try:
                return next(messages)
            except StopIteration:
                raise OSError("no space left") from None

        await client.run(receive, no_hold)
        return client

    assert not asyncio.run(play()).complete


def test_the_file_of_a_backlog_begins_anew_whenever_all_is_taken() -> None:
    async def play() -> None:
        with UploadBuffer(Limits(), SetAside(10**9)) as buffer:
            pieces = [b"x" * 50_000] * 20

            async def receive() -> Message:
                if not pieces:
                    await asyncio.Event().wait()
                return body(pieces.pop(), more=bool(pieces))

            filling = asyncio.create_task(buffer.fill(receive))
            taken = 0
            async for chunk in buffer.chunks():
                taken += len(chunk)
                if taken == 1_000_000:
                    break
            assert buffer._in_writing == buffer._in_reading == 0
            filling.cancel()
            await asyncio.gather(filling, return_exceptions=True)

    asyncio.run(play())


def test_a_client_that_leaves_while_there_is_no_room_is_noticed_at_once() -> None:
    async def play() -> Client:
        client = Client(Limits(batch_memory=len(LINE)))
        gone = asyncio.Event()
        pieces = iter([body(LINE * 5000)])

        async def receive() -> Message:
            return next(pieces)

        async def hold() -> None:
            if len(client.answers) == 3:
                gone.set()

        await client.run(receive, hold, gone)
        return client

    client = asyncio.run(play())
    assert not client.complete
    assert len(client.answers) < 10


def test_what_all_batches_set_aside_together_has_a_bound_and_room_is_told_to_those_who_wait() -> None:
    async def play() -> tuple[int, int, int]:
        limits = Limits(batch_memory=1000, batch_disk=10**9)
        set_aside = SetAside(20_000)
        received = [0, 0]

        def sender(which: int) -> Callable[[], Awaitable[Message]]:
            async def receive() -> Message:
                received[which] += 1
                await asyncio.sleep(0)
                return body(b"x" * 500)

            return receive

        buffers = [UploadBuffer(limits, set_aside) for _ in range(2)]
        with buffers[0], buffers[1], buffers[0].stuck(), buffers[1].stuck():
            filling = [asyncio.create_task(buffer.fill(sender(which))) for which, buffer in enumerate(buffers)]
            for _ in range(500):
                await asyncio.sleep(0)
            together = sum(received)
            one = received[1]
            async for _ in buffers[0].chunks():
                break
            for _ in range(500):
                await asyncio.sleep(0)
            more = received[1] - one
            for task in filling:
                task.cancel()
            await asyncio.gather(*filling, return_exceptions=True)
        return together, more, set_aside._bytes

    together, more, left = asyncio.run(play())
    assert 40 <= together <= 42
    assert more > 0
    assert left == 0


def test_files_of_a_batch_that_is_never_wholly_taken_do_not_grow_with_it() -> None:
    async def play() -> int:
        limits = Limits(batch_memory=300_000)
        with UploadBuffer(limits, SetAside(10**9)) as buffer:

            async def receive() -> Message:
                return body(b"x" * 50_000)

            filling = asyncio.create_task(buffer.fill(receive))
            largest = taken = 0
            async for chunk in buffer.chunks():
                taken += len(chunk)
                for _ in range(20):
                    await asyncio.sleep(0)
                largest = max(largest, *(file.seek(0, 1) for file in (buffer._reading, buffer._writing)))
                if taken > 20_000_000:
                    break
            filling.cancel()
            await asyncio.gather(filling, return_exceptions=True)
            return largest

    assert asyncio.run(play()) <= 350_000
