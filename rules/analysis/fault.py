"""What the analysis answers: faults, each with an example."""

from __future__ import annotations

from dataclasses import dataclass

from rules.engine.reading import Reading
from rules.situation import Situation

__all__ = ["Example", "Fault"]


@dataclass(frozen=True, slots=True)
class Example:
    """A foot that shows a fault: what holds for it, and what was read.

    ``exact``: every number is without uncertainty; otherwise each has what it has where none is stated.
    """

    situation: Situation
    readings: tuple[Reading, ...]
    exact: bool = True


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault of a rulebook.

    ``file`` and ``key`` say where, ``kind`` is one of a few names for programs, ``remedy`` what to write instead.
    ``example`` is None where nothing that can be read would show it, such as for a source that nobody cites.
    """

    file: str
    key: str
    kind: str
    message: str
    remedy: str
    example: Example | None = None

    def __str__(self) -> str:
        return f"{self.file}: {self.key}: {self.message}. {self.remedy}"
