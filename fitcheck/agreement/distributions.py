"""Quantiles and tails of the distributions in use, from scipy, which is imported when the first is asked for."""

from __future__ import annotations

from functools import cache
from types import ModuleType

__all__ = ["beta_quantile", "f_quantile", "f_tail", "t_quantile"]


def beta_quantile(part: float, rest: float, probability: float) -> float:
    """Where a beta distribution with those two shapes has ``probability`` below it."""
    return float(_special().betaincinv(part, rest, probability))


def f_quantile(above: float, below: float, probability: float) -> float:
    """Where an F distribution has ``probability`` below it; degrees of freedom need not be whole."""
    return float(_special().fdtri(above, below, probability))


def f_tail(above: float, below: float, ratio: float) -> float:
    """The probability that an F distribution gives more than ``ratio``."""
    return float(_special().fdtrc(above, below, ratio))


def t_quantile(freedom: float, probability: float) -> float:
    """Where Student's t has ``probability`` below it."""
    return float(_special().stdtrit(freedom, probability))


@cache
def _special() -> ModuleType:
    from scipy import special  # noqa: PLC0415  (heavy: only for intervals)

    return special
