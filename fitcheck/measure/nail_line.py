"""The line of the nails: how many, how high against the wall, how evenly they come out."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from statistics import linear_regression

from fitcheck.fitting.input_value import MeasuredValue, measured_value
from fitcheck.fitting.models import Fitting, Nail
from fitcheck.fitting.readings import nail_place
from rules import Reading, Rulebook

__all__ = ["exit_ratios", "nail_count", "unevenness"]

_FEWEST_FOR_A_LINE = 3  # two points always lie on a straight line


def nail_count(fitting: Fitting, readings: Mapping[tuple[str, str], Reading], book: Rulebook) -> Iterator[Reading]:
    """The number of nails given; a count has no uncertainty."""
    if fitting.observations.nails:
        yield Reading("nail_count", "foot", float(len(fitting.observations.nails)))


def exit_ratios(fitting: Fitting, readings: Mapping[tuple[str, str], Reading], book: Rulebook) -> Iterator[Reading]:
    """Exit height as a fraction of the wall's height at that nail; u by the law of propagation (JCGM 100, 5.1.2)."""
    for nail in fitting.observations.nails or ():
        if nail.wall_height is None:
            continue
        place = nail_place(nail)
        exit_at = readings.get(("exit_height", place))
        if exit_at is None:
            continue
        wall, wall_u = measured_value(nail.wall_height, "wall_height", book)
        if wall > 0:
            ratio = float(exit_at.value) / wall
            yield Reading("exit_ratio", place, ratio, math.hypot(exit_at.u, ratio * wall_u) / wall)


def unevenness(fitting: Fitting, readings: Mapping[tuple[str, str], Reading], book: Rulebook) -> Iterator[Reading]:
    """Largest distance (mm) of an exit, up or down, from the least-squares straight line through its branch's exits.

    Along the branch the nails stand at their ``position`` where every nail of the branch gives one, otherwise at
    equal steps by hole number.  Three exits at least: two always lie on a line.
    """
    branches: dict[str, list[tuple[Nail, Reading]]] = {"medial": [], "lateral": []}
    for nail in fitting.observations.nails or ():
        exit_at = readings.get(("exit_height", nail_place(nail)))
        if exit_at is not None:
            branches[nail.branch].append((nail, exit_at))
    for side, nails in branches.items():
        if len(nails) < _FEWEST_FOR_A_LINE:
            continue
        along = _along([nail for nail, _ in nails], book)
        exits = [exit_at for _, exit_at in nails]
        if len(set(along)) == len(along):
            largest = _largest_residual(along, exits)
        elif book.decisions:
            largest = _furthest_from_the_mean(exits)
        elif len(set(along)) < _FEWEST_FOR_A_LINE:
            continue  # the first contract's book knows no other line
        else:
            largest = _largest_residual(along, exits)
        yield Reading("evenness", f"{side}_quarter", largest.value, largest.u)


def _along(nails: list[Nail], book: Rulebook) -> list[float]:
    positions = [measured_value(nail.position, "position", book).value for nail in nails if nail.position is not None]
    return positions if len(positions) == len(nails) else [float(nail.hole) for nail in nails]


def _furthest_from_the_mean(exits: list[Reading]) -> MeasuredValue:
    """The largest distance from the mean of the exits, and its u; two nails at one position tell of no line."""
    heights = [float(exit_at.value) for exit_at in exits]
    count, mean = len(heights), sum(heights) / len(heights)
    worst = max(range(count), key=lambda number: abs(heights[number] - mean))
    shares = [(number == worst) - 1 / count for number in range(count)]
    u = math.hypot(*(share * exit_at.u for share, exit_at in zip(shares, exits, strict=True)))
    return MeasuredValue(abs(heights[worst] - mean), u)


def _largest_residual(along: list[float], exits: list[Reading]) -> MeasuredValue:
    """The largest distance from the line, and its u: a residual is a linear function of all the exits."""
    heights = [float(exit_at.value) for exit_at in exits]
    slope, intercept = linear_regression(along, heights)
    residuals = [abs(height - slope * x - intercept) for x, height in zip(along, heights, strict=True)]
    largest = max(residuals)
    worst = residuals.index(largest)
    mean = sum(along) / len(along)
    off = [x - mean for x in along]
    spread = sum([x**2 for x in off])
    share, turning = 1 / len(along), off[worst]
    variance = 0.0
    for other, exit_at in enumerate(exits):
        leverage = share + turning * off[other] / spread
        variance += (((other == worst) - leverage) * exit_at.u) ** 2
    return MeasuredValue(largest, math.sqrt(variance))
