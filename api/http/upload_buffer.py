"""What of a batch has arrived and is not yet assessed.

Many HTTP clients send their whole request before they read any of the answer.  Were the service to wait until its
answers are read before it reads on, both would wait for ever.  So it reads on while its answers are stuck, and sets
aside what arrives: a little in memory, the rest in temporary files, of which there are two: while one is read, the
other is written, so that neither grows with the whole batch.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Iterator
from contextlib import contextmanager
from tempfile import SpooledTemporaryFile
from types import TracebackType
from typing import Final, Self
from weakref import WeakSet

from starlette.types import Receive

from api.http.limits import Limits

__all__ = ["SetAside", "UploadBuffer"]

_CHUNK: Final = 64 * 1024


class SetAside:
    """What all batches of a server process have set aside together."""

    def __init__(self, most: int) -> None:
        """Bytes, at most."""
        self._most = most
        self._bytes = 0
        self._buffers: WeakSet[UploadBuffer] = WeakSet()

    @property
    def full(self) -> bool:
        """Whether nothing more may be set aside, but what each batch may have in memory."""
        return self._bytes >= self._most

    def begin(self, buffer: UploadBuffer) -> None:
        """Tell this buffer from now on when there is room again."""
        self._buffers.add(buffer)

    def add(self, size: int) -> None:
        """Count bytes that were put in, or taken out (less than zero)."""
        was_full = self.full
        self._bytes += size
        if was_full and not self.full:
            for buffer in self._buffers:
                buffer.notify()


class UploadBuffer:
    """First in, first out, from the client's sending to the assessor; memory is bounded, and so are the files."""

    def __init__(self, limits: Limits, set_aside: SetAside) -> None:
        self._limits = limits
        self._set_aside = set_aside
        self._reading, self._writing = _file(limits), _file(limits)
        self._to_read = 0
        """Bytes of the file that is read that were not yet taken."""
        self._in_reading = self._in_writing = 0
        """Bytes in each file, taken or not."""
        self._complete = False
        self._cut_off = False
        self._stuck = False
        self._bytes_awaited = asyncio.Event()
        self._there = asyncio.Event()
        set_aside.begin(self)
        self.notify()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._reading.close()
        self._writing.close()
        self._set_aside.add(-self._in_reading - self._in_writing)

    @property
    def complete(self) -> bool:
        """Whether the whole body has arrived."""
        return self._complete

    @property
    def cut_off(self) -> bool:
        """Whether the client went away, or its body could not be taken in: nothing more need be answered."""
        return self._cut_off

    @contextmanager
    def stuck(self) -> Iterator[None]:
        """While the block lasts, an answer may be waiting for the client to read it."""
        self._stuck = True
        self.notify()
        try:
            yield
        finally:
            self._stuck = False
            self.notify()

    async def fill(self, receive: Receive) -> None:
        """Take in the request's body to its end, as far as there is room."""
        try:
            while not self._complete:
                while not self._room():
                    await self._bytes_awaited.wait()
                message = await receive()
                if message["type"] == "http.disconnect":
                    break
                self._put(message.get("body", b""))
                self._complete = not message.get("more_body", False)
                self.notify()
            else:
                # Nothing more can come but the news that the client has gone.
                await receive()
        finally:
            self._end()

    async def end_once(self, gone: asyncio.Event) -> None:
        """Wait for the client to go: while there is no room, ``fill`` takes nothing, not even that news."""
        await gone.wait()
        self._end()

    async def chunks(self) -> AsyncIterator[bytes]:
        """What has arrived, in order, until the body is complete or the client has gone."""
        await self._there.wait()
        while not self._cut_off:
            if chunk := self._take():
                yield chunk
            elif self._complete:
                return
            await self._there.wait()

    def notify(self) -> None:
        """Wake those who wait for room, or for what has arrived, where there is some."""
        for event, holds in (
            (self._bytes_awaited, self._room()),
            (self._there, self._to_read + self._in_writing > 0 or self._complete or self._cut_off),
        ):
            if holds:
                event.set()
            else:
                event.clear()

    def _end(self) -> None:
        self._cut_off = True
        self.notify()

    def _room(self) -> bool:
        size = self._in_reading + self._in_writing
        return size < self._limits.batch_memory or (
            self._stuck and size < self._limits.batch_disk and not self._set_aside.full
        )

    def _put(self, chunk: bytes) -> None:
        self._writing.write(chunk)
        self._in_writing += len(chunk)
        self._set_aside.add(len(chunk))

    def _take(self) -> bytes:
        if self._to_read == 0:
            self._reading, self._writing = self._writing, self._reading
            self._to_read = self._in_reading = self._in_writing
            self._in_writing = 0
            self._reading.seek(0)
        chunk = self._reading.read(_CHUNK)
        self._to_read -= len(chunk)
        if self._to_read == 0:
            self._reading.seek(0)
            self._reading.truncate()
            self._set_aside.add(-self._in_reading)
            self._in_reading = 0
        self.notify()
        return chunk


def _file(limits: Limits) -> SpooledTemporaryFile[bytes]:
    return SpooledTemporaryFile(max_size=limits.batch_memory)
