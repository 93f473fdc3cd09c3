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
from typing import Final, NamedTuple

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

_SOONEST: Final = 0.05
"""How soon after iron comes or goes a peak is looked for, in diffusion times of the horn."""

_LATEST: Final = 5.0
"""How late after iron comes or goes a peak is looked for, in diffusion times of the horn."""

_WIDER: Final = 1.6
"""Each moment that is looked at, after iron came or went, over the one before it."""

_LONGEST: Final = 600.0
"""No hold is longer, in s."""

_EXACT: Final = 1e-7
"""Newton's last step towards a moment, as a share of the stretch it lies in; what is then left is its square."""

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
        means = [
            (after - before) / (end - start)
            for (before, after), (start, end) in zip(pairwise(values), pairwise(moments), strict=True)
        ]
        steepest = [_STEEPEST * min(pair) for pair in zip(means, [*means[1:], means[-1]], strict=True)]
        slopes = [0.0, *(min(pair) for pair in zip(slopes[1:], steepest, strict=True))]
        self._moments, self._values = moments, values
        # The piece that ends at a moment has its number: none at the first.
        self._pieces = [_NO_PIECE] + [
            _piece(moments[number : number + 2], values[number : number + 2], slopes[number : number + 2])
            for number in range(len(moments) - 1)
        ]
        self.steepest_at = moments[max(range(len(slopes)), key=slopes.__getitem__)]
        """When the rise under iron grows fastest: about then comes the peak that a short touch leaves (s)."""
        self.after_a_turn = _scaled(self.diffusion_time, 0.0)
        """How long after iron came or went a peak is looked for (s)."""
        # With all that is the same for every fitting, as the time left is looked for at each of them.
        self.after_a_hold = [
            (after, self.stored(after), math.exp(after / self.iron_time))
            for after in (0.0, *_scaled(self.diffusion_time, _LONGEST))
        ]
        """How long after a further hold began a peak is looked for (s), ``stored`` then, and e^(s / iron_time)."""

    def stored(self, moment: float) -> float:
        """The rise at ``moment`` times e^(moment / iron_time); never falls."""
        if moment <= 0:
            return 0.0
        number = bisect_right(self._moments, moment)
        if number == len(self._moments):
            return self._values[-1]
        start, width, low, climb, first, last, _ = self._pieces[number]
        share = (moment - start) / width
        rest = 1 - share
        return low + share * share * (3 - 2 * share) * climb + share * rest * width * (rest * first - share * last)

    def gained(self, moment: float, seconds: float) -> float:
        """What ``stored`` gains in the ``seconds`` before ``moment``, which is after the touch.

        A hold is short, and both lie in one piece as a rule: 0.75 us for the two looked up apart, and 0.58 so.
        """
        number = bisect_right(self._moments, moment)
        if number == len(self._moments):
            return self._values[-1] - self.stored(moment - seconds)
        start, width, low, climb, first, last, _ = self._pieces[number]
        share = (moment - start) / width
        rest = 1 - share
        at = low + share * share * (3 - 2 * share) * climb + share * rest * width * (rest * first - share * last)
        if moment - seconds < start:
            return at - self.stored(moment - seconds)
        share = (moment - seconds - start) / width
        rest = 1 - share
        return at - (
            low + share * share * (3 - 2 * share) * climb + share * rest * width * (rest * first - share * last)
        )

    def reached(self, value: float) -> float:
        """The moment at which ``stored`` comes to ``value`` (above 0); infinite when it never does.

        By Newton's steps, which halve the stretch instead where they would leave it; then the next of even moments, no
        further apart than ``_CLOSE``.  Halving down to these alone took 17 looks in place of 5: 7.1 us, and 1.7 so.
        """
        number = bisect_right(self._values, value)
        if number == len(self._values):
            return math.inf
        start, width, low, climb, first, last, parts = self._pieces[number]
        wanted, early, late = value - low, 0.0, 1.0
        share = wanted / climb
        while True:
            rest = 1 - share
            at_share = share * (share * (3 - 2 * share) * climb + rest * width * (rest * first - share * last))
            if at_share < wanted:
                early = share
            else:
                late = share
            slope = 6 * share * rest * climb + width * (rest * (1 - 3 * share) * first - share * (2 - 3 * share) * last)
            before, share = share, share + (wanted - at_share) / slope if slope > 0 else -1.0
            if not early <= share <= late:
                share = (early + late) / 2
            if abs(share - before) < _EXACT:
                return start + max(1, math.ceil(share * parts)) * (width / parts)


def _scaled(diffusion_time: float, longest: float) -> list[float]:
    """Moments after a turn, closer together at first, until the heat of a hold of ``longest`` (s) has come through."""
    later, latest = _SOONEST * diffusion_time, longest + _LATEST * diffusion_time
    moments = []
    while later < latest:
        moments.append(later)
        later *= _WIDER
    return moments


class _Piece(NamedTuple):
    """The cubic between two solved moments: where it starts, how wide it is, its value there, how far it climbs.

    Then the slopes at both ends, and in how many even parts moments are found in it.
    """

    start: float
    width: float
    low: float
    climb: float
    first: float
    last: float
    parts: int


_NO_PIECE: Final = _Piece(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1)


def _piece(moments: list[float], values: list[float], slopes: list[float]) -> _Piece:
    (start, end), (low, high), (first, last) = moments, values, slopes
    parts = 1
    while (end - start) / parts > _CLOSE:
        parts *= 2
    return _Piece(start, end - start, low, high - low, first, last, parts)


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
