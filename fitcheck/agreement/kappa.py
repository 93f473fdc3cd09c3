"""Kappa: how far two raters agree beyond what their own shares of each grade would bring about by chance.

Kappa is one less observed disagreement over the disagreement to be expected by chance.  J. Cohen, A coefficient of
agreement for nominal scales, Educational and Psychological Measurement 20 (1960) 37-46; with weights, Weighted kappa,
Psychological Bulletin 70 (1968) 213-220.  Large-sample variance: J. L. Fleiss, J. Cohen and B. S. Everitt, Large
sample standard errors of kappa and weighted kappa, Psychological Bulletin 72 (1969) 323-327.

That variance makes a poor interval where feet are few or nearly all are good: it reaches above 1, and has no width
where nobody disagreed.  Three changes of our own, held by simulation (docs/agreement.md): the interval is taken on the
logarithm of the disagreement, with half a made-up foot spread evenly over every pair of grades, and with Student's t.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from fitcheck.agreement.distributions import t_quantile
from fitcheck.agreement.outcome import LEVEL, Interval, NotComputed

__all__ = ["WEIGHTS", "Kappa", "Weights", "disagreement", "kappa", "kappa_of_table", "standard_error", "table_of"]

Weights = Literal["none", "linear", "quadratic"]
WEIGHTS: Final[tuple[Weights, ...]] = ("none", "linear", "quadratic")
"""Every disagreement alike; by the steps between the two grades; by their square."""

Matrix = Sequence[Sequence[float]]

_MADE_UP: Final = 0.5  # of a foot, spread evenly
_LOWEST: Final = -1.0  # no table has a lower kappa with these weights
_FEWEST: Final = 2  # feet from which anything can vary


@dataclass(frozen=True, slots=True)
class Kappa:
    """Kappa with its interval; 1 is full agreement, 0 what chance alone would give."""

    weights: Weights
    value: float
    interval: Interval
    subjects: int


def kappa(first: Sequence[int], second: Sequence[int], categories: int, weights: Weights) -> Kappa | NotComputed:
    """Kappa of two raters' grades of the same subjects, each grade as its place 0, 1, ... on the scale.

    Raises ValueError when the two are not of one length, or a grade is not on the scale.

    >>> found = kappa([0, 0, 0, 1, 1, 2, 0, 0], [0, 0, 0, 1, 2, 2, 0, 1], 3, "linear")
    >>> f"{found.value:.2f}, {found.interval.low:.2f} to {found.interval.high:.2f}"
    '0.69, -0.30 to 0.91'
    >>> kappa([0, 0, 0], [0, 0, 0], 3, "linear").why
    'both gave one and the same grade to all, so that chance would agree as well'
    """
    table = table_of(first, second, categories)
    if len(first) < _FEWEST:
        return NotComputed("one_foot" if first else "no_common_foot")
    apart = disagreement(categories, weights)
    value = kappa_of_table(table, apart)
    if value is None:
        return NotComputed("one_grade")
    return Kappa(weights, value, _interval(table, apart, value), len(first))


def table_of(first: Sequence[int], second: Sequence[int], categories: int) -> list[list[int]]:
    """How often each pair of grades was given: a row for each grade of the first, a column for the second's.

    Raises ValueError when the two are not of one length, or a grade is not on the scale.
    """
    table = [[0] * categories for _ in range(categories)]
    for one, two in zip(first, second, strict=True):
        if not (0 <= one < categories and 0 <= two < categories):
            raise ValueError(f"grades {one} and {two} are not on a scale of {categories}")
        table[one][two] += 1
    return table


def disagreement(categories: int, weights: Weights) -> list[list[float]]:
    """How much each pair of grades disagrees, 0 on the diagonal.

    >>> disagreement(3, "quadratic")
    [[0.0, 1.0, 4.0], [1.0, 0.0, 1.0], [4.0, 1.0, 0.0]]
    """
    power = {"none": 0, "linear": 1, "quadratic": 2}[weights]
    scale = range(categories)
    return [[float(abs(one - two) ** power) if one != two else 0.0 for two in scale] for one in scale]


def kappa_of_table(table: Matrix, apart: Matrix) -> float | None:
    """Kappa of a square table of counts or proportions, by the disagreement ``apart`` of each pair of grades.

    None where chance would bring about no disagreement.
    """
    shares, by_first, by_second = _shares(table)
    by_chance = _total([[one * two for two in by_second] for one in by_first], apart)
    return 1 - _total(shares, apart) / by_chance if by_chance > 0 else None


def standard_error(table: Matrix, apart: Matrix, subjects: float) -> float:
    """The large-sample standard error of kappa (Fleiss, Cohen and Everitt 1969).

    Raises ValueError where kappa is not defined.
    """
    value = kappa_of_table(table, apart)
    if value is None:
        raise ValueError("kappa is not defined: chance would bring about no disagreement")
    shares, by_first, by_second = _shares(table)
    scale = range(len(shares))
    by_chance = _total([[one * two for two in by_second] for one in by_first], apart)
    of_first = [math.fsum(by_second[other] * apart[one][other] for other in scale) for one in scale]
    of_second = [math.fsum(by_first[other] * apart[other][two] for other in scale) for two in scale]
    pull = [[apart[one][two] - (1 - value) * (of_first[one] + of_second[two]) for two in scale] for one in scale]
    mean = _total(shares, pull)
    variance = _total(shares, [[(pull[one][two] - mean) ** 2 for two in scale] for one in scale])
    return math.sqrt(variance / subjects) / by_chance


def _interval(table: Matrix, apart: Matrix, value: float) -> Interval:
    """The interval of the module's docstring; it always holds ``value`` itself."""
    subjects = math.fsum(map(math.fsum, table))
    each = _MADE_UP / len(table) ** 2
    padded = [[count + each for count in row] for row in table]
    drawn_in = kappa_of_table(padded, apart) or 0.0
    left = 1 - drawn_in
    error = standard_error(padded, apart, subjects + _MADE_UP) / left
    reach = t_quantile(subjects - 1, (1 + LEVEL) / 2) * error
    most = 1 - _LOWEST
    high = 1 - left * math.exp(-reach)
    low = _LOWEST if reach > math.log(most / left) else 1 - left * math.exp(reach)
    return Interval(min(low, value), max(high, value))


def _shares(table: Matrix) -> tuple[list[list[float]], list[float], list[float]]:
    """The table as proportions, and the proportions of each grade by the first rater and by the second."""
    whole = math.fsum(map(math.fsum, table))
    shares = [[count / whole for count in row] for row in table]
    return shares, [math.fsum(row) for row in shares], [math.fsum(column) for column in zip(*shares, strict=True)]


def _total(shares: Matrix, apart: Matrix) -> float:
    return math.fsum(
        share * weight
        for shares_of, weights in zip(shares, apart, strict=True)
        for share, weight in zip(shares_of, weights, strict=True)
    )
