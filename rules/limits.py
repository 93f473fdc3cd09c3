"""What a limit is as a number, and the ways in which limits look at a reading: whole, scaled, moved to its bound."""

from __future__ import annotations

import math
from collections.abc import Mapping
from statistics import NormalDist
from typing import Final, NamedTuple

from rules.errors import EngineFault
from rules.model.records import Fires, Limit, Rule, Scaled

__all__ = [
    "EVEN_CHANCE",
    "KNOWN_PREFIX",
    "MICRO",
    "MOST_EXACT",
    "Outside",
    "Term",
    "bar_field",
    "guard_factor",
    "known_field",
    "millionths",
    "outside_of",
    "resolve",
    "term_of",
]

MICRO: Final = 1_000_000
MOST_EXACT: Final = 2**53
"""Whole numbers up to this one are exact as floating-point numbers too."""

EVEN_CHANCE: Final = MICRO // 2
"""In millionths: past a limit when the chance of it is greater."""
_ON_THE_LIMIT: Final = 1e-9
"""A reading that lies no further from a limit is on it."""

KNOWN_PREFIX: Final = "known_"


class Term(NamedTuple):
    """One way in which rules look at a number: the value itself or less a multiple of a dimension, plain or bounded.

    ``bound`` is "" for the value itself, "low" or "high" for the end of its interval at the guarded level.
    """

    quantity: str
    times: float
    of: str | None
    bound: str

    @property
    def field(self) -> str:
        """The name of the fact's field, such as ``length_less_2_shoe_thickness``."""
        # In full, so that two multiples never share a field; a dot would mean a field within a field.
        times = repr(self.times).removesuffix(".0").replace(".", "p")
        scaled = f"_less_{times}_{self.of}" if self.of else ""
        return f"{self.quantity}{scaled}{'_' + self.bound if self.bound else ''}"


class Outside(NamedTuple):
    """How likely it is that a number lies past either end of one rule's range, for a book that judges by chance.

    Beside the terms of both ends, which tell that the number itself lies past one.
    """

    field: str
    """The name of the fact's field, in millionths, such as ``branch_difference_outside_branches_uneven``."""
    low: Limit
    high: Limit

    def chance(self, value: float, u: float, sizes: Mapping[str, tuple[float, float]]) -> int | None:
        """The chance in millionths for a number with its standard ``u``; 0 on either end.

        ``sizes``: each dimension and its standard uncertainty.  None when one that an end follows is not known.
        """
        chance = 0.0
        for limit, sign in ((self.low, -1), (self.high, 1)):
            if not isinstance(limit, Scaled):
                edge, spread = limit, u
            elif limit.of in sizes:
                size, its_u = sizes[limit.of]
                edge, spread = limit.times * size + limit.plus, math.hypot(u, limit.times * its_u)
            else:
                return None
            inside = sign * (edge - value)
            if abs(inside) <= _ON_THE_LIMIT:
                return 0
            chance += math.erfc(inside / (spread * math.sqrt(2))) / 2 if spread > 0 else float(inside < 0)
        return round(min(1.0, chance) * MICRO)


def outside_of(rule_id: str, rule: Rule) -> Outside | None:
    """What a book that judges by chance looks at besides of a rule with two ends; None for any other rule."""
    if rule.low is None or rule.high is None or rule.fires != "simple":
        return None
    return Outside(f"{rule.quantity}_outside_{rule_id.replace('-', '_')}", rule.low, rule.high)


def known_field(dimension: str) -> str:
    """The field that says whether a dimension that limits follow is known: yes or no."""
    return f"{KNOWN_PREFIX}{dimension}"


def bar_field(quantity: str, words: tuple[str, ...]) -> str:
    """The field that says whether ``without`` keeps rules silent: yes or no."""
    return "_".join(("barred_by", quantity, *words))


def term_of(quantity: str, limit: Limit, fires: Fires, end: str) -> tuple[Term, float]:
    """The term that ``limit`` is compared with, and the plain number that is left of the limit.

    ``end`` is "low" for a rule that fires below its limit, "high" for one that fires above.
    """
    bound = end if fires == "guarded" else ""
    if isinstance(limit, Scaled):
        return Term(quantity, limit.times, limit.of, bound), limit.plus
    return Term(quantity, 0.0, None, bound), limit


def guard_factor(probability: float) -> float:
    """How many standard uncertainties before a limit a guarded rule fires, for a least ``probability`` beyond it.

    The one-sided normal quantile of JCGM 106:2012.

    >>> round(guard_factor(0.05), 4)
    1.6449
    """
    return NormalDist().inv_cdf(1 - probability)


def millionths(value: float) -> int:
    """``value`` as a whole number of millionths, the only form in which numbers enter the engine.

    Raises EngineFault for NaN, infinity and numbers too large to be exact.
    """
    if not math.isfinite(value):
        raise EngineFault("a number that is not finite was about to enter the rules engine")
    scaled = value * MICRO
    if abs(scaled) > MOST_EXACT:
        raise EngineFault("a number too large to be exact was about to enter the rules engine")
    return round(scaled)


def resolve(limit: Limit | None, dimensions: Mapping[str, float]) -> float | None:
    """``limit`` as a number, in its unit; None where there is none or the dimension that it follows is not known.

    >>> resolve(Scaled(times=2.0, of="shoe_thickness"), {"shoe_thickness": 11.0})
    22.0
    """
    if limit is None or not isinstance(limit, Scaled):
        return limit
    if limit.of not in dimensions:
        return None
    return limit.times * dimensions[limit.of] + limit.plus
