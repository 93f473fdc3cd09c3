"""Traced outlines of known shape, and what the tool measures on them."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from fitcheck.fitting.models import Fitting
from fitcheck.measure.outline import outline_fit
from rules import Reading, first_rulebook

Points = list[list[float]]
Table = dict[tuple[str, str], Reading]


def arc(radius: float, count: int, end: float = 150.0, middle: tuple[float, float] = (0.0, 0.0)) -> Points:
    """A circle traced from -end to +end degrees, nought at the toe."""
    angles = np.radians(np.linspace(-end, end, count))
    return [[middle[0] + radius * math.sin(angle), middle[1] + radius * math.cos(angle)] for angle in angles]


def ellipse(across: float, along: float, count: int, beyond: float = 0.0) -> Points:
    """An ellipse of these half axes, closed, or its parallel curve at the distance ``beyond``."""
    t = np.linspace(-np.pi, np.pi, count, endpoint=False)
    root = np.sqrt((across * np.cos(t)) ** 2 + (along * np.sin(t)) ** 2)
    x = np.sin(t) * (across + beyond * along / root)
    y = np.cos(t) * (along + beyond * across / root)
    return [list(point) for point in np.column_stack([x, y]).tolist()]


def branches(half_width: float, toe: float, heel: float, count: int = 61) -> Points:
    """A half ellipse at the toe, from y = 0 forward, and straight branches back to y = ``heel``."""
    front = [
        [half_width * math.sin(angle), toe * math.cos(angle)] for angle in np.linspace(-np.pi / 2, np.pi / 2, count)
    ]
    back = [[half_width, y] for y in np.linspace(0.0, heel, count // 3)[1:]]
    return [*([-x, y] for x, y in reversed(back)), *front, *back]


def denser(points: Points, times: int, *, closed: bool) -> Points:
    """The same polygon with every side cut into as many parts."""
    corners = [*points, points[0]] if closed else points
    result: Points = []
    for one, other in itertools.pairwise(corners):
        for part in range(times):
            share = part / times
            result.append([one[0] + share * (other[0] - one[0]), one[1] + share * (other[1] - one[1])])
    return result if closed else [*result, points[-1]]


def fitting(
    hoof: Sequence[Sequence[float]],
    shoe: Sequence[Sequence[float]],
    lateral: str = "+x",
    holes: Sequence[Sequence[float]] | None = None,
    **more: Any,
) -> Fitting:
    """A nailed fore foot with these traces; ``more``: nails as (branch, hole), hoof_size, shoe_size as in a fitting."""
    observations: dict[str, Any] = {
        "outline": {
            "hoof": [[float(x), float(y)] for x, y in hoof],
            "shoe": [[float(x), float(y)] for x, y in shoe],
            "nail_holes": None if holes is None else [[float(x), float(y)] for x, y in holes],
            "lateral": lateral,
        }
    }
    if "nails" in more:
        observations["nails"] = [{"branch": branch, "hole": hole} for branch, hole in more["nails"]]
    return Fitting.model_validate(
        {
            "foot": "left_fore",
            "stage": "nailed",
            "work": "draught",
            "hoof": more.get("hoof_size"),
            "shoe": more.get("shoe_size"),
            "observations": observations,
        }
    )


def results(
    hoof: Sequence[Sequence[float]],
    shoe: Sequence[Sequence[float]],
    lateral: str = "+x",
    holes: Sequence[Sequence[float]] | None = None,
    **more: Any,
) -> Table:
    """The readings that the outline measure gives on these traces, by quantity and place; arguments as of fitting.

    By the rulebook of the first contract unless another ``book`` is given: geometry alone, the traces as they are.
    """
    book = more.pop("book", None) or first_rulebook()
    given: Table = more.pop("observed", {})
    readings = outline_fit(fitting(hoof, shoe, lateral, holes, **more), given, book)
    return {(reading.quantity, reading.place): reading for reading in readings if isinstance(reading, Reading)}


def number(table: Table, quantity: str, place: str) -> float:
    """The value of one reading."""
    return float(table[quantity, place].value)
