"""The marking scheme as frozen records: how many marks, what takes them off, and what the bands are called.

Marks and shares are whole numbers, so that a sheet is computed exactly, in hundredths of a mark.  That a critical
finding stops the mark is no figure: it is so in every book.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Annotated, Literal

from pydantic import Field

from rules.model.figures import Record, Text
from rules.model.records import Standing

__all__ = ["Band", "Chosen", "CriterionMarks", "Deduction", "Marking", "ProgressFigure", "Scheme", "TakesOff"]

TakesOff = Literal["minor", "major"]
"""The grades that take marks off; a critical finding leaves no mark at all."""

_MOST_MARKS = 10_000
Marks = Annotated[int, Field(ge=0, le=_MOST_MARKS)]


class Chosen(Record):
    """A figure of a scheme: nobody publishes one that is ours to use, so it is common practice or a choice."""

    status: Literal["common practice", "own choice"]
    """common practice, or own choice."""
    sources: tuple[str, ...] = Field(min_length=1)
    """trade or own, and any other names of sources."""
    basis: Text
    """One sentence that says why the figure is as it is."""


class Scheme(Chosen):
    """The whole: the marks of the criteria of one foot add up to ``total``."""

    total: Annotated[int, Field(ge=1, le=_MOST_MARKS)]
    """The marks of all criteria of a foot together."""
    title: Text
    """What the scheme is called."""
    how: Text
    """How it works, in a few sentences."""


class CriterionMarks(Chosen):
    """The marks of one criterion; 0 where it is looked at but not marked."""

    marks: Marks
    """A whole number, 0 or more."""


class Deduction(Chosen):
    """What one finding of a grade takes off, in percent of its criterion's marks."""

    percent: int = Field(ge=1, le=100)
    """A whole number from 1 to 100."""


class Band(Chosen):
    """What a mark is called: ``from_`` percent of the marks on, and with no finding graver than ``worst``."""

    title: Text
    """What the mark is called."""
    from_: Annotated[int, Field(alias="from", ge=0, le=100)]
    """The least percent of the marks."""
    worst: TakesOff
    """The gravest finding with which it may still be reached: minor or major."""
    meaning: Text
    """What it says, in one sentence."""


class ProgressFigure(Chosen):
    """A figure that a person's progress is computed from."""

    title: Text
    """What the figure is."""
    value: int = Field(ge=1)
    """A whole number, 1 or more."""


@dataclass(frozen=True)
class Marking:
    """The scheme of one rulebook: ``marks`` by criterion, ``deductions`` by grade, ``bands`` and texts by name."""

    scheme: Scheme
    marks: Mapping[str, CriterionMarks]
    deductions: Mapping[str, Deduction]
    bands: Mapping[str, Band]
    progress: Mapping[str, ProgressFigure]
    says: Mapping[str, Standing]

    @cached_property
    def best_first(self) -> tuple[tuple[str, Band], ...]:
        """The bands by name, the highest first."""
        return tuple(sorted(self.bands.items(), key=lambda item: -item[1].from_))

    @property
    def chosen(self) -> tuple[Chosen, ...]:
        """Every record that names sources."""
        tables: tuple[Mapping[str, Chosen], ...] = (self.marks, self.deductions, self.bands, self.progress)
        return (self.scheme, *(record for table in tables for record in table.values()))
