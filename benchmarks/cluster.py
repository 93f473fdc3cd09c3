"""Very many fittings by one process, by one worker of a Dask cluster and by two: equal answers, and how much sooner."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from typing import Final

from benchmarks.fittings import SEED, fittings
from benchmarks.harness import Bound, Result, by_turns, middle
from fitcheck.bulk import BookName, assess_part, in_order, line_parts
from fitcheck.bulk.cluster import Cluster
from rules import shipped_rulebook

__all__ = ["CREATED", "LEAST_GAIN", "QUICK", "Sizes", "run"]

LEAST_GAIN: Final = 1.7
"""How many times as many fittings two workers do as one, on two cores that are at work on nothing else."""
CREATED: Final = "2026-03-04T10:00:00.000Z"
_HOW: Final = (
    "{count:,} fittings of the day book (seed {seed}) as lines of JSON, assessed in parts by this process alone, by "
    "one worker of a Dask cluster of this machine and by two, in {rounds} rounds by turns; the clusters are warm. "
    "All answers are equal to the byte."
)


@dataclass(frozen=True, slots=True)
class Sizes:
    """How many fittings, and how often all have their turn."""

    fittings: int = 20_000
    rounds: int = 3


QUICK: Final = Sizes(fittings=2_000, rounds=1)


def run(sizes: Sizes) -> Result:
    """Assess all of them in each way. Raises ValueError where answers differ."""
    lines = [json.dumps(each).encode() for each in fittings(sizes.fittings)]
    book = BookName("shipped", shipped_rulebook().digest)
    answers: set[str] = set()

    def assessed(cluster: Cluster | None) -> None:
        digest = hashlib.sha256()
        for part in in_order(assess_part, line_parts(lines, book, CREATED), cluster):
            digest.update(b"\n".join(part))
        answers.add(digest.hexdigest())

    with Cluster(workers=1) as one, Cluster(workers=2) as two:
        for cluster in (None, one, two):
            list(in_order(assess_part, line_parts(lines[:800], book, CREATED), cluster))
        seconds = by_turns(
            {
                "this process alone": lambda: assessed(None),
                "Dask, one worker": lambda: assessed(one),
                "Dask, two workers": lambda: assessed(two),
            },
            sizes.rounds,
        )
    if len(answers) != 1:
        raise ValueError("the answers depend on who worked them out")
    taken = {name: middle(each) for name, each in seconds.items()}
    rows = tuple((name, f"{sizes.fittings / each:,.0f} a second") for name, each in taken.items())
    gain = taken["Dask, one worker"] / taken["Dask, two workers"]
    return Result(
        "cluster",
        "Many fittings by one process and by a cluster",
        _HOW.format(count=sizes.fittings, seed=SEED, rounds=sizes.rounds),
        rows,
        (Bound("two workers to one", gain, least=LEAST_GAIN),),
        ("dask", "distributed", "durable-rules"),
    )
