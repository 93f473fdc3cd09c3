"""A profile: where the time of one request goes, in process step by step and over HTTP, beside the bare route."""

from __future__ import annotations

import json
import tempfile
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from typing import Final

from api.application import create_app
from benchmarks import bare
from benchmarks.harness import Result, by_turns, documents, middle
from benchmarks.in_process import in_process
from benchmarks.load import put_under_load
from benchmarks.over_http import LEAST_SHARE, PATH
from benchmarks.servers import BARE, OURS, Server, served
from benchmarks.steps import PARTS, READING, VALIDATING, WHOLE, WRITING, Steps
from fitcheck.records import open_store
from rules import shipped_rulebook

__all__ = ["QUICK", "Sizes", "run", "what_follows"]

_HOW: Final = (
    "A profile, without a promise: microseconds a request, over the {bodies} fittings of `http`. In process, both "
    "routes are called through ASGI with a body as uvicorn hands it over, without a server or a socket. The steps of "
    "ours are timed apart, fitting by fitting from bytes to bytes; the rest of the assessment, and what is left for "
    "HTTP, are what the whole takes beyond its steps. Over HTTP a microsecond count is 1 / requests a second of one "
    "worker process with the load of `http` ({connections} connections, {seconds:g} s a turn). All take turns, "
    "{rounds} rounds; medians. The percentages are of our route in process. An assessment is the step between "
    "validating and writing; the bare route's own cost is all of its request over HTTP, models in and out included."
)
_BARE, _OURS, _BARE_HTTP, _OURS_HTTP = "bare", "ours", "bare over HTTP", "ours over HTTP"


@dataclass(frozen=True, slots=True)
class Sizes:
    """Different ``bodies``, ``passes`` over them a turn in process; load as in `http`; ``rounds``."""

    bodies: int = 200
    passes: int = 5
    connections: int = 8
    seconds: float = 5.0
    rounds: int = 9


QUICK: Final = Sizes(bodies=50, seconds=1.0, rounds=3)


def run(sizes: Sizes) -> Result:
    """Measure by turns.  Raises ValueError where the steps are no longer those of the assessment."""
    return Result(
        "stages",
        "Where a request's time goes",
        _HOW.format(bodies=sizes.bodies, connections=sizes.connections, seconds=sizes.seconds, rounds=sizes.rounds),
        tuple(_rows(_measured(sizes))),
        packages=("fastapi", "starlette", "uvicorn", "h11", "pydantic", "durable-rules"),
    )


def _measured(sizes: Sizes) -> dict[str, float]:
    """Microseconds a request of each route and of each step."""
    bodies = [json.dumps(document).encode() for document in documents(sizes.bodies)]
    steps = Steps(bodies, shipped_rulebook())
    steps.check()
    borne: dict[str, list[float]] = defaultdict(list)

    def load(name: str, server: Server) -> Callable[[], None]:
        def work() -> None:
            asked = put_under_load(server, PATH, b"\n".join(bodies), sizes.connections, sizes.seconds)
            borne[name].append(1 / asked.per_second)

        return work

    with _called() as called, served(OURS) as ours, served(BARE) as simple:
        works: dict[str, Callable[[], object]] = {
            name: partial(post, bodies * sizes.passes) for name, post in called.items()
        }
        works |= {
            "whole": partial(steps.whole, sizes.passes),
            "parts": partial(steps.parts, sizes.passes),
            _OURS_HTTP: load(_OURS_HTTP, ours),
            _BARE_HTTP: load(_BARE_HTTP, simple),
        }
        by_turns(works, 1)
        for each in (borne, steps.turns):
            each.clear()
        seconds = by_turns(works, sizes.rounds)
    us = {name: 1e6 * middle(seconds[name]) / (len(bodies) * sizes.passes) for name in called}
    us |= {step: 1e6 * middle(each) / (len(bodies) * sizes.passes) for step, each in steps.turns.items()}
    return us | {name: 1e6 * middle(each) for name, each in borne.items()}


@contextmanager
def _called() -> Iterator[dict[str, Callable[[Iterable[bytes]], None]]]:
    """Both routes in this process; the records of ours lie apart."""
    with (
        tempfile.TemporaryDirectory(prefix="fitcheck-records-") as folder,
        in_process(create_app(store=open_store(f"sqlite:///{folder}/records.sqlite3")), PATH) as ours,
        in_process(bare.create_app(), PATH) as simple,
    ):
        yield {_OURS: ours, _BARE: simple}


def _rows(us: dict[str, float]) -> Iterator[tuple[str, str]]:
    def share(each: float) -> str:
        return f"{each:,.0f} µs ({each / us[_OURS]:.0%})"

    yield "the bare route, in process", share(us[_BARE])
    yield "our route, in process", share(us[_OURS])
    for step in (READING, VALIDATING, WHOLE):
        yield f"of ours: {step}", share(us[step])
    for part in PARTS:
        yield f"of the assessment: {part}", share(us[part])
    yield "of the assessment: the rest", share(us[WHOLE] - sum(us[part] for part in PARTS))
    yield f"of ours: {WRITING}", share(us[WRITING])
    yield (
        "of ours: what is left for HTTP",
        share(us[_OURS] - sum(us[step] for step in (READING, VALIDATING, WHOLE, WRITING))),
    )
    yield "the bare route, over HTTP", f"{us[_BARE_HTTP]:,.0f} µs"
    yield "our route, over HTTP", f"{us[_OURS_HTTP]:,.0f} µs"
    yield "uvicorn and the socket, the bare route", f"{us[_BARE_HTTP] - us[_BARE]:,.0f} µs"
    yield "uvicorn and the socket, our route", f"{us[_OURS_HTTP] - us[_OURS]:,.0f} µs"
    yield from what_follows(us[WHOLE], us[_OURS_HTTP], us[_BARE_HTTP])


def what_follows(assessment: float, ours: float, simple: float) -> Iterator[tuple[str, str]]:
    """What an assessment and both routes over HTTP, in µs, say of the share of the bare route's requests/s.

    >>> for what, figure in what_follows(800, 1800, 600):
    ...     print(f"{what}: {figure}")
    share of the bare route's requests/s, now: 0.33
    share, if HTTP, reading and writing cost what they cost the bare route: 0.43
    an assessment for 0.6 of it, all else as it is: none is short enough (now 800 µs)
    an assessment for 0.6 of it, all else as the bare route: 400 µs (now 800 µs)
    """
    yield "share of the bare route's requests/s, now", f"{simple / ours:.2f}"
    yield (
        "share, if HTTP, reading and writing cost what they cost the bare route",
        f"{simple / (simple + assessment):.2f}",
    )
    for rest, beside in (("as it is", ours - assessment), ("as the bare route", simple)):
        most = simple / LEAST_SHARE - beside
        yield (
            f"an assessment for {LEAST_SHARE:g} of it, all else {rest}",
            f"{f'{most:,.0f} µs' if most > 0 else 'none is short enough'} (now {assessment:,.0f} µs)",
        )
