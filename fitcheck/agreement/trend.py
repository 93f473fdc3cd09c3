"""How the share of good criteria goes over time: a person's progress, as far as the numbers bear one out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal, NamedTuple

from fitcheck.agreement.judgement import Judgement
from fitcheck.agreement.outcome import Interval
from fitcheck.agreement.proportion import Share, clustered_share

__all__ = ["By", "Dated", "Span", "progress", "progress_sentences"]

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


def progress_sentences(spans: Sequence[Span]) -> tuple[str, ...]:
    """What a report says of ``spans``, and whether the last differs from the first by more than chance may do."""
    if not spans:
        return ("Nothing was assessed.",)
    sentences = [
        f"{span.name}: {span.good.part} of {span.good.whole} criteria good on {_feet(span.feet)} "
        f"({100 * span.good.value:.0f} %, {_percents(span.good.interval)})."
        for span in spans
    ]
    first, last = spans[0].good, spans[-1].good
    if len(spans) == 1:
        sentences.append("One stretch of time shows no progress yet.")
    elif first.interval.overlaps(last.interval):
        sentences.append("The intervals of the first and the last overlap: a change is not shown yet.")
    else:
        sentences.append(
            f"The last lies {'above' if last.value > first.value else 'below'} the first by more than chance."
        )
    return tuple(sentences)


def _feet(count: int) -> str:
    return "1 foot" if count == 1 else f"{count} feet"


def _percents(interval: Interval) -> str:
    return f"95 % interval {100 * interval.low:.0f} % to {100 * interval.high:.0f} %"
