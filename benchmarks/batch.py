"""NDJSON batches on one and on two server processes, and a server's memory over a long stream."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Final

from benchmarks.harness import Bound, Result, documents, middle, resident_mb
from benchmarks.servers import OURS, Server, served
from benchmarks.streaming import stream

__all__ = ["QUICK", "Sizes", "run"]

LEAST: Final = 1.7
"""How many times the lines per second two processes must do."""
MOST_GROWTH_MB: Final = 2.0
"""Growth over the last nine tenths of a stream that still counts as constant: nothing of 10,000s of lines is kept."""

_BODIES: Final = 200
_LEAST_SHARE: Final = 0.25
_TRIES: Final = 10
_HOW: Final = (
    "`POST /v1/assessments/batch`, answers read as the lines are sent, from a separate process: two batches of {lines} "
    "lines at the same time (the second begins when the first is being answered) to a server of one process and to one "
    "of two (`uvicorn --workers`) by turns, {rounds} rounds; medians. A round in which one of two processes was handed "
    "both batches is taken again ({again} here). Then one batch of {stream} lines to one process, whose resident "
    "memory is read at every tenth."
)


@dataclass(frozen=True, slots=True)
class Sizes:
    """Lines of each of two batches, rounds, and lines of the long stream."""

    lines: int = 4000
    rounds: int = 5
    stream: int = 30_000


QUICK: Final = Sizes(lines=1000, rounds=3, stream=5000)


def run(sizes: Sizes) -> Result:
    """Measure throughput, then memory."""
    bodies = b"\n".join(json.dumps(document).encode() for document in documents(_BODIES))
    speed: dict[int, list[float]] = {1: [], 2: []}
    again = 0
    with served(OURS, 1) as one, served(OURS, 2) as two:
        for server in (one, two):
            stream(server, bodies, 2, 100)  # warm
        for _ in range(sizes.rounds):
            speed[1].append(2 * sizes.lines / stream(one, bodies, 2, sizes.lines))
            seconds, tries = _spread(two, bodies, sizes.lines)
            again += tries
            speed[2].append(2 * sizes.lines / seconds)
    with served(OURS, 1) as server:
        sampled = _memory(server, bodies, sizes.stream)
    growth = max(sampled[1:]) - sampled[0]
    median = {processes: middle(each) for processes, each in speed.items()}
    return Result(
        "batch",
        "Batches",
        _HOW.format(lines=sizes.lines, rounds=sizes.rounds, again=again or "none", stream=sizes.stream),
        (
            ("one process", f"{median[1]:,.0f} lines/s"),
            ("two processes", f"{median[2]:,.0f} lines/s"),
            (
                f"memory at the first and last tenth of {sizes.stream:,} lines",
                f"{sampled[0]:.1f} and {sampled[-1]:.1f} MB",
            ),
        ),
        (
            Bound("two processes against one", median[2] / median[1], least=LEAST),
            Bound("most growth after the first tenth", growth, most=MOST_GROWTH_MB, unit=" MB"),
        ),
        ("fastapi", "uvicorn", "h11", "durable-rules"),
    )


def _spread(server: Server, bodies: bytes, lines: int) -> tuple[float, int]:
    """Seconds of a round in which each process had its batch, and how many went before it in which one had both.

    Which process takes a connection is the kernel's choice.
    """
    for tries in range(_TRIES):
        before = server.processor_s()
        seconds = stream(server, bodies, 2, lines)
        spent = [after - earlier for after, earlier in zip(server.processor_s(), before, strict=True)]
        if min(spent) >= _LEAST_SHARE * sum(spent):
            return seconds, tries
    raise RuntimeError(f"one of two processes was handed both batches, {_TRIES} times in a row")


def _memory(server: Server, bodies: bytes, lines: int) -> list[float]:
    """Resident memory of the server at each tenth of one batch, in MB."""
    [worker] = server.workers
    sampled: list[float] = []
    stream(server, bodies, 1, lines, lambda _: sampled.append(resident_mb(worker)))
    return sampled
