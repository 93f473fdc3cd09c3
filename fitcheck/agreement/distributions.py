"""Quantiles and tails of the distributions in use, from scipy, which is imported when the first is asked for."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rules.lazy import lazily

if TYPE_CHECKING:
    from scipy.special import betaincinv, fdtrc, fdtri, stdtrit
else:
    betaincinv = lazily("scipy.special", "betaincinv")
    fdtri = lazily("scipy.special", "fdtri")
    fdtrc = lazily("scipy.special", "fdtrc")
    stdtrit = lazily("scipy.special", "stdtrit")

__all__ = ["beta_quantile", "f_quantile", "f_tail", "t_quantile"]


def beta_quantile(part: float, rest: float, probability: float) -> float:
    """Where a beta distribution with those two shapes has ``probability`` below it."""
    return float(betaincinv(part, rest, probability))


def f_quantile(above: float, below: float, probability: float) -> float:
    """Where an F distribution has ``probability`` below it; degrees of freedom need not be whole."""
    return float(fdtri(above, below, probability))


def f_tail(above: float, below: float, ratio: float) -> float:
    """The probability that an F distribution gives more than ``ratio``."""
    return float(fdtrc(above, below, ratio))


def t_quantile(freedom: float, probability: float) -> float:
    """Where Student's t has ``probability`` below it."""
    return float(stdtrit(freedom, probability))
