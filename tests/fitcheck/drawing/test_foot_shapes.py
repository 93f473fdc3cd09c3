"""The foot that is drawn for the eye has what the handbooks describe: each feature beside its fact and page."""

from __future__ import annotations

import itertools
import math
from typing import Any

import pytest
from shapely.geometry import LineString, Point, Polygon

from api.page.write_shapes import FILE, module
from fitcheck.drawing.foot_below import FootBelow, Shape
from fitcheck.drawing.foot_upright import exit_of, from_front, from_side
from rules.model.records import Foot

INCH = 25.4
FEET: tuple[Foot, ...] = ("fore", "hind")
SIDES = ("medial", "lateral")


def parts(shapes: tuple[Shape, ...], name: str) -> list[Shape]:
    found = [shape for shape in shapes if shape.part == name]
    assert found, name
    return found


def below(foot: Foot, name: str) -> list[Shape]:
    return parts(FootBelow(foot).shapes, name)


def outline(foot: Foot) -> list[tuple[float, float]]:
    return list(below(foot, "wall")[0].points)


def widest_at(foot: Foot) -> float:
    """How far back the foot is widest, as a share of its length."""
    points = outline(foot)
    top, back = max(y for _, y in points), min(y for _, y in points)
    return (top - max(points)[1]) / (top - back)


def test_a_hind_foot_is_widest_two_thirds_of_the_way_back() -> None:  # fact 1.53: LA 80, USDA 594
    assert widest_at("hind") == pytest.approx(2 / 3, abs=0.05)
    assert widest_at("fore") < widest_at("hind") - 0.05


def test_a_fore_foot_is_round_at_the_toe_and_a_hind_foot_pointed() -> None:  # fact 2.1: LA 107, USDA 597
    def breadth_behind_the_toe(foot: Foot, back: float) -> float:
        top = max(y for _, y in outline(foot))
        return max(x for x, y in outline(foot) if y > top - back)

    assert breadth_behind_the_toe("hind", 20) < breadth_behind_the_toe("fore", 20) - 4


@pytest.mark.parametrize("foot", FEET)
def test_the_web_is_widest_at_the_toe_and_about_twice_the_wall(foot: Foot) -> None:  # fact 2.2: LA 107
    iron = Polygon(below(foot, "iron")[0].points)
    toe = LineString([(0, 0), (0, 120)]).intersection(iron).length
    heel = LineString([(0, -40), (120, -40)]).intersection(iron).length
    assert toe > heel
    wall = max(y for _, y in outline(foot)) - max(y for _, y in below(foot, "white-line")[0].points)
    assert 1.5 <= toe / wall <= 3


@pytest.mark.parametrize("foot", FEET)
def test_four_holes_a_branch_stand_where_the_handbook_punches_them(foot: Foot) -> None:
    iron = below(foot, "iron")[0].points
    top, back = max(y for _, y in iron), min(y for _, y in iron)
    wall, white_line = LineString(outline(foot)), LineString(below(foot, "white-line")[0].points)
    fullers = [Polygon(each.points) for each in below(foot, "fuller")]
    holes = below(foot, "hole")
    assert {hole.place for hole in holes} == {f"nail:{side}:{number}" for side in SIDES for number in range(1, 5)}
    for hole in holes:
        middle = Polygon(hole.points).centroid
        # Front half of a fore shoe, front two thirds of a hind shoe, none at the very toe: fact 2.43, LA 110.
        assert 0.05 < (top - middle.y) / (top - back) <= {"fore": 0.5, "hind": 2 / 3}[foot]
        assert abs(middle.x) > 20
        # As deep as the wall is thick, and on the white line: facts 2.46 and 3.1, LA 110-111, 119-120.
        assert white_line.distance(middle) < 0.2
        assert wall.distance(middle) > 7
        assert any(fuller.contains(middle) for fuller in fullers)
    assert FootBelow(foot).hole("lateral", 1)[0] > 0


@pytest.mark.parametrize(("foot", "number"), [(foot, number) for foot in FEET for number in (5, 6)])
def test_more_holes_stand_in_the_same_part_of_the_shoe(foot: Foot, number: int) -> None:  # fact 2.43: LA 110
    four, more = FootBelow(foot), FootBelow(foot, holes=number)
    for side in SIDES:
        assert more.hole(side, 1) == pytest.approx(four.hole(side, 1))
        assert more.hole(side, number) == pytest.approx(four.hole(side, 4))
        middles = [more.hole(side, each) for each in range(1, number + 1)]
        gaps = [math.dist(one, other) for one, other in itertools.pairwise(middles)]
        assert min(gaps) > 5.0  # Hole beside hole, none in another: a hole is 5 mm long.
    assert len(parts(more.shapes, "hole")) == 2 * number


def test_clips_are_drawn_where_they_are_said_to_be() -> None:
    places = ("toe", "medial_toe", "lateral_toe", "medial_quarter", "lateral_quarter")
    drawn = parts(FootBelow("fore", clips=places).shapes, "clip")
    assert [each.place for each in drawn] == [f"clip:{place}" for place in places]
    horn = Polygon(below("fore", "horn")[0].points)
    for each in drawn:
        side = Polygon(each.points).centroid.x
        assert (side < -5, side > 5) == ("medial" in str(each.place), "lateral" in str(each.place))
        assert Polygon(each.points).intersects(horn)
    assert not [each for each in FootBelow("hind", clips=()).shapes if each.part == "clip"]


@pytest.mark.parametrize("foot", FEET)
def test_a_branch_reaches_past_the_buttress_by_the_shoes_thickness(foot: Foot) -> None:  # fact 3.10: LA 114
    drawn = FootBelow(foot)
    past = drawn.buttress - min(y for _, y in below(foot, "iron")[0].points)
    assert past == pytest.approx(7 / 16 * INCH, abs=0.5)  # fact 2.4: LA 108


@pytest.mark.parametrize("foot", FEET)
def test_the_iron_is_flush_at_the_nails_and_full_from_the_last_one_back(foot: Foot) -> None:  # facts 3.1, 3.2
    horn, iron = Polygon(below(foot, "horn")[0].points), below(foot, "iron")[0]
    edge = [Point(point) for point in iron.points if math.dist(point, (0, 0)) > 55]
    front = [point for point in edge if point.y > 15]
    assert max(point.distance(horn) for point in front) < 0.05
    quarter = max(point.distance(horn) for point in edge if point.y > -50)
    assert 1 / 16 * INCH <= quarter <= 1 / 8 * INCH + 0.1


def test_a_fore_shoe_has_a_toe_clip_and_a_hind_shoe_one_at_each_side_of_the_toe() -> None:  # facts 2.34, 2.38
    assert [each.place for each in below("fore", "clip")] == ["clip:toe"]
    assert [each.place for each in below("hind", "clip")] == ["clip:medial_toe", "clip:lateral_toe"]
    assert [each.place for each in parts(from_front("hind"), "clip")] == ["clip:medial_toe", "clip:lateral_toe"]
    assert [each.place for each in parts(from_side("fore"), "clip")] == ["clip:toe"]


@pytest.mark.parametrize("foot", FEET)
def test_sole_frog_bars_and_seats_of_corn_are_there_and_apart(foot: Foot) -> None:
    frog = Polygon(below(foot, "frog")[0].points)
    assert frog.is_valid
    assert frog.contains(Polygon(below(foot, "cleft")[0].points).representative_point())
    seats, bars = below(foot, "seat-of-corn"), below(foot, "bar")
    assert len(seats) == len(bars) == 2
    for seat, bar in zip(seats, bars, strict=True):
        assert Polygon(seat.points).disjoint(frog)
        assert LineString(bar.points).disjoint(frog)
    iron = Polygon(below(foot, "iron")[0].points)
    assert iron.is_valid
    assert iron.disjoint(frog)


@pytest.mark.parametrize("foot", FEET)
def test_places_cover_the_wall_once_from_heel_to_heel(foot: Foot) -> None:
    places = {each.place: each for each in FootBelow(foot).places}
    assert set(places) == {"toe", "frog", "sole", *(f"{side}_{part}" for side in SIDES for part in ("quarter", "heel"))}
    along = ["medial_heel", "medial_quarter", "toe", "lateral_quarter", "lateral_heel"]
    for one, other in itertools.pairwise(along):
        assert places[one].points[-1] == pytest.approx(places[other].points[0])
    assert Polygon(places["sole"].points).is_valid


@pytest.mark.parametrize(("foot", "low", "high"), [("fore", 45, 50), ("hind", 50, 55)])  # facts 1.5, 1.6: LA 73, 80
def test_the_toe_has_the_slope_of_a_regular_foot(foot: Foot, low: float, high: float) -> None:
    (x0, y0), (x1, y1) = parts(from_side(foot), "wall")[0].points[:2]
    assert low <= math.degrees(math.atan2(y1 - y0, x1 - x0)) <= high


@pytest.mark.parametrize("foot", FEET)
def test_nails_come_out_evenly_and_neither_low_nor_high(foot: Foot) -> None:  # facts 5.2, 5.8: LA 131
    exits = [exit_of(foot, number) for number in range(1, 5)]
    assert len({round(y, 6) for _, y in exits}) == 1
    slope = {"fore": 48.0, "hind": 53.0}[foot]
    assert 5 / 8 * INCH <= exits[0][1] / math.sin(math.radians(slope)) <= 13 / 8 * INCH
    assert len(parts(from_side(foot), "clinch")) == 4


@pytest.mark.parametrize("foot", FEET)
def test_the_axis_runs_unbroken_through_hoof_and_pastern(foot: Foot) -> None:  # facts 1.1 to 1.4
    (x0, y0), (x1, y1) = parts(from_side(foot), "axis")[0].points
    (a0, b0), (a1, b1) = parts(from_side(foot), "pastern")[0].points
    assert math.atan2(y1 - y0, x1 - x0) == pytest.approx(math.atan2(b1 - b0, a1 - a0))
    assert {x for x, _ in parts(from_front(foot), "axis")[0].points} == {0.0}


def test_the_pages_shapes_are_these() -> None:
    text: Any = FILE.read_text(encoding="utf-8")
    assert text == module()
