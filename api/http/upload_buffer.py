"""What of a batch has arrived and is not yet assessed.

Many HTTP clients send their whole request before they read any of the answer.  Were the service to wait until its
answers are read before it reads on, both would wait for ever.  So it reads on while its answers are stuck, and sets
aside what arrives: a little in memory, the rest in a temporary file.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Iterator
from contextlib import contextmanager
from tempfile import SpooledTemporaryFile
from types import TracebackType
from typing import Final, Self

from starlette.types import Receive

from api.http.limits import Limits

__all__ = ["UploadBuffer"]

_CHUNK: Final = 64 * 1024


class UploadBuffer:
    """First in, first out, from the client's sending to the assessor; memory is bounded, and so is the file."""

    def __init__(self, limits: Limits) -> None:
        self._limits = limits
        self._file = SpooledTemporaryFile(max_size=limits.batch_memory)  # noqa: SIM115  (closed by __exit__)
        self._written = 0
        self._read = 0
        self._complete = False
        self._cut_off = False
        self._stuck = False
        self._bytes_awaited = asyncio.Event()
        self._there = asyncio.Event()
        self._notify()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._file.close()

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
        self._notify()
        try:
            yield
        finally:
            self._stuck = False
            self._notify()

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
                self._notify()
            else:
                # Nothing more can come but the news that the client has gone.
                await receive()
        finally:
            self._cut_off = True
            self._notify()

    async def chunks(self) -> AsyncIterator[bytes]:
        """What has arrived, in order, until the body is complete or the client has gone."""
        await self._there.wait()
        while not self._cut_off:
            if chunk := self._take():
                yield chunk
            elif self._complete:
                return
            await self._there.wait()

    @property
    def _size(self) -> int:
        return self._written - self._read

    def _room(self) -> bool:
        return self._size < (self._limits.batch_disk if self._stuck else self._limits.batch_memory)

    def _notify(self) -> None:
        for event, holds in (
            (self._bytes_awaited, self._room()),
            (self._there, self._size > 0 or self._complete or self._cut_off),
        ):
            if holds:
                event.set()
            else:
                event.clear()

    def _put(self, chunk: bytes) -> None:
        self._file.seek(self._written)
        self._file.write(chunk)
        self._written += len(chunk)

    def _take(self) -> bytes:
        self._file.seek(self._read)
        chunk = self._file.read(_CHUNK)
        self._read += len(chunk)
        if self._size == 0:
            # All is taken: start the file again instead of letting it grow with the whole batch.
            self._file.seek(0)
            self._file.truncate()
            self._written = self._read = 0
        self._notify()
        return chunk
