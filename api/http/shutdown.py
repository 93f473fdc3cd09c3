"""News that the process is to stop, for those who wait.

A server tells its application of the end only when every answer is out. A request that waits for something to happen
would hold that up for as long as it waits, so it must be told earlier: by the signal itself.
"""

from __future__ import annotations

import asyncio
import multiprocessing
import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from types import FrameType
from typing import Any, Final

__all__ = ["end_with_supervisor", "on_shutdown"]

_SIGNALS: Final = (signal.SIGTERM, signal.SIGINT)


@contextmanager
def on_shutdown(callback: Callable[[], None]) -> Iterator[None]:
    """While the block lasts, call ``callback`` in the running event loop as soon as the process is asked to stop.

    What the server itself does then is done as before. Outside of the main thread, where there are no signals, nothing
    is told.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    loop = asyncio.get_running_loop()
    before: dict[int, Callable[[int, FrameType | None], Any]] = {}

    def handle(number: int, frame: FrameType | None) -> None:
        with suppress(RuntimeError):  # the loop is closed
            loop.call_soon_threadsafe(callback)
        before[number](number, frame)

    for number in _SIGNALS:
        handler = signal.getsignal(number)
        # Where there is none, the signal ends the process without any more ado.
        if callable(handler):
            before[number] = handler
            signal.signal(number, handle)
    try:
        yield
    finally:
        for each, handler in before.items():
            if signal.getsignal(each) is handle:
                signal.signal(each, handler)


@contextmanager
def end_with_supervisor() -> Iterator[None]:
    """While the block lasts, ask this process to stop as soon as the one that started it as a server process is gone.

    A supervisor that is killed tells its server processes nothing, and they would serve on, with nobody to stop them.
    """
    supervisor = multiprocessing.parent_process()
    if supervisor is None:
        yield
        return
    loop = asyncio.get_running_loop()

    def stop() -> None:
        loop.remove_reader(supervisor.sentinel)
        signal.raise_signal(signal.SIGTERM)

    loop.add_reader(supervisor.sentinel, stop)
    try:
        yield
    finally:
        loop.remove_reader(supervisor.sentinel)
