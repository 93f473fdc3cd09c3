"""Planes on measured heights: the least-squares plane and the minimum zone.

Points are rows x, y, z in one unit of length, z pointing from the horn to the shoe.  Every result is, close by, a
linear function of the heights z; its weights are handed back, so that the uncertainty of a height u becomes
u * sqrt(sum of squared weights) (JCGM 100:2008, 5.1.2, equal and independent uncertainties).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog

__all__ = ["Array", "Slope", "Zone", "least_squares", "minimum_zone", "spread"]

Array = NDArray[np.float64]

# Numbers of arithmetic, not of the trade: where rounding begins, relative to the size of the figure.
_TINY = 1e-9
_TURNS = 20
_TOUCHING = 4  # points touch the thinnest slab: three and one, or two and two


class Slope(NamedTuple):
    """Slopes dz/dx and dz/dy of a plane, with the weights of the heights in each."""

    along_x: float
    along_y: float
    weights_x: Array
    weights_y: Array


class Zone(NamedTuple):
    """Two parallel planes that hold all points: their distance, and the weights of the heights in it.

    Points that touch the upper plane have positive weights, those that touch the lower one negative weights.
    """

    width: float
    weights: Array


def spread(points: Array) -> float:
    """How far the points lie from the straight line that fits them best in plan: root of the mean square."""
    plan = points[:, :2] - points[:, :2].mean(axis=0)
    return float(np.linalg.svd(plan, compute_uv=False)[-1]) / math.sqrt(len(points))


def least_squares(points: Array) -> Slope:
    """The plane for which the squared distances along z add up to the least."""
    plan = points[:, :2] - points[:, :2].mean(axis=0)
    weights: Array = np.linalg.pinv(plan)
    slopes = weights @ points[:, 2]
    return Slope(float(slopes[0]), float(slopes[1]), weights[0], weights[1])


def minimum_zone(points: Array) -> Zone:
    """The least distance between two parallel planes that hold all points (minimum zone of ISO 1101, ISO 12781-1).

    For distances along one direction this is a linear programme.  Its plane is then taken as the new direction until
    it turns no more, which makes the distance perpendicular.
    """
    middle = points - points.mean(axis=0)
    start = least_squares(points)
    normal = _unit(np.array([-start.along_x, -start.along_y, 1.0]))
    best = Zone(math.inf, np.zeros(len(points)))
    weights = best.weights
    for _ in range(_TURNS):
        first = _unit(np.cross([0.0, 1.0, 0.0], normal))
        second = np.cross(normal, first)
        turned = middle @ np.column_stack([first, second, normal])
        width, slope_first, slope_second, weights = _still_thinnest(turned, weights) or _zone_along_z(turned)
        width /= math.hypot(1.0, slope_first, slope_second)
        if width <= best.width * (1.0 + _TINY):
            # In the turned frame a height counts only as far as it points along the normal; of frames that find the
            # same slab the last is square to it.
            best = Zone(width, weights * normal[2])
        if math.hypot(slope_first, slope_second) < _TINY:
            break
        normal = _unit(normal - slope_first * first - slope_second * second)
    return best


def _still_thinnest(points: Array, weights: Array) -> tuple[float, float, float, Array] | None:
    """The slab of :func:`_zone_along_z` where it is level and touched by the points that had ``weights``; else None.

    By the duality of linear programmes: a slab that holds all points is the thinnest when the points that touch it
    above and below have weights, none negative, that add up to 1 on either side and meet in plan.
    """
    touching = np.flatnonzero(weights)
    if len(touching) != _TOUCHING:
        return None
    side = np.sign(weights[touching])
    across_plan = float(np.abs(points[:, :2]).max())
    plan = points[touching, :2].T / across_plan * side
    try:
        share = np.linalg.solve(np.vstack([side > 0, side < 0, plan]), [1.0, 1.0, 0.0, 0.0])
    except np.linalg.LinAlgError:
        return None
    found = np.zeros(len(points))
    found[touching] = share * side
    width, height = float(found @ points[:, 2]), float(np.ptp(points[:, 2]))
    rounding = _TINY * max(height, _TINY * across_plan)
    if share.min() < 0 or abs(height - width) > rounding:
        return None
    return width, 0.0, 0.0, found


def _zone_along_z(points: Array) -> tuple[float, float, float, Array]:
    """The thinnest slab along z (width, its two slopes) and the dual weights: how the width follows each height."""
    across_plan = float(np.abs(points[:, :2]).max())
    high = max(float(np.ptp(points[:, 2])), _TINY * across_plan)
    plan, z = points[:, :2] / across_plan, points[:, 2] / high
    one, half = np.ones((len(z), 1)), np.full((len(z), 1), 0.5)
    found = linprog(
        [0.0, 0.0, 0.0, 1.0],
        A_ub=np.vstack([np.hstack([-plan, -one, -half]), np.hstack([plan, one, -half])]),
        b_ub=np.concatenate([-z, z]),
        bounds=[(None, None), (None, None), (None, None), (0, None)],
        method="highs",
    )
    if not found.success or found.x is None:
        raise ArithmeticError(f"no minimum zone found: {found.message}")
    above, below = np.split(np.asarray(found.ineqlin.marginals), 2)
    slope_x, slope_y, _, width = found.x
    return float(width) * high, float(slope_x) * high / across_plan, float(slope_y) * high / across_plan, below - above


def _unit(vector: Array) -> Array:
    unit: Array = vector / np.linalg.norm(vector)
    return unit
