"""Nearest places of a traced line, held against the general-purpose geometry library shapely."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from fitcheck.measure.curves import Curve


@pytest.mark.parametrize("sides", [1, 2, 7, 199, 1999])
def test_the_nearest_places_of_a_line_are_those_that_shapely_finds(sides: int) -> None:
    rng = np.random.default_rng(sides)
    angles = np.linspace(-2.6, 2.6, sides + 1)
    line = np.column_stack([65 * np.sin(angles), 70 * np.cos(angles)]) + rng.normal(0, 0.2, (sides + 1, 2))
    points = rng.uniform(-90, 90, (150, 2))
    curve, known = Curve(line), shapely.LineString(line)
    found = curve.nearest(points)
    expected = np.array([shapely.distance(known, shapely.Point(point)) for point in points])
    assert np.hypot(*(points - found.points).T) == pytest.approx(expected, abs=1e-9)
    along = shapely.line_locate_point(known, shapely.points(points))
    assert curve.distance_along(found.at) == pytest.approx(along, abs=1e-6)
    assert np.array_equal(found.at_end, (along < 1e-9) | (along > known.length - 1e-9))
