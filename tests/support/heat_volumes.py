"""Heat through horn into tissue by finite volumes, written from the equations of docs/heat.md alone.

Nothing of the product is imported. Method of lines: cells of horn, then cells of tissue that widen with depth, and
scipy's LSODA through every stretch of iron or air.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

MM: Final = 1e-3
DEEP: Final = 0.08  # m of tissue


class Matter(NamedTuple):
    """What heat passes through, in SI units: conductivities, diffusivity, heat capacities by volume, conductances."""

    horn_conductivity: float
    diffusivity: float
    tissue_conductivity: float
    tissue_heat_capacity: float
    perfusion: float
    to_iron: float
    to_air: float
    iron_thickness: float
    iron_heat_capacity: float
    iron_loss: float


class Touch(NamedTuple):
    """Iron of ``degc`` from ``start`` for ``seconds``."""

    start: float
    seconds: float
    degc: float


class Course(NamedTuple):
    """Temperature (degC) of the inner side of the horn at each of ``moments`` (s)."""

    moments: NDArray[np.float64]
    inside: NDArray[np.float64]

    @property
    def peak(self) -> float:
        return float(self.inside.max())

    @property
    def when(self) -> float:
        return float(self.moments[self.inside.argmax()])

    def at(self, moment: float) -> float:
        return float(np.interp(moment, self.moments, self.inside))


def by_volumes(
    matter: Matter, horn_mm: float, before: float, touches: Sequence[Touch], until: float, cells: int = 80
) -> Course:
    """The course from ``before`` (degC, the same everywhere) to ``until`` (s)."""
    horn = np.full(cells, horn_mm * MM / cells)
    widening = 1.06 ** np.arange(1000)
    tissue = horn[0] * widening[: int(np.searchsorted(np.cumsum(horn[0] * widening), DEEP)) + 1]
    widths = np.concatenate([horn, tissue])
    conductivity = np.repeat([matter.horn_conductivity, matter.tissue_conductivity], [cells, len(tissue)])
    capacity = np.repeat(
        [matter.horn_conductivity / matter.diffusivity, matter.tissue_heat_capacity], [cells, len(tissue)]
    )
    halves = widths / (2 * conductivity)
    between = 1 / (halves[:-1] + halves[1:])
    blood = np.repeat([0.0, matter.perfusion * matter.tissue_heat_capacity], [cells, len(tissue)])
    iron_time = matter.iron_thickness * matter.iron_heat_capacity / matter.iron_loss

    def inner(state: NDArray[np.float64]) -> NDArray[np.float64]:
        """Where horn meets tissue the flow in equals the flow out."""
        out, on = 1 / halves[cells - 1], 1 / halves[cells]
        return np.asarray((out * state[cells - 1] + on * state[cells]) / (out + on))

    turns = sorted({0.0, until, *(t.start for t in touches), *(min(t.start + t.seconds, until) for t in touches)})
    state, moments, inside = np.full(len(widths), before), [np.array([0.0])], [np.array([before])]
    for start, end in itertools.pairwise(turns):
        iron = next((t for t in touches if t.start <= start < t.start + t.seconds), None)
        conductance = 1 / (1 / (matter.to_iron if iron else matter.to_air) + halves[0])

        def growth(
            moment: float, now: NDArray[np.float64], iron: Touch | None = iron, g: float = conductance
        ) -> NDArray[np.float64]:
            outside = before
            if iron is not None:
                outside += (iron.degc - before) * math.exp((iron.start - moment) / iron_time)
            flow = between * (now[:-1] - now[1:])
            gain = -blood * widths * (now - before)
            gain[:-1] -= flow
            gain[1:] += flow
            gain[0] += g * (outside - now[0])
            return np.asarray(gain / (capacity * widths))

        looked = np.linspace(start, end, max(20, int((end - start) / until * 2000)))
        solved = solve_ivp(growth, (start, end), state, "LSODA", looked, rtol=1e-8, atol=1e-8, lband=1, uband=1)
        assert solved.success
        state = solved.y[:, -1]
        moments.append(solved.t)
        inside.append(inner(solved.y))
    return Course(np.concatenate(moments), np.concatenate(inside))
