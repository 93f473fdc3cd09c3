"""What a limit is as a number, and the ways in which limits look at a reading: whole, scaled, moved to its bound."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

from rules.errors import EngineFault
from rules.model import Fires, Limit, Scaled

__all__ = [
    "KNOWN_PREFIX",
    "MICRO",
    "MOST_EXACT",
    "Term",
    "bar_field",
    "guard_factor",
    "known_field",
    "millionths",
    "resolve",
    "term_of",
]

MICRO: Final = 1_000_000
MOST_EXACT: Final = 2**53
"""Whole numbers up to this one are exact as floating-point numbers too."""

KNOWN_PREFIX: Final = "known_"


@dataclass(frozen=True, slots=True)
class Term:
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
