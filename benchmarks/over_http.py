"""Single requests over HTTP against a bare FastAPI route that parses and returns the same models."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Final

from benchmarks.harness import Bound, Result, documents, middle
from benchmarks.load import Load, put_under_load
from benchmarks.servers import BARE, OURS, served

__all__ = ["LEAST_SHARE", "PATH", "QUICK", "Sizes", "run"]

LEAST_SHARE: Final = 0.6
"""The least share of the bare route's requests per second."""
MOST_P99: Final = 3.0
"""How many times the bare route's p99 ours may be."""

PATH: Final = "/v1/assessments?keep=false"
_WARM_UP_S: Final = 1.0
_HOW: Final = (
    "`POST /v1/assessments?keep=false` against a bare route that takes a `Fitting` and answers with a constant "
    "`Assessment` of middle length, declared in FastAPI's ordinary way. Both with {workers} worker process and the "
    "same settings of uvicorn. A separate process sends {bodies} different fittings over {connections} connections "
    "that are kept, {seconds:g} s at a time, to one and the other by turns, {rounds} rounds; medians of the rounds."
)


@dataclass(frozen=True, slots=True)
class Sizes:
    """Load: different ``bodies``, ``connections`` at once, ``seconds`` a turn, ``rounds``, server ``workers``."""

    bodies: int = 200
    connections: int = 8
    seconds: float = 5.0
    rounds: int = 7
    workers: int = 1


QUICK: Final = Sizes(bodies=50, seconds=2.0, rounds=3)


def run(sizes: Sizes) -> Result:
    """Serve both, put them under load by turns."""
    bodies = b"\n".join(json.dumps(document).encode() for document in documents(sizes.bodies))
    with served(OURS, sizes.workers) as ours, served(BARE, sizes.workers) as bare:
        borne: dict[str, list[Load]] = {"ours": [], "bare": []}
        for seconds in (_WARM_UP_S, *[sizes.seconds] * sizes.rounds):
            for name, server in (("ours", ours), ("bare", bare)):
                borne[name].append(put_under_load(server, PATH, bodies, sizes.connections, min(seconds, sizes.seconds)))
    speed, half, worst = (
        {name: middle([getattr(load, field) for load in loads[1:]]) for name, loads in borne.items()}
        for field in ("per_second", "p50_ms", "p99_ms")
    )
    titles = {"ours": "ours", "bare": "the bare route"}
    return Result(
        "http",
        "Single requests over HTTP",
        _HOW.format(
            workers=sizes.workers,
            bodies=sizes.bodies,
            connections=sizes.connections,
            seconds=sizes.seconds,
            rounds=sizes.rounds,
        ),
        tuple(
            (title, f"{speed[name]:,.0f} requests/s, p50 {half[name]:.1f} ms, p99 {worst[name]:.1f} ms")
            for name, title in titles.items()
        ),
        (
            Bound("requests/s against the bare route", speed["ours"] / speed["bare"], least=LEAST_SHARE),
            Bound("p99 against the bare route", worst["ours"] / worst["bare"], most=MOST_P99),
        ),
        ("fastapi", "starlette", "uvicorn", "h11", "pydantic", "durable-rules"),
    )
