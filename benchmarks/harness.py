"""What the benchmarks share: the form of a result, medians by turns, fittings made ready, resident memory."""

from __future__ import annotations

import os
import statistics
import time
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from benchmarks.faults import Table
from benchmarks.fittings import fittings
from fitcheck.assessment.assess import assess
from fitcheck.fitting.models import Fitting

__all__ = [
    "ROOT",
    "Bound",
    "Result",
    "by_turns",
    "documents",
    "environment",
    "middle",
    "resident_mb",
    "typical_answer",
]

ROOT: Final = Path(__file__).parents[1]
_MB: Final = 1024 * 1024

middle = statistics.median


@dataclass(frozen=True, slots=True)
class Bound:
    """A figure that must be at least, or at most, what was promised."""

    what: str
    value: float
    least: float | None = None
    most: float | None = None
    unit: str = ""

    @property
    def met(self) -> bool:
        """Whether the promise holds in this run."""
        return (self.least is None or self.value >= self.least) and (self.most is None or self.value <= self.most)

    def __str__(self) -> str:
        promise = f"at least {self.least:g}" if self.least is not None else f"at most {self.most:g}"
        return f"{self.value:.2f}{self.unit} ({promise}{self.unit}: {'met' if self.met else 'NOT met'})"


@dataclass(frozen=True, slots=True)
class Result:
    """What one benchmark found: ``rows`` of what and how much, ``bounds``, and how it was measured."""

    name: str
    title: str
    how: str
    rows: tuple[tuple[str, str], ...]
    bounds: tuple[Bound, ...] = ()
    packages: tuple[str, ...] = ()
    """The distributions whose versions belong to the result."""

    def lines(self) -> list[tuple[str, str]]:
        """All rows, the bounds last."""
        return [*self.rows, *((bound.what, str(bound)) for bound in self.bounds)]


def by_turns(works: Mapping[str, Callable[[], object]], rounds: int) -> dict[str, list[float]]:
    """Seconds of each work in each round; all take their turn in every round, so that a slow spell hits them alike."""
    seconds: dict[str, list[float]] = {name: [] for name in works}
    for turn in range(rounds):
        names = list(works)
        # Nobody always goes first.
        for name in names[turn % len(names) :] + names[: turn % len(names)]:
            start = time.perf_counter()
            works[name]()
            seconds[name].append(time.perf_counter() - start)
    return seconds


def documents(count: int) -> list[Table]:
    """The first ``count`` fittings as JSON documents."""
    return list(fittings(count))


def typical_answer(fitted: Iterable[Fitting]) -> str:
    """The assessment, as JSON, of middle length among those of ``fitted``."""
    answers = sorted((assess(fitting).model_dump_json() for fitting in fitted), key=len)
    return answers[len(answers) // 2]


def environment() -> dict[str, str]:
    """The environment of a process that imports this checkout."""
    return os.environ | {"PYTHONPATH": str(ROOT), "NO_COLOR": "1"}


def resident_mb(process: int | str = "self") -> float:
    """Resident memory of a process, in MB (2^20 bytes)."""
    pages = int(Path(f"/proc/{process}/statm").read_text(encoding="ascii").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / _MB
