"""What the analysis is told of the observations there are, and what it answers: faults, each with an example."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from rules.facts import Reading
from rules.model import Context
from rules.situation import Situation

__all__ = ["Example", "Fault", "Feed", "Feeds"]


@dataclass(frozen=True, slots=True)
class Feed:
    """How one quantity comes to be read at one place.

    ``given``: a client can state it; otherwise it is computed.  ``unit`` of a number, in which it is reckoned with;
    ``words`` that can be given otherwise.  ``where`` it can be given at all, anywhere when None.
    """

    given: bool
    unit: str | None = None
    words: tuple[str, ...] = ()
    where: tuple[Context, ...] | None = None


Feeds = Mapping[tuple[str, str], Feed]
"""What can be read: by quantity and place, ``nail`` standing for every nail."""


@dataclass(frozen=True, slots=True)
class Example:
    """A foot that shows a fault: what holds for it, and what was read, every number without uncertainty."""

    situation: Situation
    readings: tuple[Reading, ...]


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
