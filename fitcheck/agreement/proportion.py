"""A share with an interval that is honest for small numbers.

Simple shares: the exact interval of C. J. Clopper and E. S. Pearson, The use of confidence or fiducial limits
illustrated in the case of the binomial, Biometrika 26 (1934) 404-413.  It holds the true share at least as often as
it says, for any number however small.

Shares of things that go together, such as the criteria of one foot: the same interval for as many things as would
tell as much if they did not go together, after E. L. Korn and B. I. Graubard, Confidence intervals for proportions
with small expected number of positive counts estimated from survey data, Survey Methodology 24 (1998) 193-201.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fitcheck.agreement.distributions import beta_quantile, t_quantile
from fitcheck.agreement.outcome import LEVEL, Interval, NotComputed

__all__ = ["Share", "clustered_share", "share"]


@dataclass(frozen=True, slots=True)
class Share:
    """``part`` of ``whole``, as a proportion with its interval."""

    part: int
    whole: int
    interval: Interval
    counted_as: float
    """How many things apart would tell as much; ``whole`` where they stand apart."""

    @property
    def value(self) -> float:
        """The proportion, 0 to 1."""
        return self.part / self.whole


def share(part: int, whole: int) -> Share | NotComputed:
    """``part`` of ``whole`` things that stand apart, with the exact interval.

    Raises ValueError unless 0 <= part <= whole.

    >>> found = share(14, 20)
    >>> f"{found.value:.2f}, {found.interval.low:.2f} to {found.interval.high:.2f}"
    '0.70, 0.46 to 0.88'
    """
    if not 0 <= part <= whole:
        raise ValueError(f"{part} of {whole} is no share")
    if whole == 0:
        return NotComputed("nothing")
    return Share(part, whole, _exact(part, whole), whole)


def clustered_share(clusters: Sequence[tuple[int, int]]) -> Share | NotComputed:
    """The share over clusters, each a pair (part, whole); clusters of nothing are left out.

    Things of one cluster never count as more than if they stood apart.  Where the clusters show no spread (all good,
    none good, or one cluster only) each cluster counts as one thing.

    Raises ValueError unless 0 <= part <= whole in each.
    """
    if any(not 0 <= part <= whole for part, whole in clusters):
        raise ValueError("a cluster has more parts than things, or less than none")
    nonempty = [(part, whole) for part, whole in clusters if whole]
    if not nonempty:
        return NotComputed("nothing")
    part, whole = sum(good for good, _ in nonempty), sum(all_of for _, all_of in nonempty)
    counted_as = _effective(nonempty, part / whole, whole)
    return Share(part, whole, _exact(counted_as * part / whole, counted_as), counted_as)


def _effective(clusters: Sequence[tuple[int, int]], value: float, whole: int) -> float:
    """How many things apart tell as much: p (1 - p) over the variance of a ratio of cluster totals."""
    number = len(clusters)
    if number == 1 or value in (0.0, 1.0):
        return float(number)
    spread = math.fsum((good - value * all_of) ** 2 for good, all_of in clusters)
    variance = number / (number - 1) * spread / whole**2
    if variance == 0.0:
        return float(number)
    tail = (1 + LEVEL) / 2
    few = (t_quantile(whole - 1, tail) / t_quantile(number - 1, tail)) ** 2 if whole > 1 else 1.0
    return min(float(whole), few * value * (1 - value) / variance)


def _exact(part: float, whole: float) -> Interval:
    tail = (1 - LEVEL) / 2
    low = 0.0 if part <= 0 else beta_quantile(part, whole - part + 1, tail)
    high = 1.0 if part >= whole else beta_quantile(part + 1, whole - part, 1 - tail)
    return Interval(low, high)
