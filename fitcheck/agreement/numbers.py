"""Numbers that several raters read, or marks that they gave, of the same feet: a full table and its correlations."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from fitcheck.agreement.intraclass import Correlation, Form, intraclass
from fitcheck.agreement.judgement import Judgement, judgements_by
from fitcheck.agreement.outcome import NotComputed

__all__ = ["OnNumber", "numbers_compared"]


@dataclass(frozen=True, slots=True)
class OnNumber:
    """How raters agree on one number."""

    name: str
    """quantity@place of a reading; what a mark is given for."""
    raters: tuple[str, ...]
    subjects: int
    """Feet for which every rater has the number."""
    left_out: int
    """Feet for which some, but not every rater has it: the forms need a full table."""
    forms: Mapping[Form, Correlation | NotComputed] | NotComputed


def numbers_compared(
    judgements: Iterable[Judgement], raters: Sequence[str], kind: Literal["readings", "marks"] = "readings"
) -> tuple[OnNumber, ...]:
    """Every number that ``raters`` have, in the order in which they first occur.

    Raises BadInput when a rater judged a foot twice.
    """
    everything = list(judgements)
    by_rater = {rater: judgements_by(everything, rater) for rater in raters}
    rows = [
        [_numbers(of_rater[subject], kind) if subject in of_rater else {} for of_rater in by_rater.values()]
        for subject in dict.fromkeys(subject for of_rater in by_rater.values() for subject in of_rater)
    ]
    return tuple(
        _on(name, tuple(by_rater), rows) for name in dict.fromkeys(name for row in rows for of in row for name in of)
    )


def _on(name: str, raters: tuple[str, ...], rows: Sequence[Sequence[Mapping[str, float]]]) -> OnNumber:
    read = [[of_rater[name] for of_rater in row if name in of_rater] for row in rows]
    full = [row for row in read if len(row) == len(raters)]
    left_out = sum(0 < len(row) < len(raters) for row in read)
    return OnNumber(name, raters, len(full), left_out, intraclass(full))


def _numbers(judgement: Judgement, kind: Literal["readings", "marks"]) -> Mapping[str, float]:
    return judgement.readings if kind == "readings" else judgement.marks
