"""Agreement in plain sentences for a report: counts first, then the coefficient, its interval, and what limits it.

No coefficient is called good or poor: such scales are custom, and an interval says more.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from fitcheck.agreement.comparison import Comparison, OnCriterion, most_disagreed
from fitcheck.agreement.intraclass import Form
from fitcheck.agreement.judgement import GRADES
from fitcheck.agreement.kappa import Weights
from fitcheck.agreement.numbers import OnNumber
from fitcheck.agreement.outcome import Interval, NotComputed
from fitcheck.agreement.proportion import Share

__all__ = ["ENOUGH", "comparison_sentences", "criterion_sentences", "number_sentence", "ranking_sentence"]

ENOUGH: Final = 2 * len(GRADES) ** 2
"""Fewer feet are little to go on: twice the square of the number of grades, D. V. Cicchetti, Testing the normal
approximation and minimal sample size requirements of weighted kappa when the number of categories is large, Applied
Psychological Measurement 5 (1981) 101-104 (from memory)."""

_NAMES: Final[Mapping[Weights, str]] = {
    "none": "kappa",
    "linear": "weighted kappa",
    "quadratic": "kappa with squared weights",
}
Titles = Mapping[str, str]
"""What criteria are called in a sentence; without a title, their own name without underscores."""


def comparison_sentences(found: Comparison, titles: Titles | None = None) -> Iterator[str]:
    """Everything of note in a comparison: feet, all grades, each foot's worst grade, criteria, ranking."""
    yield f"{found.first} and {found.second} both judged {_feet(found.subjects)}."
    for rater, count in ((found.first, found.only_first), (found.second, found.only_second)):
        if count:
            yield f"{_feet(count, capital=True)} that only {rater} judged {_are(count)} left out."
    if isinstance(found.grades, Share):
        yield (
            f"Of {found.grades.whole} grades that both gave, {found.grades.part} are equal "
            f"({_percent(found.grades.value)}, {_percents(found.grades.interval)}; "
            "the grades of one foot go together, and the interval allows for that)."
        )
        yield from _sentences(found, found.worst, "On the worst grade of a foot")
    for each in found.criteria:
        yield from criterion_sentences(found, each, titles)
    yield from ranking_sentence(found, titles)


def criterion_sentences(
    found: Comparison, on: OnCriterion, titles: Titles | None = None, weights: Weights = "linear"
) -> Iterator[str]:
    """What a report says of one criterion: agreement, kappa, who is the graver, and what is missing."""
    yield from _sentences(found, on, f"On {_title(on.criterion, titles)}", weights)


def ranking_sentence(found: Comparison, titles: Titles | None = None) -> Iterator[str]:
    """On what the two differ most, and whether that is settled; nothing where they never differ."""
    ranked = [(each, each.different) for each in most_disagreed(found)]
    nonzero = [(each, part) for each, part in ranked if isinstance(part, Share) and part.part]
    if not nonzero:
        return
    parts = [
        f"{_title(each.criterion, titles)} ({part.part} of {part.whole}, {_percents(part.interval)})"
        for each, part in nonzero
    ]
    yield f"They differ most on {_listed(parts)}."
    if len(nonzero) > 1 and nonzero[0][1].interval.overlaps(nonzero[1][1].interval):
        yield "The intervals of the first two overlap: which of them is the more in dispute is not settled."


def number_sentence(on: OnNumber, title: str | None = None, form: Form = "ICC(2,1)") -> str:
    """What a report says of one number."""
    start = f"Of {title or _plain_name(on.name)}, read by {_listed(on.raters)} on {_feet(on.subjects)}"
    left = f"; {_feet(on.left_out)} that not all of them read {_are(on.left_out)} left out" if on.left_out else ""
    found = on.forms if isinstance(on.forms, NotComputed) else on.forms[form]
    if isinstance(found, NotComputed):
        return f"{start}: no intraclass correlation, because {found.why}{left}."
    if isinstance(found.interval, NotComputed):
        return f"{start}: {form} {_two(found.value)}, without an interval, because {found.interval.why}{left}."
    return f"{start}: {form} {_two(found.value)}, {_spread(found.interval)}{left}."


def _sentences(found: Comparison, on: OnCriterion, start: str, weights: Weights = "linear") -> Iterator[str]:
    lacking = _lacking(found, on)
    if isinstance(on.same, NotComputed):
        yield f"{start} nothing can be said, because {on.same.why}{lacking}."
        return
    few = f"; with {_feet(on.judged)} that is little to go on" if on.judged < ENOUGH else ""
    kappa = on.kappas[weights]
    parts = (
        f"no {_NAMES[weights]}, because {kappa.why}"
        if isinstance(kappa, NotComputed)
        else f"{_NAMES[weights]} {_two(kappa.value)}, {_spread(kappa.interval)}"
    )
    yield (
        f"{start} the two agree in {on.same.part} of {_feet(on.same.whole)} "
        f"({_percents(on.same.interval)}); {parts}{few}{lacking}."
    )
    differing = on.first_graver + on.second_graver
    if differing == 1:
        yield f"On the one foot on which they differ, {found.first if on.first_graver else found.second} is the graver."
    elif differing:
        yield (
            f"Of the {differing} on which they differ, {found.first} is the graver in {on.first_graver}, "
            f"{found.second} in {on.second_graver}."
        )


def _lacking(found: Comparison, on: OnCriterion) -> str:
    parts = [
        f"only {rater} judged it on {_feet(count)}"
        for rater, count in ((found.first, on.only_first), (found.second, on.only_second))
        if count
    ]
    return "".join(f"; {part}" for part in parts)


def _title(criterion: str, titles: Titles | None) -> str:
    return (titles or {}).get(criterion, criterion.replace("_", " "))


def _plain_name(name: str) -> str:
    quantity, _, place = name.partition("@")
    return " at ".join(part.replace("_", " ") for part in (quantity, place) if part)


def _feet(count: int, *, capital: bool = False) -> str:
    words = {0: "no feet", 1: "1 foot"}.get(count, f"{count} feet")
    return words[0].upper() + words[1:] if capital else words


def _are(count: int) -> str:
    return "is" if count == 1 else "are"


def _listed(parts: Sequence[str]) -> str:
    *before, last = parts
    return f"{', '.join(before)} and {last}" if before else last


def _two(value: float) -> str:
    return f"{round(value, 2) + 0.0:.2f}"


def _spread(interval: Interval) -> str:
    return f"95 % interval {_two(interval.low)} to {_two(interval.high)}"


def _percent(value: float) -> str:
    return f"{100 * value:.0f} %"


def _percents(interval: Interval) -> str:
    return f"95 % interval {_percent(interval.low)} to {_percent(interval.high)}"
