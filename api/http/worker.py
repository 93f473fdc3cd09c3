"""What takes long is done in a thread, one after another; a request waits for its turn for a bounded time."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Final, TypeVar

from api.http.problems import ProblemError

__all__ = ["Worker", "in_turn"]

_Result = TypeVar("_Result")
_MOST_WAITING: Final = 32
_TURN_S: Final = 10.0
_TRY_AGAIN_S: Final = 5


async def in_turn(executor: ThreadPoolExecutor, work: Callable[[], _Result], within_s: float | None) -> _Result:
    """What ``work`` gives when ``executor`` has run it; once begun it is waited for.

    Raises TimeoutError where it could not begin in that time (None: any); it then never does.
    """
    turn = executor.submit(work)
    result = asyncio.wrap_future(turn)
    await asyncio.wait([result], timeout=within_s)
    if turn.cancel():
        raise TimeoutError
    return await result


class Worker:
    """One thread for work of requests that would hold up the event loop, and with it all other requests.

    It is one alone, since Python runs one thread at a time: with more of them the event loop would get its turn later.
    """

    def __init__(self) -> None:
        self._thread = ThreadPoolExecutor(1, "worker")
        self._waiting = 0

    async def run(self, work: Callable[[], _Result], *, patient: bool = False) -> _Result:
        """What ``work`` gives; with ``patient`` it waits for its turn as long as it takes, behind those before it.

        Raises ProblemError of kind busy where too many wait, or for too long.
        """
        if self._waiting >= _MOST_WAITING and not patient:
            raise _busy()
        self._waiting += 1
        try:
            return await in_turn(self._thread, work, None if patient else _TURN_S)
        except TimeoutError:
            raise _busy() from None
        finally:
            self._waiting -= 1

    def close(self) -> None:
        """End what is under way, and begin nothing more; blocks."""
        self._thread.shutdown(cancel_futures=True)


def _busy() -> ProblemError:
    return ProblemError(
        "busy",
        "Too many large fittings wait to be assessed. Send the request again after a while.",
        headers={"retry-after": str(_TRY_AGAIN_S)},
    )
