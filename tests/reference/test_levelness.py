"""Levelness from measured heights against independent geometry and worked cases.

Minimum zone: ISO 1101 and ISO 12781-1 (least distance of two parallel planes that hold all points).  It is attained
with a plane on three points and the other on one, or with two points on each (Houle and Toussaint, Computing the
width of a set, 1988; from memory): the check below tries all such pairs on the convex hull.
Uncertainty: JCGM 100:2008, 5.1.2, against JCGM 101:2008 (Monte Carlo).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
from scipy.spatial import ConvexHull

from fitcheck.errors import BadInput
from fitcheck.fitting.models import Fitting
from fitcheck.measure import measured
from fitcheck.measure.planes import Array, minimum_zone
from fitcheck.measure.seating import seat
from rules import Reading, first_rulebook, shipped_rulebook, table_of
from tests.support.counts import tries

BOOK = shipped_rulebook()
GEOMETRY = first_rulebook()
"""The rulebook of the first contract takes heights as they are; what noise gives is tried in test_height_noise."""
CALLIPER = BOOK.methods["calliper"].u
RING = [-145, -115, -85, -55, -25, 0, 25, 55, 85, 115, 145]


def readings(heights: Sequence[Sequence[float]], lateral: str | None = None) -> dict[tuple[str, str], Reading]:
    seen: dict[str, Any] = {"levelness": {"heights": [list(map(float, point)) for point in heights]}}
    fitting = Fitting.model_validate({"foot": "left_fore", "stage": "hot_fit", "work": "draught", "observations": seen})
    if lateral is not None:
        corners = [[-60, -60], [60, -60], [0, 70]]
        outline = {"hoof": corners, "shoe": corners, "lateral": lateral}
        fitting = Fitting.model_validate(
            {"foot": "left_fore", "stage": "hot_fit", "work": "draught", "observations": {**seen, "outline": outline}}
        )
    from fitcheck.measure.levelness import levelness  # noqa: PLC0415

    return {(each.quantity, each.place): each for each in levelness(fitting, {}, GEOMETRY) if isinstance(each, Reading)}


def ring(*heights: float) -> list[list[float]]:
    """Heights at the angles of RING round a foot of 130 by 140 mm."""
    return [
        [65 * math.sin(math.radians(angle)), 70 * math.cos(math.radians(angle)), height]
        for angle, height in zip(RING, heights, strict=True)
    ]


def width_by_enumeration(points: Array) -> float:
    """Least width of the convex hull over the directions of all facets and of all pairs of edges."""
    hull = ConvexHull(points)
    edges = {tuple(sorted(pair)) for facet in hull.simplices for pair in itertools.combinations(map(int, facet), 2)}
    along = np.array([points[b] - points[a] for a, b in edges])
    first, second = np.triu_indices(len(along), 1)
    normals = np.vstack([hull.equations[:, :3], np.cross(along[first], along[second])])
    lengths = np.linalg.norm(normals, axis=1)
    normals = normals[lengths > 1e-9] / lengths[lengths > 1e-9, np.newaxis]
    return float(np.ptp(normals @ points.T, axis=1).min())


@pytest.mark.parametrize("seed", range(25))
def test_flatness_is_the_least_width_found_by_trying_all_pairs_of_facets_and_edges(seed: int) -> None:
    rng = np.random.default_rng(seed)
    count = int(rng.integers(4, 25))
    plan = rng.uniform(-70, 70, (count, 2))
    heights = plan @ rng.uniform(-0.2, 0.2, 2) + rng.normal(0, rng.choice([0.01, 0.3, 2.0]), count)
    points = np.column_stack([plan, heights])
    assert minimum_zone(points).width == pytest.approx(width_by_enumeration(points), rel=1e-6)


def test_a_tilted_exact_plane_is_flat_still_and_without_gaps_and_its_tilts_are_those_it_was_given() -> None:
    fore_aft, sideways = math.tan(math.radians(4)), math.tan(math.radians(-2.5))
    found = readings([[x, y, 10 + fore_aft * y + sideways * x] for x, y, _ in ring(*[0.0] * 11)])
    assert found["flatness", "foot"].value == pytest.approx(0, abs=1e-9)
    assert found["rock", "foot"].value == pytest.approx(0, abs=1e-9)
    assert found["tilt_fore_aft", "foot"].value == pytest.approx(4)
    assert found["tilt_sideways", "foot"].value == pytest.approx(-2.5)
    gaps = [each.value for (quantity, _), each in found.items() if quantity == "gap"]
    assert gaps == pytest.approx([0] * 5, abs=1e-9)


@pytest.mark.parametrize("high", [0.4, 1.0, 3.0])
def test_four_corners_two_of_them_high_are_flat_within_that_height_and_rock_by_twice_it(high: float) -> None:
    """By hand: level planes at 0 and h; seated on both high corners and one low one, the fourth lies 2 h below."""
    found = readings([[60, 60, high], [-60, 60, 0], [-60, -60, high], [60, -60, 0]])
    lever = math.hypot(1, math.sqrt(2) * high / 120)  # the seated plane slopes by h over half the diagonal
    assert found["flatness", "foot"].value == pytest.approx(high)
    assert found["flatness", "foot"].u == pytest.approx(CALLIPER)  # weights of a half, four times
    assert found["rock", "foot"].value == pytest.approx(2 * high / lever)
    assert found["rock", "foot"].u == pytest.approx(2 * CALLIPER / lever)
    # Corners of a square stand at 45 and 135 degrees: quarters and heels.
    assert found["rock", "foot"].where.startswith("about a line from the ")
    assert {"the lateral quarter", "the medial heel"} == {
        place for place in ("the lateral quarter", "the medial heel") if place in found["rock", "foot"].where
    }


def test_a_dish_bears_all_round_does_not_rock_and_has_its_gap_in_the_hollow() -> None:
    rim = ring(*[2.0] * 11)
    found = readings([*rim, [-5, -20, 1.2]])
    assert found["flatness", "foot"].value == pytest.approx(0.8)
    assert found["rock", "foot"].value == pytest.approx(0, abs=1e-9)
    assert max(float(each.value) for (quantity, _), each in found.items() if quantity == "gap") == pytest.approx(0.8)


def test_a_dip_between_two_bearing_places_is_a_gap_and_no_rock() -> None:
    heights = [0.0] * 11
    heights[RING.index(85)] = -0.6
    found = readings(ring(*heights))
    assert found["gap", "lateral_quarter"].value == pytest.approx(0.6)
    assert found["gap", "medial_quarter"].value == pytest.approx(0, abs=1e-9)
    assert found["rock", "foot"].value == pytest.approx(0, abs=1e-9)
    assert found["gap", "lateral_quarter"].where.endswith("the widest gap on this foot")


def test_on_one_high_heel_the_shoe_rocks_and_the_line_it_rocks_on_starts_there() -> None:
    heights = [0.0] * 11
    heights[RING.index(-145)] = 1.5
    found = readings(ring(*heights))
    assert float(found["rock", "foot"].value) > 1
    assert found["rock", "foot"].where.startswith("about a line from the medial heel")
    assert "medial heel" in found["flatness", "foot"].where.split(", low")[0]


def test_a_low_toe_lets_the_shoe_tip_forward_over_the_quarters_by_the_gap_there() -> None:
    """By hand: four corners level, the toe t below their plane, and the shoe tips onto it."""
    found = readings([[60, 20, 0], [-60, 20, 0], [50, -60, 0], [-50, -60, 0], [0, 70, -1.2]])
    assert found["rock", "foot"].value == pytest.approx(1.2)
    assert found["gap", "toe"].value == pytest.approx(1.2)
    assert "down at the toe" in found["rock", "foot"].where


def upper_hull_height(points: Array, spot: Array) -> float:
    """Height of the upper hull above a plan position: the highest of all triangles of points that hold it."""
    best = -math.inf
    for corners in itertools.combinations(range(len(points)), 3):
        triangle = points[list(corners)]
        try:
            shares = np.linalg.solve(np.vstack([triangle[:, :2].T, np.ones(3)]), np.append(spot, 1.0))
        except np.linalg.LinAlgError:
            continue
        if shares.min() >= -1e-12:
            best = max(best, float(shares @ triangle[:, 2]))
    return best


@pytest.mark.parametrize("seed", range(12))
def test_the_shoe_rests_on_the_highest_triangle_over_the_centroid_and_no_point_stands_above_it(seed: int) -> None:
    rng = np.random.default_rng(100 + seed)
    points = np.column_stack([rng.uniform(-70, 70, (12, 2)), rng.normal(0, 1.0, 12)])
    laid = seat(points, 12)
    triangle = points[list(laid.bears_on)]
    plane = np.linalg.solve(np.column_stack([triangle[:, :2], np.ones(3)]), triangle[:, 2])
    centroid = points[:, :2].mean(axis=0)
    assert plane @ np.append(centroid, 1.0) == pytest.approx(upper_hull_height(points, centroid))
    below = (np.column_stack([points[:, :2], np.ones(12)]) @ plane - points[:, 2]) / math.hypot(1, plane[0], plane[1])
    assert below.min() >= -1e-9
    assert laid.gaps == pytest.approx(below, abs=1e-9)
    assert 0 <= laid.rock.depth <= laid.gaps[laid.rock.point] + 1e-9


@pytest.mark.parametrize("seed", range(12))
def test_pressed_at_the_very_points_the_shoe_drops_to_the_upper_hull_found_from_all_triangles(seed: int) -> None:
    rng = np.random.default_rng(200 + seed)
    points = np.column_stack([rng.uniform(-70, 70, (10, 2)), rng.normal(0, 1.0, 10)])
    laid = seat(points, 0.0)
    triangle = points[list(laid.bears_on)]
    plane = np.linalg.solve(np.column_stack([triangle[:, :2], np.ones(3)]), triangle[:, 2])
    drops = [plane @ np.append(point[:2], 1.0) - upper_hull_height(points, point[:2]) for point in points]
    assert laid.rock.depth == pytest.approx(max(drops) / math.hypot(1, plane[0], plane[1]), abs=1e-8)


def test_the_propagated_uncertainties_agree_with_a_simulation_of_the_heights() -> None:
    """A twisted foot: which points touch is clear-cut, so that each result stays one linear function."""
    true: list[list[float]] = [[60, 40, 3], [-60, 40, 0], [-55, -60, 3], [55, -60, 0], [0, 70, 0.2], [0, 0, 0.1]]
    computed = readings(true)
    rng = np.random.default_rng(101)
    drawn: dict[tuple[str, str], list[float]] = {key: [] for key in computed}
    for _ in range(tries(500, full=12_000)):
        noise = rng.normal(0, CALLIPER, len(true))
        again = readings([[x, y, z + off] for (x, y, z), off in zip(true, noise, strict=True)])
        for key, each in again.items():
            drawn[key].append(float(each.value))
    bearing = {key for key, each in computed.items() if each.quantity == "gap" and each.value == 0}
    for key in computed.keys() - bearing:
        assert computed[key].u == pytest.approx(float(np.std(drawn[key])), rel=0.10), key
    assert len(computed.keys() - bearing) >= 6


@pytest.mark.parametrize(
    ("heights", "says"),
    [
        ([], "too few"),
        ([[60, 60, 0], [-60, 60, 0], [0, -60, 0]], "too few"),
        ([[60, 60, 0], [60, 60, 0], [-60, 60, 0], [0, -60, 0]], "too few"),
        ([[0, y, 0] for y in (-60, -20, 20, 60)], "straight line"),
        ([[y, 0.5 * y, 0] for y in (-60, -20, 20, 60)], "straight line"),
        ([[60, 60, 0], [-60, 60, 0], [0, -60, 0], [0, -60, 1]], "measure there again"),
        ([[6, 6, 0], [-6, 6, 0], [-6, -6, 0], [6, -6, 0]], "in mm"),
        ([[600, 600, 0], [-600, 600, 0], [-600, -600, 0], [600, -600, 0]], "in mm"),
        ([[60, 60, 150], [-60, 60, 0], [-60, -60, 150], [60, -60, 0]], "check the heights"),
        ([[60, 60, 150], [-60, 60, 150], [-60, -60, 0], [60, -60, 0]], "check the heights"),
    ],
)
def test_heights_that_cannot_be_a_foots_are_refused_by_name(heights: list[list[float]], says: str) -> None:
    with pytest.raises(BadInput, match=says) as refused:
        readings(heights)
    assert [problem.field for problem in refused.value.problems] == ["observations.levelness.heights"]


def test_the_lateral_side_is_the_outlines_and_plus_x_without_one() -> None:
    sloping = [[x, y, 0.02 * x] for x, y, _ in ring(*[0.0] * 11)]
    assert float(readings(sloping)["tilt_sideways", "foot"].value) > 0
    assert float(readings(sloping, "+x")["tilt_sideways", "foot"].value) > 0
    assert float(readings(sloping, "-x")["tilt_sideways", "foot"].value) < 0


def test_a_gap_that_heights_show_counts_before_none_felt_and_the_two_are_compared() -> None:
    heights = [0.0] * 11
    heights[RING.index(0)] = -2.0
    seen = {"levelness": {"heights": ring(*heights)}}
    fitting = Fitting.model_validate({"foot": "left_fore", "stage": "hot_fit", "work": "draught", "observations": seen})
    by_key, _ = measured(fitting, table_of([Reading("gap", "toe", 0.0, 0.03)]), BOOK)
    assert by_key["gap", "toe"].value == pytest.approx(2.0, abs=0.05)
    assert float(by_key["deciding_disagreement", "toe"].value) > 2
