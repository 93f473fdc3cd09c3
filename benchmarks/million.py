"""A million fittings judged anew in one run: how long it takes, how much memory, and whether answers are right."""

from __future__ import annotations

import hashlib
import json
import os
import random
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from benchmarks.cluster import CREATED
from benchmarks.fittings import SEED, fittings
from benchmarks.harness import Bound, Result, resident_mb
from fitcheck.assessment.assess import assess
from fitcheck.bulk import BookName, assess_part, in_order, line_parts
from fitcheck.bulk.cluster import Cluster
from fitcheck.fitting.models import Fitting
from rules import shipped_rulebook

__all__ = ["QUICK", "Sizes", "run"]

MOST_MEMORY: Final = 1.1
"""How many times the memory of the second tenth the last tenth may have."""
_LOOKS: Final = 100
"""How often memory is looked at."""
_SAID_EVERY_S: Final = 30.0
_HOW: Final = (
    "{count:,} fittings of the day book (seed {seed}) judged anew by the shipped rulebook on a Dask cluster of "
    "{workers} workers on this machine, answers taken in order. Resident memory is of this process and of all "
    "workers. {sample:,} of them, picked by the same seed, are held against `assess`: equal but for id and time."
)


@dataclass(frozen=True, slots=True)
class Sizes:
    """How many fittings (a million for the record), by how many workers, and how many are held against ``assess``."""

    fittings: int = 20_000
    workers: int = os.cpu_count() or 1
    sample: int = 10_000


QUICK: Final = Sizes(fittings=4_000, sample=400)


def run(sizes: Sizes) -> Result:
    """Judge all of them. Raises ValueError where an answer is not what ``assess`` says, or is not there."""
    count, rng = sizes.fittings, random.Random(SEED)  # noqa: S311  (a seeded choice, nothing secret)
    sample = set(rng.sample(range(1, count + 1), min(sizes.sample, count)))
    book = BookName("shipped", shipped_rulebook().digest)
    parts = line_parts((json.dumps(each).encode() for each in fittings(count)), book, CREATED)
    kept: dict[int, bytes] = {}
    memory: list[tuple[int, float, float]] = []
    digest, done = hashlib.sha256(), 0
    with Cluster(workers=sizes.workers) as cluster:
        workers = cluster.processes()
        begin = told = time.perf_counter()
        for lines in in_order(assess_part, parts, cluster):
            for line in lines:
                done += 1
                digest.update(line)
                if done in sample:
                    kept[done] = line
            if done * _LOOKS // count > len(memory) or not memory:
                memory.append((done, resident_mb(), sum(map(resident_mb, workers))))
            if time.perf_counter() - told > _SAID_EVERY_S:
                told = time.perf_counter()
                print(f"  {done:,} of {count:,}, {done / (told - begin):,.0f} a second", file=sys.stderr, flush=True)
        taken = time.perf_counter() - begin
    if done != count:
        raise ValueError(f"{done} answers to {count} fittings")
    _check(kept, count)
    rows = [
        ("all of them", f"{taken:,.0f} s, {count / taken:,.0f} a second"),
        ("answers held against assess, all equal", f"{len(kept):,}"),
        ("digest of all answers", digest.hexdigest()[:16]),
    ]
    bounds = []
    for what, column in (("this process", 1), ("the workers", 2)):
        early, late = (_most(memory, column, count, tenth) for tenth in (1, 9))
        rows.append((f"memory of {what}", f"{early:,.0f} MB in the second tenth, {late:,.0f} MB in the last"))
        bounds.append(Bound(f"memory of {what}, growth", late / early, most=MOST_MEMORY))
    how = _HOW.format(count=count, seed=SEED, workers=sizes.workers, sample=len(kept))
    packages = ("dask", "distributed", "durable-rules")
    return Result("million", "A million fittings in one run", how, tuple(rows), tuple(bounds), packages)


def _most(memory: list[tuple[int, float, float]], column: int, count: int, tenth: int) -> float:
    """The most memory within a tenth, counted from 0; of a short run that of the look that was nearest."""

    def away(each: tuple[int, float, float]) -> int:
        return abs(10 * (each[0] - 1) // count - tenth)

    nearest = min(map(away, memory))
    return max(each[column] for each in memory if away(each) == nearest)


def _check(answers: dict[int, bytes], count: int) -> None:
    for number, document in _picked(answers, count):
        expected = json.loads(assess(Fitting.model_validate(document)).model_dump_json())
        answer = json.loads(answers[number])
        found = answer.get("assessment", answer)
        same = {name: expected[name] for name in ("id", "created")}
        if answer["line"] != number or found | same != expected:
            raise ValueError(f"the answer to fitting {number} is not what assess says of it")


def _picked(answers: dict[int, bytes], count: int) -> Iterator[tuple[int, dict[str, Any]]]:
    for number, document in enumerate(fittings(count), 1):
        if number in answers:
            yield number, document
