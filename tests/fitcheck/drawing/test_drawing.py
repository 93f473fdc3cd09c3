"""The drawing says what the readings say: what is drawn is measured in it and held against the fitting."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any
from xml.etree.ElementTree import Element

import pytest

from fitcheck.assessment.assess import assess
from fitcheck.drawing import draw
from fitcheck.fitting.validation import parse_fitting
from rules import shipped_rulebook
from tests.support.drawings import Drawn, Point, drawn, near_line, number_of, points_of
from tests.support.paths import ROOT

Change = Callable[..., dict[str, Any]]
SIGHT = 0.005  # of a millimetre: drawn figures are held to half a hundredth of the unit, exactly


def case(name: str) -> dict[str, Any]:
    document: dict[str, Any] = json.loads((ROOT / "cases_demo" / f"{name}.json").read_text(encoding="utf-8"))
    return document


def length(shape: Element) -> float:
    start, end = points_of(shape)
    return math.dist(start, end)


def plan(drawing: Drawn) -> Element:
    return drawing.one("plan")


def out_of_middle(drawing: Drawn, point: Point) -> float:
    return math.dist(point, (number_of(plan(drawing), "data-x"), number_of(plan(drawing), "data-y")))


TIMES = "\N{MULTIPLICATION SIGN}"
PLACES = {
    "toe": "observations__toe_fit__overhang",
    "medial_quarter": "observations__toe_fit__medial_overhang",
    "lateral_quarter": "observations__toe_fit__lateral_overhang",
    "medial_heel": "observations__heel_fit__medial__width",
    "lateral_heel": "observations__heel_fit__lateral__width",
}


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("value", [-60, -7.5, -2, -0.3, 0.3, 1.6, 4, 11, 60])
def test_iron_stands_off_the_wall_by_the_reading_times_the_factor_told(
    place: str, value: float, changed: Change
) -> None:
    drawing = drawn(changed(**{PLACES[place]: value}))
    offset = drawing.one("offset", place=place)
    scale, factor = number_of(plan(drawing), "data-scale"), number_of(plan(drawing), "data-factor")
    assert length(offset) / scale / factor == pytest.approx(abs(value), rel=0.005, abs=SIGHT / factor)
    wall, iron = points_of(offset)
    assert (out_of_middle(drawing, iron) > out_of_middle(drawing, wall)) == (value > 0)
    assert near_line(wall, points_of(drawing.one("wall", "plan"))) < 0.03
    edge = [point for each in drawing.all("outer", place=place) for point in points_of(each)]
    assert near_line(iron, edge) < 0.1
    told = "wall to scale" if factor == 1 else f"wall drawn {TIMES} {factor:.3g}"
    assert told in " ".join(drawing.said)


def test_no_reading_is_drawn_smaller_than_another_that_is_less(good: dict[str, Any]) -> None:
    drawing = drawn(good)
    offsets = {each.get("data-place"): length(each) for each in drawing.all("offset")}
    assert offsets["lateral_heel"] > offsets["medial_heel"] > offsets["lateral_quarter"] > offsets["medial_quarter"]
    assert "toe" not in offsets  # read as 0: level, so there is no distance to draw


@pytest.mark.parametrize("side", ["medial", "lateral"])
@pytest.mark.parametrize("value", [-60, -12, -3, 0.5, 12, 20, 31, 110])
def test_a_branch_ends_past_the_buttress_by_its_length(side: str, value: float, changed: Change) -> None:
    drawing = drawn(changed(**{f"observations__heel_fit__{side}__length": value}))
    scale, factor = number_of(plan(drawing), "data-scale"), number_of(plan(drawing), "data-length-factor")
    wall = points_of(drawing.one("wall", "plan"))
    buttress = wall[0 if side == "medial" else -1]
    ends = {y for _, y in points_of(drawing.one("edge end", place=f"{side}_heel"))}
    (end,) = ends  # the branch is cut off square
    assert (end - buttress[1]) / scale / factor == pytest.approx(value, rel=0.005, abs=SIGHT / factor)


def test_branch_length_is_to_scale_unless_the_drawing_says_otherwise(good: dict[str, Any], changed: Change) -> None:
    usual = drawn(good)
    assert number_of(plan(usual), "data-length-factor") == 1
    assert f"branch length {TIMES}" not in " ".join(usual.said)
    far = drawn(changed(observations__heel_fit__medial__length=60))
    assert number_of(plan(far), "data-length-factor") < 1
    assert f"branch length {TIMES} 0.25" in " ".join(far.said)


@pytest.mark.parametrize("foot", ["left_fore", "right_hind"])
def test_bare_and_marked_arcs_begin_and_end_at_their_angles(foot: str, changed: Change) -> None:
    arcs = [[-150, -61.5], [-20, 33], [40, 110.25]]
    drawing = drawn(changed(foot=foot, observations__scorch__arcs=arcs))
    lateral_right = 1 if foot.startswith("left") else -1
    x, y = number_of(plan(drawing), "data-x"), number_of(plan(drawing), "data-y")
    told = {
        name: [(number_of(each, "data-from"), number_of(each, "data-to")) for each in drawing.all(name)]
        for name in ("marked", "bare")
    }
    assert told["marked"] == [(-150, -61.5), (-20, 33), (40, 110.25)]
    assert told["bare"] == [(-61.5, -20), (33, 40), (110.25, 150)]
    for each in [*drawing.all("marked"), *drawing.all("bare")]:
        ring = points_of(each)
        outer = ring[: len(ring) // 2]
        seen = [math.degrees(math.atan2(lateral_right * (px - x), y - py)) for px, py in outer]
        assert (seen[0], seen[-1]) == pytest.approx(
            (number_of(each, "data-from"), number_of(each, "data-to")), abs=0.01
        )
        assert seen == sorted(seen)
        inner = ring[len(ring) // 2 :][::-1]
        deep = [math.dist(*ends) / number_of(plan(drawing), "data-scale") for ends in zip(outer, inner, strict=True)]
        assert deep == pytest.approx([12] * len(deep), rel=0.005)  # the wall of this foot is 12 mm thick
    assert {"42°", "40°"} <= set(drawing.said)  # the longer bare stretches are told; 7 degrees are not


def test_the_wall_runs_from_heel_to_heel_with_the_toe_in_the_middle(good: dict[str, Any]) -> None:
    drawing = drawn(good)
    x, y = number_of(plan(drawing), "data-x"), number_of(plan(drawing), "data-y")
    wall = points_of(drawing.one("wall", "plan"))
    angles = [math.degrees(math.atan2(px - x, y - py)) for px, py in wall]
    assert (angles[0], angles[-1]) == pytest.approx((-150, 150), abs=0.01)
    assert min(py for _, py in wall) == pytest.approx(min(wall, key=lambda point: abs(point[0] - x))[1], abs=0.01)


@pytest.mark.parametrize("branch", ["medial", "lateral"])
def test_every_nail_comes_out_at_its_height_along_the_wall(branch: str, good: dict[str, Any]) -> None:
    good["hoof"]["wall_angle"] = 49
    drawing = drawn(good)
    wall = drawing.one(f"wall {branch}")
    scale = number_of(wall, "data-scale")
    given = {nail["hole"]: nail for nail in good["observations"]["nails"] if nail["branch"] == branch}
    lines = {each.get("data-place"): each for each in drawing.all("nail", f"wall {branch}")}
    assert set(lines) == {f"nail:{branch}:{hole}" for hole in given}
    for hole, nail in given.items():
        (x0, y0), (x1, y1) = points_of(lines[f"nail:{branch}:{hole}"])
        assert math.dist((x0, y0), (x1, y1)) / scale == pytest.approx(nail["exit_height"], rel=0.005)
        assert math.degrees(math.atan2(y0 - y1, abs(x1 - x0))) == pytest.approx(49, abs=0.1)


@pytest.mark.parametrize(("exit_height", "wall_height"), [(22, 70), (45, 82), (12, 88), (80, 40)])
def test_the_band_of_a_nail_is_what_the_rules_let_pass(exit_height: float, wall_height: float, changed: Change) -> None:
    drawing = drawn(
        changed(observations__nails__1__exit_height=exit_height, observations__nails__1__wall_height=wall_height)
    )
    scale = number_of(drawing.one("wall medial"), "data-scale")
    line = drawing.one("nail", "wall medial", place="nail:medial:2")
    foot = points_of(line)[0]
    ends = []
    for tick in drawing.all("free-end", "wall medial", place="nail:medial:2"):
        (x0, y0), (x1, y1) = points_of(tick)
        ends.append(math.dist(foot, ((x0 + x1) / 2, (y0 + y1) / 2)) / scale)
    # Lungwitz and Adams: 5/8 to 1 5/8 in.  The share of the wall is judged at hole 1 alone.
    assert sorted(ends) == pytest.approx([25.4 * 5 / 8, 25.4 * 13 / 8], rel=0.005)


def test_the_band_is_the_one_of_the_fittings_own_context(good: dict[str, Any]) -> None:
    book = shipped_rulebook()
    rule = book.rules["nail-high"].model_copy(update={"applies": None, "high": 30.0})
    stricter = replace(book, rules={**book.rules, "nail-high": rule})
    for nail in good["observations"]["nails"]:
        nail["wall_height"] = 100
    fitting = parse_fitting(good, book)
    assessment = assess(fitting, book)
    shown = Drawn(fitting, assessment, draw(fitting, assessment, stricter))
    assert "15.9 to 30" in shown.said
    assert "15.9 to 41.3" in drawn(good).said


def test_nail_holes_stand_as_far_back_as_they_were_read(good: dict[str, Any]) -> None:
    drawing = drawn(good)
    toe = min(y for each in drawing.all("outer") for _, y in points_of(each))
    heels = [points_of(each)[0][1] for each in drawing.all("edge end")]
    back = sum(heels) / 2
    for nail in good["observations"]["nails"]:
        corners = points_of(drawing.one("hole", place=f"nail:{nail['branch']}:{nail['hole']}"))
        middle = sum(y for _, y in corners) / 2
        assert (middle - toe) / (back - toe) == pytest.approx(nail["position"], abs=0.005)


@pytest.mark.parametrize("name", ["good-draught-fore", "traced-tight-lateral-heel", "traced-coarse-nails"])
def test_the_other_foot_is_the_mirror_image(name: str) -> None:
    document = case(name)
    sides = {"left": "right", "right": "left"}
    left_or_right, rest = document["foot"].split("_")
    one, other = drawn(document), drawn({**document, "foot": f"{sides[left_or_right]}_{rest}"})
    for within in ("plan", "wall medial", "wall lateral"):
        for group, mirrored in zip(one.all(within), other.all(within), strict=True):
            pairs = list(zip(_shapes(group), _shapes(mirrored), strict=True))
            for shape, image in pairs:
                assert shape.get("class") == image.get("class")
                across = [(360 - x, y) for x, y in points_of(shape)]
                if shape.tag.endswith(("rect", "circle")):
                    (x0, y0), (x1, y1) = across
                    across = [(x1, y0), (x0, y1)]
                apart = max((math.dist(*ends) for ends in zip(across, points_of(image), strict=True)), default=0.0)
                assert apart < 0.01
            assert len(pairs) > 5


def _shapes(group: Element) -> list[Element]:
    return [each for each in group.iter() if not each.tag.endswith("text")]


@pytest.mark.parametrize(("foot", "on_the"), [("left_fore", "right"), ("left_hind", "right"), ("right_fore", "left")])
def test_seen_from_below_the_outside_of_a_left_foot_is_on_the_right(foot: str, on_the: str, changed: Change) -> None:
    # As with one's own left hand held palm towards the eye, fingers up: the thumb, inside, is on the left.
    drawing = drawn(changed(foot=foot, observations__heel_fit__lateral__width=6))
    x, _ = points_of(drawing.one("offset", place="lateral_heel"))[0]
    assert ("right" if x > number_of(plan(drawing), "data-x") else "left") == on_the
    assert f"the lateral side on the {on_the}" in (drawing.root[1].text or "")


@pytest.mark.parametrize("foot", ["left_fore", "right_fore"])
def test_from_outside_a_left_foot_points_to_the_left(foot: str, changed: Change) -> None:
    drawing = drawn(changed(foot=foot))
    for branch in ("medial", "lateral"):
        toe = next(each for each in drawing.one(f"wall {branch}") if each.text == "toe")
        heel = next(each for each in drawing.one(f"wall {branch}") if each.text == "heel")
        assert (number_of(toe, "x") < number_of(heel, "x")) == ((foot == "left_fore") == (branch == "lateral"))


@pytest.mark.parametrize("name", ["traced-good-fore", "traced-pinch", "traced-short", "traced-coarse-nails"])
def test_traces_are_drawn_to_scale_point_by_point(name: str) -> None:
    document = case(name)
    drawing = drawn(document)
    outline = document["observations"]["outline"]
    outer = 1 if outline["lateral"] == "+x" else -1
    right = 1 if document["foot"].startswith("left") else -1
    scale, x0, y0 = (number_of(plan(drawing), f"data-{key}") for key in ("scale", "x", "y"))
    across, along = zip(*outline["hoof"], strict=True)
    middle = (max(across) + min(across)) / 2, (max(along) + min(along)) / 2
    for trace, shape in (("hoof", drawing.one("wall", "plan")), ("shoe", drawing.one("edge outer"))):
        wanted = [
            (x0 + right * outer * (x - middle[0]) * scale, y0 - (y - middle[1]) * scale) for x, y in outline[trace]
        ]
        got = points_of(shape)
        assert len(got) == len(wanted)
        assert min(max(map(math.dist, got, wanted)), max(map(math.dist, reversed(got), wanted))) < 0.01
    bar = drawing.one("scale")
    assert length(bar) / number_of(bar, "data-length") == pytest.approx(scale, rel=0.005)


def test_where_horn_lies_beyond_iron_a_traced_foot_shows_it() -> None:
    tight = drawn(case("traced-tight-lateral-heel"))
    ((x, y), *_) = [point for each in tight.all("beyond") for point in points_of(each)]
    assert (x > 180, y > number_of(plan(tight), "data-y")) == (True, True)  # lateral is on the right, heels are below
    assert drawn(case("traced-good-fore")).all("beyond") == []


def test_where_horn_lies_beyond_iron_a_sketch_shows_it(good: dict[str, Any], changed: Change) -> None:
    assert drawn(good).all("beyond") == []
    assert len(drawn(changed(observations__heel_fit__lateral__width=-2)).all("beyond")) == 1
    assert len(drawn(changed(observations__heel_fit__lateral__length=-5)).all("beyond")) == 1
