"""How the share of good criteria goes over time: a person's progress, as far as the numbers bear one out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal, NamedTuple

from fitcheck.agreement.judgement import Judgement
from fitcheck.agreement.proportion import Share, clustered_share

__all__ = ["By", "Dated", "Span", "progress"]

By = Literal["day", "month", "year"]
_LETTERS = {"day": 10, "month": 7, "year": 4}  # of an ISO 8601 day


class Dated(NamedTuple):
    """A judgement of a person's work and the day of that work."""

    day: date
    judgement: Judgement


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of time: 2026-03-04, 2026-03 or 2026."""

    name: str
    feet: int
    """Feet on which at least one of the criteria was assessed."""
    good: Share
    """Good criteria of those assessed; what was not assessed counts nowhere."""


def progress(dated: Iterable[Dated], *, by: By = "month", criteria: Sequence[str] | None = None) -> tuple[Span, ...]:
    """The share of good ones among ``criteria`` (all, unless given) in each stretch of time, the earliest first.

    The criteria of one foot go together, and the interval allows for that; the feet are taken to stand apart.  A
    stretch in which nothing was assessed is left out.
    """
    spans: dict[str, list[tuple[int, int]]] = {}
    for day, judgement in sorted(dated, key=lambda each: each.day):
        names = judgement.grades if criteria is None else criteria
        grades = [grade for name in names if (grade := judgement.grades.get(name)) is not None]
        if grades:
            spans.setdefault(day.isoformat()[: _LETTERS[by]], []).append((grades.count("good"), len(grades)))
    found = ((name, feet, clustered_share(feet)) for name, feet in spans.items())
    return tuple(Span(name, len(feet), good) for name, feet, good in found if isinstance(good, Share))
