"""Parts of work done by the workers of a Dask cluster, answered in their order.

Needs the extra ``cluster``: nothing else in the package imports this but where a cluster is asked for.
"""

from __future__ import annotations

import logging
import os
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from contextlib import AbstractContextManager, ExitStack, closing
from dataclasses import dataclass
from types import TracebackType
from typing import Any, Final, Self, TypeVar

import dask
from distributed import Client, LocalCluster
from distributed.client import FutureCancelledError
from distributed.comm.core import CommClosedError
from distributed.scheduler import KilledWorker

from fitcheck.bulk.errors import ClusterLost

__all__ = ["Cluster"]

_Part = TypeVar("_Part")
_Answer = TypeVar("_Answer")

_AHEAD: Final = 4
"""Parts that each worker has at hand at most: it need not wait for the next, and memory does not grow."""
_LOSSES: Final = 5
"""How many workers may be lost at one part before the part itself is held to be at fault."""
_JOIN_S: Final = 20


@dataclass(slots=True)
class Cluster(AbstractContextManager["Cluster"]):
    """A Dask cluster: the one whose scheduler is at ``address``, or workers of this machine's own."""

    address: str | None = None
    workers: int | None = None
    """How many workers a cluster of this machine has; as many as it has processors by default."""
    _client: Any = None
    _open: ExitStack | None = None

    def __enter__(self) -> Self:
        """Connect, or start the workers. Raises ClusterLost."""
        dask.config.set({"distributed.scheduler.allowed-failures": _LOSSES})
        # What is lost is raised, and said once.
        logging.getLogger("distributed.client").setLevel(logging.CRITICAL)
        with ExitStack() as opened:
            try:
                if self.address is None:
                    local = LocalCluster(  # type: ignore[no-untyped-call]
                        n_workers=self.workers or os.cpu_count(),
                        threads_per_worker=1,
                        dashboard_address="127.0.0.1:0",
                        silence_logs="ERROR",
                    )
                    where: Any = opened.enter_context(local)
                else:
                    where = self.address
                self._client = opened.enter_context(closing(Client(where, timeout=_JOIN_S)))  # type: ignore[no-untyped-call]
            except (OSError, ValueError, RuntimeError) as error:
                raise ClusterLost(f"There is no cluster at {self.address or 'this machine'}: {error}") from error
            self._open = opened.pop_all()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._open is not None:
            self._open.close()

    def processes(self) -> list[int]:
        """The process of each worker there is now, by its id on its own machine."""
        return list(self._client.run(os.getpid).values())

    def map(self, function: Callable[[_Part], _Answer], parts: Iterable[_Part]) -> Iterator[_Answer]:
        """What ``function`` answers to each of ``parts``, in their order; a few of them are at work at a time.

        A part whose worker is lost is done by another. Raises ClusterLost, and what ``function`` raises.
        """
        waiting: deque[Any] = deque()
        source = iter(parts)
        try:
            while True:
                most = _AHEAD * max(1, len(self._client.nthreads()))
                while len(waiting) < most and (part := next(source, None)) is not None:
                    waiting.append(self._client.submit(function, part, pure=False))
                if not waiting:
                    return
                yield waiting.popleft().result()
        except KilledWorker as error:
            raise ClusterLost(f"{_LOSSES} workers were lost at the same part: {error}") from error
        except (FutureCancelledError, CommClosedError, TimeoutError, OSError) as error:
            raise ClusterLost(f"The scheduler of the cluster was lost: {error}") from error
