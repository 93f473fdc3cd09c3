"""Intraclass correlation: how much of the spread of numbers lies between the feet rather than between the raters.

The six forms of P. E. Shrout and J. L. Fleiss, Intraclass correlations: uses in assessing rater reliability,
Psychological Bulletin 86 (1979) 420-428, with their F tests and intervals; K. O. McGraw and S. P. Wong, Forming
inferences about some intraclass correlation coefficients, Psychological Methods 1 (1996) 30-46, give the same and the
names in brackets.

::

    ICC(1,1)  each foot read by raters of its own      (one-way)
    ICC(2,1)  the same raters, any of many; levels count      (two-way random, absolute agreement: A,1)
    ICC(3,1)  these raters and no others; levels do not count  (two-way mixed, consistency: C,1)
    ICC(.,k)  the same of the mean of all k raters
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from fitcheck.agreement.distributions import f_quantile, f_tail
from fitcheck.agreement.outcome import LEVEL, Interval, NotComputed

__all__ = ["FORMS", "Correlation", "FTest", "Form", "MeanSquares", "intraclass", "mean_squares"]

Form = Literal["ICC(1,1)", "ICC(2,1)", "ICC(3,1)", "ICC(1,k)", "ICC(2,k)", "ICC(3,k)"]
FORMS: Final[tuple[Form, ...]] = ("ICC(1,1)", "ICC(2,1)", "ICC(3,1)", "ICC(1,k)", "ICC(2,k)", "ICC(3,k)")

_FEWEST: Final = 2  # raters, and subjects
_ROUNDING: Final = 1e-12  # of the largest number: smaller differences come from the arithmetic
_TAIL: Final = (1 + LEVEL) / 2
_ALL_ALIKE: Final = "all_alike"


@dataclass(frozen=True, slots=True)
class FTest:
    """Whether the feet differ at all: the F ratio, its degrees of freedom, and the probability of more by chance."""

    ratio: float
    above: float
    below: float
    probability: float


@dataclass(frozen=True, slots=True)
class Correlation:
    """One form of the coefficient; it can be below 0, where raters of one foot differ more than feet do."""

    form: Form
    value: float
    test: FTest | NotComputed
    interval: Interval | NotComputed


@dataclass(frozen=True, slots=True)
class MeanSquares:
    """The analysis of variance of a full table; a mean square that is only rounding is 0."""

    subjects: int
    raters: int
    between: float
    """Between subjects: BMS of Shrout and Fleiss."""
    within: float
    """Within subjects: WMS."""
    of_raters: float
    """Between raters: JMS."""
    left_over: float
    """Subject by rater: EMS."""


def intraclass(table: Sequence[Sequence[float]]) -> dict[Form, Correlation | NotComputed] | NotComputed:
    """All six forms, of a row for each subject and a column for each rater.

    Raises ValueError when rows differ in length or a number is not finite: leave out what is not complete.

    >>> found = intraclass([[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]])
    >>> [f"{found[form].value:.2f}" for form in FORMS]
    ['0.17', '0.29', '0.71', '0.44', '0.62', '0.91']
    >>> intraclass([[3.0], [4.0]]).why
    'there is one rater only'
    """
    if not table:
        return NotComputed("no_common_reading")
    raters = len(table[0])
    if raters < _FEWEST:
        return NotComputed("one_rater" if raters else "no_rater")
    if len(table) < _FEWEST:
        return NotComputed("one_foot")
    squares = mean_squares(table)
    if squares.between == 0 and squares.within == 0:
        return NotComputed("no_spread")
    return {form: _single(form, squares) if form.endswith("1)") else _averaged(form, squares) for form in FORMS}


def mean_squares(table: Sequence[Sequence[float]]) -> MeanSquares:
    """The analysis of variance of a full table of at least two subjects and two raters.

    Raises ValueError when rows differ in length or a number is not finite.
    """
    subjects, raters = len(table), len(table[0])
    numbers = [number for row in table for number in row]
    if any(len(row) != raters for row in table) or not all(map(math.isfinite, numbers)):
        raise ValueError("the table is not full of finite numbers")
    mean = math.fsum(numbers) / len(numbers)
    of_subject = [math.fsum(row) / raters - mean for row in table]
    of_rater = [math.fsum(column) / subjects - mean for column in zip(*table, strict=True)]
    least = (_ROUNDING * max(map(abs, numbers))) ** 2

    def mean_square(total: float, freedom: int) -> float:
        return total / freedom if total / freedom > least else 0.0

    between = raters * math.fsum(one**2 for one in of_subject)
    judges = subjects * math.fsum(one**2 for one in of_rater)
    rest = math.fsum(
        (number - mean - one - other) ** 2
        for row, one in zip(table, of_subject, strict=True)
        for number, other in zip(row, of_rater, strict=True)
    )
    return MeanSquares(
        subjects=subjects,
        raters=raters,
        between=mean_square(between, subjects - 1),
        within=mean_square(judges + rest, subjects * (raters - 1)),
        of_raters=mean_square(judges, raters - 1),
        left_over=mean_square(rest, (subjects - 1) * (raters - 1)),
    )


def _single(form: Form, squares: MeanSquares) -> Correlation | NotComputed:
    n, k = squares.subjects, squares.raters
    error, freedom = _error(form, squares)
    extra = k * (squares.of_raters - error) / n if form == "ICC(2,1)" else 0.0
    whole = squares.between + (k - 1) * error + extra
    if whole <= 0:
        return NotComputed("no_means_differ")
    value = (squares.between - error) / whole
    interval = _levels_count(squares, value) if form == "ICC(2,1)" else _by_ratio(squares, error, freedom)
    if isinstance(interval, Interval) and form != "ICC(2,1)":
        interval = Interval(*((ratio - 1) / (ratio + k - 1) for ratio in (interval.low, interval.high)))
    return Correlation(form, value, _test(squares, error, freedom), interval)


def _averaged(form: Form, squares: MeanSquares) -> Correlation | NotComputed:
    n, k = squares.subjects, squares.raters
    error, freedom = _error(form, squares)
    extra = (squares.of_raters - error) / n if form == "ICC(2,k)" else 0.0
    if squares.between + extra <= 0:
        return NotComputed("feet_means_alike")
    value = (squares.between - error) / (squares.between + extra)
    interval: Interval | NotComputed
    if form == "ICC(2,k)":
        one = _single("ICC(2,1)", squares)
        interval = one if isinstance(one, NotComputed) else _stepped_up(one.interval, k)
    else:
        interval = _by_ratio(squares, error, freedom)
        if isinstance(interval, Interval):
            interval = Interval(1 - 1 / interval.low, 1 - 1 / interval.high)
    return Correlation(form, value, _test(squares, error, freedom), interval)


def _error(form: Form, squares: MeanSquares) -> tuple[float, int]:
    """The mean square that stands for error in a form, and its degrees of freedom."""
    n, k = squares.subjects, squares.raters
    if form.startswith("ICC(1"):
        return squares.within, n * (k - 1)
    return squares.left_over, (n - 1) * (k - 1)


def _test(squares: MeanSquares, error: float, freedom: int) -> FTest | NotComputed:
    if error == 0:
        return NotComputed(_ALL_ALIKE)
    ratio = squares.between / error
    return FTest(ratio, squares.subjects - 1, freedom, f_tail(squares.subjects - 1, freedom, ratio))


def _by_ratio(squares: MeanSquares, error: float, freedom: int) -> Interval | NotComputed:
    """The interval of the F ratio, FL to FU of Shrout and Fleiss."""
    if error == 0:
        return NotComputed(_ALL_ALIKE)
    above, ratio = squares.subjects - 1, squares.between / error
    return Interval(ratio / f_quantile(above, freedom, _TAIL), ratio * f_quantile(freedom, above, _TAIL))


def _levels_count(squares: MeanSquares, value: float) -> Interval | NotComputed:
    """The interval of ICC(2,1): degrees of freedom after Satterthwaite, as Shrout and Fleiss give them.

    Satterthwaite adds up what is not negative, so for the degrees of freedom a coefficient below 0 is taken as 0.
    """
    n, k = squares.subjects, squares.raters
    between, judges, rest = squares.between, squares.of_raters, squares.left_over
    if judges == 0 and rest == 0:
        return NotComputed(_ALL_ALIKE)
    if rest == 0 and between == 0:
        return NotComputed("feet_alike")
    least = max(value, 0.0)
    by_judges, by_rest = k * least * judges, (n * (1 + (k - 1) * least) - k * least) * rest
    freedom = (k - 1) * (n - 1) * (by_judges + by_rest) ** 2 / ((n - 1) * by_judges**2 + by_rest**2)
    spread = k * judges + (k * n - k - n) * rest
    down, up = f_quantile(n - 1, freedom, _TAIL), f_quantile(freedom, n - 1, _TAIL)
    low = n * (between - down * rest) / (down * spread + n * between)
    high = n * (up * between - rest) / (spread + n * up * between)
    return Interval(low, high)


def _stepped_up(interval: Interval | NotComputed, raters: int) -> Interval | NotComputed:
    """The interval of the mean of ``raters`` from that of one (Spearman and Brown)."""
    if isinstance(interval, NotComputed):
        return interval
    if 1 + (raters - 1) * interval.low <= 0:
        return NotComputed("no_end")
    return Interval(*(raters * end / (1 + (raters - 1) * end) for end in (interval.low, interval.high)))
