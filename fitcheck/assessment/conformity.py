"""How sure a finding is: the probability that the true value lies beyond its limit, by JCGM 106:2012.

The reading's distribution is taken as normal about the value with its standard uncertainty.
"""

from __future__ import annotations

import math

from rules.model.records import Quantity

__all__ = ["has_a_chance", "probability_above", "probability_beyond"]


def has_a_chance(quantity: Quantity) -> bool:
    """Whether it is known how sure its readings are: not of a range of worst cases, nor of a judgement by eye."""
    return not (quantity.worst_case or quantity.by_eye or quantity.eye_of is not None)


def probability_above(limit: float, value: float, u: float) -> float:
    """The probability that the true value lies above ``limit``; ``value`` and its standard ``u`` in the limit's unit.

    Without uncertainty it is 1 or 0, and 0.5 on the limit itself.

    >>> round(1 - probability_above(1.4, 0.0, 1.0), 6)  # 1.4 u inside a one-sided limit
    0.919243
    """
    if u <= 0:
        return 0.5 if value == limit else float(value > limit)
    return 0.5 * math.erfc((limit - value) / (u * math.sqrt(2.0)))


def probability_beyond(value: float, u: float, low: float | None, high: float | None) -> float:
    """The probability that the true value lies below ``low`` or above ``high``; None means no limit at that end."""
    below = 0.0 if low is None else 1.0 - probability_above(low, value, u)
    above = 0.0 if high is None else probability_above(high, value, u)
    return min(1.0, below + above)
