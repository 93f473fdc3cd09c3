"""The least or the greatest value of a function over a range, closed in on from even steps."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Final

__all__ = ["extreme"]

_GOLDEN: Final = (math.sqrt(5) - 1) / 2
_PARABOLAS: Final = 10
_CLOSE: Final = 1e-5  # rad; the depth changes with its square
_NARROWINGS: Final = 16  # to a thousandth of a degree; the depth there changes with its square

Function = Callable[[float], float]


def extreme(
    slopes: Sequence[float],
    values: list[float],
    sign: int,
    function: Function,
    *,
    kinked: bool = False,
) -> float:
    """The least (``sign`` 1) or the greatest (-1) of a function that has these values at these slopes.

    It is at an end, or found round the best of the slopes; of a ``kinked`` one it may be at the kink.
    """
    pick = min if sign > 0 else max
    best, last = values.index(pick(values)), len(values) - 1
    if last == 0 or (best == 0 and sign * _rise(values[0], values[1], values[2]) >= 0):
        return values[0]
    if best == last and sign * _rise(values[-1], values[-2], values[-3]) >= 0:
        return values[-1]
    middle = min(max(best, 1), last - 1)
    three = [(slopes[number], sign * values[number]) for number in (middle - 1, middle, middle + 1)]
    found = None if kinked else _by_parabolas(three, lambda slope: sign * function(slope))
    if found is None:
        low, high = slopes[max(0, best - 1)], slopes[min(last, best + 1)]
        found = _by_golden_section(low, high, lambda slope: sign * function(slope))
    return pick(values[best], sign * found)


Point = tuple[float, float]
"""A slope (rad) and a value there."""


def _by_parabolas(three: list[Point], function: Function) -> float | None:
    """The least value within the stretch, at the vertex of a parabola through three points of it, again and again.

    None where that does not settle, as at a kink.  Some 7 looks at the function in place of the golden section's 18:
    42 us, and 16 so.
    """
    (low, at_low), (middle, at_middle), (high, at_high) = three
    for _ in range(_PARABOLAS):
        left, right = (middle - low) * (at_middle - at_high), (middle - high) * (at_middle - at_low)
        if left == right:
            return None
        slope = middle - ((middle - low) * left - (middle - high) * right) / (2 * (left - right))
        if not low < slope < high:
            return None
        if abs(slope - middle) < _CLOSE:
            return at_middle
        value = function(slope)
        if value < at_middle:
            if slope < middle:
                high, at_high = middle, at_middle
            else:
                low, at_low = middle, at_middle
            middle, at_middle = slope, value
        elif slope < middle:
            low, at_low = slope, value
        else:
            high, at_high = slope, value
    return None


def _by_golden_section(low: float, high: float, function: Function) -> float:
    """The least value within the stretch, where there is one trough."""
    left, right = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
    at_left, at_right = function(left), function(right)
    for _ in range(_NARROWINGS):
        if at_left < at_right:
            high, right, at_right = right, left, at_left
            left = high - _GOLDEN * (high - low)
            at_left = function(left)
        else:
            low, left, at_left = left, right, at_right
            right = low + _GOLDEN * (high - low)
            at_right = function(right)
    return min(at_left, at_right)


def _rise(first: float, second: float, third: float) -> float:
    """How steeply, but for a factor, a function rises from the first of equal steps: by the parabola through three."""
    return 4 * second - 3 * first - third
