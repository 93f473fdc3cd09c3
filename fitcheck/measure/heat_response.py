"""How the inner side of the horn answers to one hot shoe: conduction in one dimension, solved by its Laplace transform.

Iron or air lies against the horn through one surface conductance ``h``; behind the horn (thickness ``L``, conductivity
``k``, diffusivity ``a``) lies tissue without end, perfused or not.  Everything starts at one temperature, that of air
and blood, and all temperatures are rises over it.  The transform of the inner rise over that of what lies outside is::

    H(s) = 2 h q e^(-qL/k) / ((h + q)(q + Y) + (h - q)(q - Y) e^(-2qL/k))
    q = k sqrt(s/a),    Y = sqrt(kt ct (s + w))

with conductivity ``kt``, heat capacity ``ct`` and perfusion ``w`` of the tissue (Pennes 1948); see docs/heat.md.  The
surface conductance is the same under iron and under air, so the system does not change in time: the answer to a
sequence of holds is the sum of the answers to each at its own time, exactly.
"""

from __future__ import annotations

import cmath
import math
from bisect import bisect_right
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

__all__ = ["Properties", "Response", "response"]

_NODES = 12
"""Nodes of the quadrature, half of them above the real axis; its error falls as e^(-1.36 nodes): under 1e-6."""

_FIRST = 0.015
"""The first moment that is solved, in diffusion times L^2/a: nothing has come through before."""

_LAST = 6000.0
"""How long is solved at least, in s: what a hold does to the inside later is left out, as nothing of it is left."""

_TIMES = 2.0
"""How long is solved at least, in diffusion times: thick horn peaks at a third of one."""

_GROWTH = 0.3
"""The step to the next moment that is solved as a share of the time since the touch, while the heat comes through."""

_EVEN = 0.5
"""The longest step, as a share of the iron's own time."""

_CLOSE = 1e-4
"""How closely a moment is found, in s."""

_STEEPEST = 3
"""A cubic whose slopes at both ends are at most this many times its mean slope never falls (Fritsch, Carlson 1980)."""


class Properties(NamedTuple):
    """What heat passes through, in SI units: W/(m K), m2/s, W/(m2 K), J/(m3 K), 1/s, s."""

    horn_conductivity: float
    diffusivity: float
    conductance: float
    tissue_conductivity: float
    tissue_heat_capacity: float
    perfusion: float
    iron_time: float
    """In which the iron's rise falls to 1/e; infinite where it does not cool."""


class Response:
    """The inner rise for each kelvin by which the iron is hotter at first, at any time after it touched.

    ``stored(t)`` is the rise under iron that stays on, times e^(t / iron_time).  It never falls, and the rise from a
    hold of ``seconds`` is e^(-t / iron_time) (stored(t) - stored(t - seconds)).  Times are in s after the touch.
    """

    def __init__(self, properties: Properties, horn: float) -> None:
        """Solve for ``horn`` (m) of horn."""
        self.diffusion_time = horn * horn / properties.diffusivity
        self.iron_time = properties.iron_time
        moments, values, slopes = [0.0], [0.0], [0.0]
        moment, last = _FIRST * self.diffusion_time, max(_LAST, _TIMES * self.diffusion_time)
        while moment < last:
            value, slope = _solved(properties, horn, moment)
            grown = math.exp(moment / self.iron_time)
            moments.append(moment)
            values.append(max(values[-1], grown * value))
            slopes.append(max(0.0, grown * slope))
            moment += min(_GROWTH * moment, _EVEN * self.iron_time)
        self._moments, self._values = moments, values
        means = [
            (after - before) / (end - start)
            for (before, after), (start, end) in zip(pairwise(values), pairwise(moments), strict=True)
        ]
        steepest = [_STEEPEST * min(pair) for pair in zip(means, [*means[1:], means[-1]], strict=True)]
        self._slopes = [0.0, *(min(pair) for pair in zip(slopes[1:], steepest, strict=True))]

    def stored(self, moment: float) -> float:
        """The rise at ``moment`` times e^(moment / iron_time); never falls."""
        if moment <= 0:
            return 0.0
        number = bisect_right(self._moments, moment)
        if number == len(self._moments):
            return self._values[-1]
        return self._between(number, moment)

    def _between(self, number: int, moment: float) -> float:
        """Cubic between the solved moments before and at ``number``, with their slopes."""
        start = self._moments[number - 1]
        width = self._moments[number] - start
        low, high = self._values[number - 1], self._values[number]
        share = (moment - start) / width
        rest = 1 - share
        bend = rest * self._slopes[number - 1] - share * self._slopes[number]
        return low + share * share * (3 - 2 * share) * (high - low) + share * rest * width * bend

    def reached(self, value: float) -> float:
        """The moment at which ``stored`` comes to ``value`` (above 0); infinite when it never does."""
        number = bisect_right(self._values, value)
        if number == len(self._values):
            return math.inf
        early, late = self._moments[number - 1], self._moments[number]
        while late - early > _CLOSE:
            middle = (early + late) / 2
            if self._between(number, middle) < value:
                early = middle
            else:
                late = middle
        return late


@lru_cache(maxsize=256)
def response(properties: Properties, horn: float) -> Response:
    """The response behind ``horn`` (m) of horn: solved when it is first wanted, and kept."""
    return Response(properties, horn)


def _quadrature() -> tuple[tuple[complex, complex], ...]:
    """Nodes p and weights w: f(t) is the sum of the real parts of w F(p/t), over t.

    The contour of Trefethen, Weideman and Schmelzer, Talbot quadratures and rational approximations, BIT 46 (2006).
    """
    pairs = []
    for number in range(_NODES // 2):
        angle = math.pi * (2 * number + 1) / _NODES
        turned = 0.6407 * angle
        node = _NODES * (0.5017 * angle / math.tan(turned) - 0.6122 + 0.2645j * angle)
        slope = 0.5017 * (1 / math.tan(turned) - turned / math.sin(turned) ** 2) + 0.2645j
        pairs.append((node, -2j * cmath.exp(node) * slope))
    return tuple(pairs)


_QUADRATURE = _quadrature()


def _solved(properties: Properties, horn: float, moment: float) -> tuple[float, float]:
    """The inner rise at ``moment`` (s) under iron that stays on, and its growth (1/s) beside what the iron cools."""
    conductivity, diffusivity, h, tissue_conductivity, tissue_heat_capacity, perfusion, iron_time = properties
    per_root = conductivity / math.sqrt(diffusivity)
    reach, admittance, cooling = horn / conductivity, tissue_conductivity * tissue_heat_capacity, 1 / iron_time
    risen = impulse = 0.0
    for node, weight in _QUADRATURE:
        s = node / moment
        q = per_root * cmath.sqrt(s)
        tissue = cmath.sqrt(admittance * (s + perfusion))
        damped = cmath.exp(-q * reach)
        through = 2 * weight * h * q * damped / ((h + q) * (q + tissue) + (h - q) * (q - tissue) * damped * damped)
        impulse += through.real
        risen += (through / (s + cooling)).real
    return risen / moment, impulse / moment
