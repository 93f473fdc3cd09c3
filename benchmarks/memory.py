"""Resident memory over very many assessments, in a process of its own.

Run as ``python -m benchmarks.memory ASSESSMENTS``, it prints the number done and the resident memory (MB) twenty times.
"""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import dataclass
from typing import Final

from benchmarks.harness import ROOT, Bound, Result, documents, environment, resident_mb
from fitcheck.assessment.assess import assess
from fitcheck.fitting.models import Fitting

__all__ = ["QUICK", "Sizes", "run"]

MOST_GROWTH_MB: Final = 5.0
"""How much resident memory may grow from the 100,000th assessment to the last."""

_SETTLED: Final = 100_000
_SAMPLES: Final = 20
_HOW: Final = (
    "A process of its own validates, assesses and serialises fittings without outlines, {given} different ones over "
    "and over, {assessments:,} times. Resident memory is read at twenty even steps; growth is from the {settled:,}th "
    "to the last."
)
_GIVEN: Final = 2000


@dataclass(frozen=True, slots=True)
class Sizes:
    """How many assessments; a million for the record, which takes a quarter of an hour or so."""

    assessments: int = 200_000


QUICK: Final = Sizes(assessments=10_000)


def run(sizes: Sizes) -> Result:
    """Let the process run; ``sizes.assessments`` is a multiple of twenty."""
    command = [sys.executable, "-m", "benchmarks.memory", str(sizes.assessments)]
    said = subprocess.run(command, cwd=ROOT, env=environment(), stdout=subprocess.PIPE, check=True)  # noqa: S603  (our own)
    sampled = {int(done): megabytes for done, megabytes in json.loads(said.stdout)}
    # A run too short to settle shows the growth of its second half.
    settled = min((done for done in sampled if done >= min(_SETTLED, sizes.assessments // 2)), default=0)
    growth = sampled[sizes.assessments] - sampled[settled]
    return Result(
        "memory",
        "Memory",
        _HOW.format(given=_GIVEN, assessments=sizes.assessments, settled=settled),
        (
            (f"at the {settled:,}th", f"{sampled[settled]:.2f} MB"),
            (f"at the {sizes.assessments:,}th", f"{sampled[sizes.assessments]:.2f} MB"),
            ("most seen", f"{max(sampled.values()):.2f} MB"),
        ),
        (Bound("growth", growth, most=MOST_GROWTH_MB, unit=" MB"),),
        ("durable-rules", "pydantic"),
    )


def _main(assessments: int) -> None:
    given = documents(_GIVEN)
    step = assessments // _SAMPLES
    sampled = []
    for number in range(assessments):
        assess(Fitting.model_validate(given[number % len(given)])).model_dump_json()
        if (number + 1) % step == 0:
            sampled.append((number + 1, resident_mb()))
    print(json.dumps(sampled))


if __name__ == "__main__":
    _main(int(sys.argv[1]))
