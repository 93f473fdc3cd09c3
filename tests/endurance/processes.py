"""What runs on this machine, as /proc tells it."""

from __future__ import annotations

import time
from collections.abc import Iterable
from pathlib import Path
from typing import Final

__all__ = ["children_of", "gone", "group_of"]

_GONE_WITHIN_S: Final = 60.0


def children_of(parent: int) -> tuple[int, ...]:
    """The processes that ``parent`` has started and that still run."""
    listed = Path(f"/proc/{parent}/task/{parent}/children").read_text(encoding="ascii")
    return tuple(map(int, listed.split()))


def group_of(leader: int) -> tuple[int, ...]:
    """Every process of the group of ``leader`` that still runs."""
    every = (int(each.name) for each in Path("/proc").iterdir() if each.name.isdigit())
    return tuple(pid for pid in every if (state := _state(pid)) is not None and state[1] == leader)


def gone(processes: Iterable[int]) -> None:
    """Come back when none of these runs any more. Raises TimeoutError."""
    patience = time.monotonic() + _GONE_WITHIN_S
    left = set(processes)
    while left := {pid for pid in left if _state(pid) is not None}:
        if time.monotonic() > patience:
            raise TimeoutError(f"processes that do not end: {left}")
        time.sleep(0.005)


def _state(pid: int) -> tuple[str, int] | None:
    """Its state and group; None where it has ended, whether or not anybody has asked how."""
    try:
        fields = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8", errors="replace").rpartition(")")[2].split()
    except (FileNotFoundError, ProcessLookupError):
        return None
    return None if fields[0] in "ZX" else (fields[0], int(fields[2]))
