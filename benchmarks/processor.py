"""Time on a processor: what work costs, however many others the machine is at work for."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Final

__all__ = ["Processor"]

_BY_ITSELF: Final = ("autovacuum", "checkpointer", "background writer", "walwriter", "logical replication")
"""Processes of PostgreSQL that no request waits for."""


class Processor:
    """Counts the time of this process, and of those of a PostgreSQL server that serve it.

    Linux tells it in nanoseconds (``/proc/PID/schedstat``). What ends within the work is not counted.
    """

    def __init__(self, server: int | None = None) -> None:
        """``server``: the first process of the server."""
        self._server: Final = server

    def microseconds(self, work: Callable[[], object]) -> float:
        """How long ``work`` is on a processor."""
        before, begin = self._served(), time.process_time_ns()
        work()
        here = time.process_time_ns() - begin
        there = sum(spent - before.get(pid, 0) for pid, spent in self._served().items())
        return (here + there) / 1e3

    def _served(self) -> dict[int, int]:
        """The nanoseconds of each process of the server, by its number."""
        if self._server is None:
            return {}
        children = Path(f"/proc/{self._server}/task/{self._server}/children").read_text(encoding="ascii").split()
        found = {}
        for each in children:
            process = Path("/proc", each)
            try:
                if not any(name in (process / "cmdline").read_text(encoding="utf-8") for name in _BY_ITSELF):
                    found[int(each)] = int((process / "schedstat").read_text(encoding="ascii").split()[0])
            except OSError:
                continue
        return found
