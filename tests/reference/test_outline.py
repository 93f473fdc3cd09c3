"""The outline measure against plane geometry that is known in closed form, and against draws of the traced points.

Sources: the parallel curve of an ellipse (Wolfram MathWorld, "Ellipse Parallel Curves"), which for a convex curve is
the border of its Minkowski sum with a disc; the law of cosines for shifted circles; JCGM 101:2008 for the propagation
of distributions by a Monte Carlo method.  What is said of no source is counted off the drawing.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
import shapely
from scipy.integrate import quad

from fitcheck.assessment.assess import assess
from fitcheck.fitting.readings import readings_of
from fitcheck.measure import measured
from fitcheck.measure.traces import Bounds, read_traces
from rules import Reading, shipped_rulebook, table_of
from tests.support.counts import tries
from tests.support.outlines import Points, arc, branches, ellipse, fitting, number, results

BESIDE = [
    ("overhang", "toe"),
    ("overhang", "medial_quarter"),
    ("overhang", "lateral_quarter"),
    ("overhang_least", "medial_quarter"),
    ("overhang_least", "lateral_quarter"),
    ("width", "medial_heel"),
    ("width", "lateral_heel"),
    ("width_least", "medial_heel"),
    ("width_least", "lateral_heel"),
]
HOLES = [[-44.0, 44.0], [-56.0, 14.0], [-59.0, -8.0], [46.0, 42.0], [57.0, 12.0], [59.0, -10.0]]


@pytest.mark.parametrize("beyond", [0.4, 3.0, 12.0])
def test_a_shoe_on_a_parallel_curve_of_an_ellipse_stands_out_by_its_distance_everywhere(beyond: float) -> None:
    table = results(ellipse(65, 71, 1500), ellipse(65, 71, 1500, beyond))
    assert [number(table, *key) for key in BESIDE] == pytest.approx([beyond] * len(BESIDE), abs=2e-3)


@pytest.mark.parametrize("beyond", [1.0, 6.0])
def test_a_shoe_round_the_minkowski_sum_with_a_disc_stands_out_by_the_discs_radius(beyond: float) -> None:
    foot = ellipse(65, 71, 1500)
    round_it = shapely.get_coordinates(shapely.buffer(shapely.Polygon(foot), beyond, quad_segs=32).simplify(0.001))
    table = results(foot, round_it.tolist())
    assert [number(table, *key) for key in BESIDE] == pytest.approx([beyond] * len(BESIDE), abs=4e-3)


@pytest.mark.parametrize("inside", [0.5, 4.0])
def test_a_shoe_inside_the_wall_gives_negative_overhang_and_no_least_besides_the_mean(inside: float) -> None:
    table = results(ellipse(65, 71, 1500, inside), ellipse(65, 71, 1500))
    for place in ("toe", "medial_quarter", "lateral_quarter"):
        assert number(table, "overhang", place) == pytest.approx(-inside, abs=2e-3)
    for side in ("medial", "lateral"):
        assert number(table, "width", f"{side}_heel") == pytest.approx(-inside, abs=2e-3)
        assert ("width_least", f"{side}_heel") not in table
        assert ("overhang_least", f"{side}_quarter") not in table


def _mean(function: Callable[[float], float], low: float, high: float) -> float:
    return float(quad(function, math.radians(low), math.radians(high))[0]) / math.radians(high - low)


@pytest.mark.parametrize(("shift", "beyond"), [(1.5, 2.0), (-1.2, 2.5), (3.0, 0.5)])
def test_a_circle_shifted_forward_follows_the_law_of_cosines(shift: float, beyond: float) -> None:
    radius = 70.0
    table = results(arc(radius, 1500, 179.9), arc(radius + beyond, 1500, 179.9, (0.0, shift)))

    def exact(angle: float) -> float:
        return radius + beyond - math.sqrt(radius**2 + shift**2 - 2 * radius * shift * math.cos(angle))

    def second_order(angle: float) -> float:
        return beyond + shift * math.cos(angle) - (shift * math.sin(angle)) ** 2 / (2 * radius)

    for quantity, place, low, high in [
        ("overhang", "toe", -25, 25),
        ("overhang", "lateral_quarter", 25, 100),
        ("width", "medial_heel", 100, 150),
    ]:
        assert number(table, quantity, place) == pytest.approx(_mean(exact, low, high), abs=1e-3)
        assert number(table, quantity, place) == pytest.approx(_mean(second_order, low, high), abs=4e-3)


def test_a_circle_shifted_sideways_widens_one_side_by_what_it_takes_from_the_other() -> None:
    radius, beyond, shift = 70.0, 3.0, 1.0
    table = results(arc(radius, 1500, 179.9), arc(radius + beyond, 1500, 179.9, (shift, 0.0)))

    def exact(angle: float) -> float:
        return radius + beyond - math.sqrt(radius**2 + shift**2 - 2 * radius * shift * math.sin(angle))

    for side, sign in (("lateral", 1), ("medial", -1)):
        expected = _mean(lambda angle, sign=sign: exact(sign * angle), 100, 150)  # type: ignore[misc]
        assert number(table, "width", f"{side}_heel") == pytest.approx(expected, abs=1e-3)
        assert number(table, "overhang", f"{side}_quarter") == pytest.approx(
            _mean(lambda angle, sign=sign: exact(sign * angle), 25, 100),  # type: ignore[misc]
            abs=1e-3,
        )


def test_straight_branches_give_width_length_and_shoe_length_as_drawn() -> None:
    table = results(branches(60, 75, -62), branches(62.5, 77, -73))
    for side in ("medial", "lateral"):
        assert number(table, "width", f"{side}_heel") == pytest.approx(2.5, abs=1e-9)
        assert number(table, "length", f"{side}_heel") == pytest.approx(11.0, abs=1e-9)
    assert number(table, "shoe_length", "foot") == pytest.approx(150.0, abs=1e-9)


def test_a_branch_that_ends_before_the_buttress_has_a_negative_length_and_its_width_only_where_it_is() -> None:
    shoe = branches(62.5, 77, -73)
    shoe[-1][1] = -75.0
    short = [point for point in branches(62.5, 77, -50) if point[0] < 0] + [p for p in shoe if p[0] >= 0]
    table = results(branches(60, 75, -62), short)
    assert number(table, "length", "medial_heel") == pytest.approx(-12.0, abs=1e-9)
    assert number(table, "length", "lateral_heel") == pytest.approx(13.0, abs=1e-9)
    assert number(table, "width", "medial_heel") == pytest.approx(2.5, abs=1e-9)
    assert "no iron beside 12 mm of wall" in table["width", "medial_heel"].where


def test_beside_the_slanting_end_of_a_short_branch_the_iron_still_counts_as_outside_the_wall() -> None:
    # The lateral branch spreads from x = 62 at y = 0 by 1 in 10, and ends at y = -60, square to itself: up to 0.8 mm
    # behind y = -60 the wall at x = 60 has iron beside it, at (62 - 60 - 0.1 y) cos(atan 0.1) from it.
    shoe = [[x + math.copysign(max(0.0, -y) * 0.1, x), y] for x, y in branches(62, 77, -60)]
    holes = [[-52.0, -50.0], [-50.0, 30.0], [50.0, 30.0], [52.0, -50.0]]
    table = results(branches(60, 75, -62), shoe, holes=holes)
    slope = math.cos(math.atan(0.1))
    for side in ("medial", "lateral"):
        # Stations every mm from 50.5 to 60.5: the last one lies behind the end and is still beside the iron.
        expected = np.mean([(2 + 0.1 * back) * slope for back in np.arange(50.5, 61.0)])
        assert number(table, "width", f"{side}_heel") == pytest.approx(expected, abs=1e-9)
        assert "no iron beside 1 mm of wall" in table["width", f"{side}_heel"].where


def test_a_dent_of_known_depth_in_one_branch_is_the_least_width_and_is_found_where_it_is() -> None:
    shoe = [point for point in branches(63.0, 77, -73) if not (point[0] > 62.9 and -48 < point[1] < -14)]
    turn = next(number for number, point in enumerate(shoe) if point[0] > 62.9 and point[1] < -40)
    dented = [*shoe[:turn], [63.0, -15.0], [59.0, -15.0], [59.0, -45.0], [63.0, -45.0], *shoe[turn:]]
    table = results(branches(60, 75, -62), dented)
    # Deep 4, wide 30, from 17 to 47 mm in front of the buttress: its floor lies 1 mm inside the wall.
    assert number(table, "width_least", "lateral_heel") == pytest.approx(-1.0, abs=1e-9)
    assert table["width_least", "lateral_heel"].where in {f"{there} mm in front of the buttress" for there in (31, 32)}
    assert "closest -1.0 mm" in table["width", "lateral_heel"].where
    assert number(table, "width", "lateral_heel") > 0
    assert number(table, "width_least", "medial_heel") == pytest.approx(3.0, abs=1e-9)
    tight = {finding.rule: finding for finding in assess(fitting(branches(60, 75, -62), dented)).findings}
    assert tight["heel-iron-inside"].place == "lateral_heel"


def test_the_heel_begins_at_the_last_nail_hole() -> None:
    # Widening from 0 at the toe's end of the branch to 7.3 at its end: the mean depends on where the heel begins.
    shoe = branches(60, 77, -73)
    shoe = [[x + math.copysign(max(0.0, -y) * 0.1, x), y] for x, y in shoe]
    hoof = branches(60, 75, -62)
    holes = [[-52.0, 10.0], [-52.0, -20.0], [52.0, 10.0], [52.0, -32.0]]
    table = results(hoof, shoe, holes=holes)
    slope = math.cos(math.atan(0.1))
    for side, last in (("medial", 20.0), ("lateral", 32.0)):
        assert number(table, "width", f"{side}_heel") == pytest.approx(0.1 * (last + 62) / 2 * slope, rel=1e-6)


def test_a_closed_trace_of_the_whole_iron_gives_what_its_outer_edge_gives() -> None:
    hoof, outer = branches(60, 75, -62), branches(62.5, 77, -73)
    inner = branches(36, 50, -73)
    assert {key: reading.value for key, reading in results(hoof, [*outer, *reversed(inner), outer[0]]).items()} == (
        pytest.approx({key: reading.value for key, reading in results(hoof, outer).items()}, abs=1e-9)
    )


def test_the_buttress_of_a_closed_circle_lies_at_150_degrees_and_the_shoe_ends_rearmost() -> None:
    table = results(arc(70, 720, 179.9), branches(72, 74, -70))
    for side in ("medial", "lateral"):
        assert number(table, "length", f"{side}_heel") == pytest.approx(70 + 70 * math.cos(math.radians(150)), abs=2e-3)


def test_nail_holes_are_numbered_from_the_toe_and_measured_to_the_wall() -> None:
    hoof, shoe = branches(60, 75, -62), branches(62.5, 77, -73)
    wall = Reading("wall_thickness", "foot", 11.0, 0.5)
    holes = [[52.0, -20.0], [-50.0, -30.0], [51.0, 0.0], [-53.0, -10.0], [-38.0, 48.0], [38.0, 48.0]]
    table = results(
        hoof, shoe, holes=holes, nails=[("lateral", 3), ("medial", 2)], observed={("wall_thickness", "foot"): wall}
    )
    assert number(table, "hole_inset", "nail:lateral:3") == pytest.approx(8.0, abs=1e-9)
    assert number(table, "hole_inset", "nail:medial:2") == pytest.approx(7.0, abs=1e-9)
    assert number(table, "hole_to_white_line", "nail:lateral:3") == pytest.approx(3.0, abs=1e-9)
    length = number(table, "shoe_length", "foot")
    assert number(table, "position", "nail:lateral:3") == pytest.approx((length - 73 + 20) / length, abs=1e-9)
    assert {place for _, place in table if place.startswith("nail")} == {"nail:lateral:3", "nail:medial:2"}
    inset, gap = table["hole_inset", "nail:lateral:3"], table["hole_to_white_line", "nail:lateral:3"]
    assert gap.u == pytest.approx(math.hypot(inset.u, 0.5))


def test_a_given_shoe_length_stands_and_the_branch_difference_follows_from_the_traces() -> None:
    shoe = branches(62.5, 77, -73)
    shoe[-1][1] = -77.0
    book = shipped_rulebook()
    foot = fitting(branches(60, 75, -62), shoe, shoe_size={"length": 151.0})
    table, _ = measured(foot, table_of(readings_of(foot, book)), book)
    assert number(table, "shoe_length", "foot") == 151.0
    assert number(table, "branch_difference", "foot") == pytest.approx(4.0, abs=1e-9)


@pytest.mark.parametrize("closed", [False, True])
def test_uncertainties_agree_with_draws_of_every_traced_coordinate(closed: bool) -> None:  # noqa: FBT001
    draws, u = tries(500, full=15_000), shipped_rulebook().parameters["trace"].value or 0.0
    generator = np.random.default_rng(20260304)
    hoof, shoe = (arc(69, 62, 177) if closed else arc(69, 52)), arc(72.5, 54, 154)
    nails = [("medial", 2), ("lateral", 3)]
    stated = results(hoof, shoe, holes=HOLES, nails=nails)
    keys = [
        ("overhang", "toe"),
        ("width", "medial_heel"),
        ("width", "lateral_heel"),
        ("length", "medial_heel"),
        ("length", "lateral_heel"),
        ("hole_inset", "nail:medial:2"),
        ("hole_inset", "nail:lateral:3"),
    ]
    drawn: dict[tuple[str, str], list[float]] = {key: [] for key in keys}

    def shaken(points: Points) -> Points:
        moved: Points = (np.array(points) + generator.normal(0.0, u, (len(points), 2))).tolist()
        return moved

    for _ in range(draws):
        table = results(shaken(hoof), shaken(shoe), holes=shaken(HOLES), nails=nails)
        for key in keys:
            drawn[key].append(number(table, *key))
    spread = {key: float(np.std(values)) for key, values in drawn.items()}
    assert spread == pytest.approx({key: stated[key].u for key in keys}, rel=0.1)


def test_the_traces_come_out_in_one_order_whichever_way_they_were_drawn() -> None:
    outline = fitting(arc(70, 40), arc(72, 40)[::-1], "-x").observations.outline
    assert outline is not None
    traces = read_traces(outline, Bounds(60.0, 300.0, 60.0))
    for trace in (traces.hoof, traces.shoe):
        assert trace.points[0, 0] < 0 < trace.points[-1, 0]
