"""Single requests over HTTP for the brief answer, against the same requests for the whole one."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Final

from benchmarks.harness import Bound, Result, documents, middle
from benchmarks.load import Load, put_under_load
from benchmarks.servers import OURS, served

__all__ = ["QUICK", "Sizes", "run"]

LEAST_TIMES: Final = 1.25
"""The least number of times that the requests per second for the brief answer are of those for the whole one."""

_PATHS: Final = {
    "the whole answer": "/v1/assessments?keep=false",
    "the brief answer": "/v1/assessments?keep=false&view=brief",
}
_WARM_UP_S: Final = 1.0
_HOW: Final = (
    "`POST /v1/assessments?keep=false` with and without `view=brief`, on one server process. A separate process sends "
    "{bodies} different fittings over {connections} connections that are kept, {seconds:g} s at a time, by turns, "
    "{rounds} rounds; the ratio is the median of the rounds' own."
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
    """Put one server under load, for one and the other answer by turns."""
    bodies = b"\n".join(json.dumps(document).encode() for document in documents(sizes.bodies))
    borne: dict[str, list[Load]] = {name: [] for name in _PATHS}
    with served(OURS) as server:
        for seconds in (_WARM_UP_S, *[sizes.seconds] * sizes.rounds):
            for name, path in _PATHS.items():
                borne[name].append(put_under_load(server, path, bodies, sizes.connections, min(seconds, sizes.seconds)))
    whole, brief = (loads[1:] for loads in borne.values())
    return Result(
        "brief",
        "The brief answer",
        _HOW.format(bodies=sizes.bodies, connections=sizes.connections, seconds=sizes.seconds, rounds=sizes.rounds),
        tuple((name, _shown(loads[1:])) for name, loads in borne.items()),
        (
            Bound(
                "requests/s against the whole answer",
                middle([short.per_second / long.per_second for short, long in zip(brief, whole, strict=True)]),
                least=LEAST_TIMES,
            ),
        ),
        ("fastapi", "uvicorn", "pydantic", "durable-rules"),
    )


def _shown(loads: list[Load]) -> str:
    per_second, half = (middle([getattr(load, name) for load in loads]) for name in ("per_second", "p50_ms"))
    return f"{per_second:,.0f} requests/s, p50 {half:.1f} ms"
