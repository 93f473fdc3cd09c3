"""Single requests over HTTP whose assessments are kept on SQLite, and what keeping does to those beside them."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Final

from benchmarks.harness import Bound, Result, documents, middle
from benchmarks.load import Load, put_under_load
from benchmarks.servers import OURS, Server, served

__all__ = ["QUICK", "Sizes", "run"]

LEAST_SHARE: Final = 0.33
"""The least share of the requests per second without keeping."""
MOST_P99: Final = 2.0
"""How many times the p99 of a request that is not kept may be, where those beside it are kept."""

_ASSESS: Final = "/v1/assessments?keep=false"
_KEEP: Final = "/v1/assessments"
_WARM_UP_S: Final = 1.0
_HOW: Final = (
    "`POST /v1/assessments`, which keeps, and the same with `keep=false`, on one server process whose records lie in a "
    "SQLite file, every commit forced to disk. A separate process sends {bodies} different fittings over {connections} "
    "connections that stay open, {seconds:g} s at a time, by turns, {rounds} rounds; medians of the rounds. Then half "
    "of the connections send requests that are not kept, beside as many that are kept or not kept, by turns."
)


@dataclass(frozen=True, slots=True)
class Sizes:
    """Load: different ``bodies``, ``connections`` at once, ``seconds`` a turn, ``rounds``."""

    bodies: int = 200
    connections: int = 8
    seconds: float = 5.0
    rounds: int = 7


QUICK: Final = Sizes(bodies=50, seconds=2.0, rounds=3)


def run(sizes: Sizes) -> Result:
    """Put one server under load, with and without keeping."""
    bodies = b"\n".join(json.dumps(document).encode() for document in documents(sizes.bodies))
    alone: dict[str, list[Load]] = {_KEEP: [], _ASSESS: []}
    beside: dict[str, list[Load]] = {_KEEP: [], _ASSESS: []}
    with served(OURS) as server:
        put_under_load(server, _KEEP, bodies, sizes.connections, _WARM_UP_S)
        for _ in range(sizes.rounds):
            for path in (_KEEP, _ASSESS):
                alone[path].append(put_under_load(server, path, bodies, sizes.connections, sizes.seconds))
                beside[path].append(_beside(server, path, bodies, sizes))
    speed = {path: middle([load.per_second for load in loads]) for path, loads in alone.items()}
    worst = {path: middle([load.p99_ms for load in loads]) for path, loads in beside.items()}
    lines = []
    for path, title in ((_KEEP, "kept"), (_ASSESS, "not kept")):
        half, high = (middle([getattr(load, field) for load in alone[path]]) for field in ("p50_ms", "p99_ms"))
        lines.append((title, f"{speed[path]:,.0f} requests/s, p50 {half:.1f} ms, p99 {high:.1f} ms"))
    lines += [
        ("not kept, beside those that are", f"p99 {worst[_KEEP]:.1f} ms"),
        ("not kept, beside those that are not", f"p99 {worst[_ASSESS]:.1f} ms"),
    ]
    return Result(
        "keeping",
        "Requests that are kept",
        _HOW.format(bodies=sizes.bodies, connections=sizes.connections, seconds=sizes.seconds, rounds=sizes.rounds),
        tuple(lines),
        (
            Bound("requests/s against not keeping", speed[_KEEP] / speed[_ASSESS], least=LEAST_SHARE),
            Bound("p99 beside those that are kept", worst[_KEEP] / worst[_ASSESS], most=MOST_P99),
        ),
        ("fastapi", "uvicorn", "pydantic", "durable-rules", "sqlalchemy"),
    )


def _beside(server: Server, path: str, bodies: bytes, sizes: Sizes) -> Load:
    """Requests that are not kept, while as many go to ``path``."""
    half = max(1, sizes.connections // 2)
    with ThreadPoolExecutor() as pool:
        other = pool.submit(put_under_load, server, path, bodies, half, sizes.seconds)
        load = put_under_load(server, _ASSESS, bodies, half, sizes.seconds)
        other.result()
    return load
