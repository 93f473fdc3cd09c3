"""What the outline measure refuses, which field it names, and in which words."""

from __future__ import annotations

import contextlib
import math
import time
from typing import Any

import pytest

from fitcheck.assessment.assess import assess
from fitcheck.errors import BadInput, Problem
from fitcheck.explanation.explain import explain
from fitcheck.fitting.validation import parse_fitting
from fitcheck.measure.traces import FEWEST
from tests.support.outlines import Points, arc, branches, ellipse, fitting, results

HOOF, SHOE = branches(60, 75, -62), branches(62.5, 77, -73)


def refused(
    hoof: Points, shoe: Points, holes: Points | None = None, nails: list[tuple[str, int]] | None = None
) -> list[Problem]:
    """The problems with these traces, of which there must be some."""
    with pytest.raises(BadInput) as caught:
        assess(fitting(hoof, shoe, holes=holes, nails=nails or []))
    return list(caught.value.problems)


def only(problems: list[Problem], field: str) -> str:
    """The detail of the one problem, which must be with this field of the outline."""
    assert [problem.field for problem in problems] == [f"observations.outline.{field}"]
    return problems[0].detail


def test_a_trace_of_fewer_than_twenty_points_is_refused_and_twenty_are_enough() -> None:
    assert "19" in only(refused(arc(70, FEWEST - 1), arc(72, 40)), "hoof")
    assert results(arc(70, FEWEST), arc(72, FEWEST))


def test_a_trace_of_no_point_is_refused_as_too_coarse() -> None:
    assert only(refused([], SHOE), "hoof") == "A trace of 0 is too coarse."
    assert only(refused(HOOF, []), "shoe") == "A trace of 0 is too coarse."


def test_a_trace_of_one_point_again_and_again_is_refused() -> None:
    assert "again and again" in only(refused(HOOF, [[1.0, 2.0]] * 30), "shoe")
    padded = [point for point in arc(72, 10) for _ in range(4)]
    assert "again and again" in only(refused(HOOF, padded), "shoe")


def test_points_that_stand_twice_in_succession_count_once() -> None:
    doubled = [point for point in SHOE for _ in range(2)]
    assert {key: r.value for key, r in results(HOOF, doubled).items()} == {
        key: r.value for key, r in results(HOOF, SHOE).items()
    }


def test_a_trace_on_one_straight_line_is_refused() -> None:
    assert "is a line" in only(refused([[0.0, y * 5.0] for y in range(30)], SHOE), "hoof")


def test_a_trace_that_crosses_itself_is_refused_and_the_place_is_named() -> None:
    crossed = [list(point) for point in SHOE]
    crossed[10], crossed[14] = crossed[14], crossed[10]
    assert "crosses or touches itself near (-62" in only(refused(HOOF, crossed), "shoe")


def test_a_trace_once_over_itself_is_refused() -> None:
    assert "crosses or touches itself" in only(refused([*HOOF, *HOOF[::-1]], SHOE), "hoof")


@pytest.mark.parametrize("turned", ["hoof", "shoe"])
def test_a_trace_turned_round_is_refused(turned: str) -> None:
    round_about = [[-x, -y] for x, y in (HOOF if turned == "hoof" else SHOE)]
    problems = refused(round_about, SHOE) if turned == "hoof" else refused(HOOF, round_about)
    assert "turned round" in only(problems, turned)


def test_a_trace_lying_sideways_is_refused() -> None:
    assert "sideways" in only(refused([[y, -x] for x, y in HOOF], SHOE), "hoof")


def test_closed_traces_turned_round_are_told_by_their_nail_holes() -> None:
    holes = [[-52.0, -30.0], [-53.0, -10.0], [52.0, -30.0], [53.0, -10.0]]
    assert "turned round" in only(refused(arc(70, 60, 177), arc(72, 60, 177), holes), "nail_holes")


@pytest.mark.parametrize(
    ("scale", "word", "size"), [(0.05, "small", "6.85"), (0.1, "small", "13.7"), (10, "large", "1370")]
)
def test_a_foot_in_the_wrong_unit_is_refused(scale: float, word: str, size: str) -> None:
    traced = [[x * scale, y * scale] for x, y in HOOF]
    detail = only(refused(traced, SHOE), "hoof")
    assert f"{size} mm from end to end is far too {word}" in detail
    assert "check the unit" in detail


def test_both_traces_are_complained_of_at_once() -> None:
    tiny = [[x / 10, y / 10] for x, y in HOOF]
    assert [problem.field for problem in refused(tiny, tiny)] == [
        "observations.outline.hoof",
        "observations.outline.shoe",
    ]


def test_traces_that_were_not_drawn_in_one_frame_are_refused() -> None:
    assert results(HOOF, [[x, y - 50] for x, y in SHOE])
    assert "one frame" in only(refused(HOOF, [[x, y - 70] for x, y in SHOE]), "shoe")


def test_half_a_foot_is_refused() -> None:
    half = [point for point in HOOF if point[0] >= 0]
    assert "both heels" in only(refused(half, SHOE), "hoof")
    closed = [*half, *([0.0, y] for y in range(-60, 75, 3))]
    assert "one side of the midline of the shoe" in only(refused(closed, SHOE), "hoof")
    across_the_heels = [*HOOF[8:], *([float(x), -70.0] for x in range(58, -24, -4))]
    assert "Both ends of the trace lie on one side" in only(refused(across_the_heels, SHOE), "hoof")


def test_a_wall_that_is_traced_only_to_one_quarter_is_refused() -> None:
    hoof = [[x, y] for x, y in HOOF if x < 0 or y > -5]
    assert "does not come round to the lateral heel" in only(refused(hoof, SHOE), "hoof")


@pytest.mark.parametrize("hole", [[61.0, 0.0], [80.0, 0.0], [0.0, 90.0]])
def test_a_nail_hole_outside_the_foot_is_refused_by_its_number(hole: list[float]) -> None:
    assert "outside the hoof" in only(refused(HOOF, SHOE, [[52.0, 0.0], hole]), "nail_holes.1")


def test_a_nail_hole_outside_the_shoe_is_refused() -> None:
    narrow = branches(50, 70, -73)
    assert "outside the shoe" in only(refused(HOOF, narrow, [[52.0, 0.0]]), "nail_holes.0")


def test_a_nail_hole_given_twice_is_refused() -> None:
    assert "given twice" in only(refused(HOOF, SHOE, [[52.0, 20.0], [52.0, 20.0]]), "nail_holes.1")


def test_a_nail_hole_at_or_behind_the_buttress_is_refused() -> None:
    behind = [[49.0, 30.0], [15.0, -60.0], [-49.0, 30.0]]
    detail = only(refused(arc(70, 60, 177), arc(72, 60, 177), behind), "nail_holes.1")
    assert "The last lateral hole lies at the buttress or behind it" in detail
    # Inside an open trace, yet nearest to its end.
    toed_in = [*HOOF, [55.0, -66.0], [45.0, -69.0]]
    at_end = [[52.0, 20.0], [42.0, -66.0]]
    assert "lies at the buttress" in only(refused(toed_in, SHOE, at_end), "nail_holes.1")


def test_a_nail_in_a_hole_that_was_not_traced_may_mean_that_the_sides_are_mixed_up() -> None:
    holes = [[52.0, 20.0], [53.0, 0.0], [-52.0, 20.0]]
    assert results(HOOF, SHOE, holes=holes, nails=[("lateral", 2)])
    with pytest.raises(BadInput) as caught:
        results(HOOF, SHOE, holes=holes, nails=[("lateral", 1), ("medial", 2)])
    (problem,) = caught.value.problems
    assert problem.field == "observations.nails.1.hole"
    assert "check which side is lateral" in problem.detail


def test_holes_on_one_side_only_are_taken_as_they_are() -> None:
    table = results(HOOF, SHOE, holes=[[52.0, 20.0], [53.0, 0.0]])
    assert ("width", "medial_heel") in table
    assert ("width", "lateral_heel") in table


def test_a_hole_too_far_in_for_a_nail_is_refused_with_what_is_possible() -> None:
    with pytest.raises(BadInput) as caught:
        results(HOOF, SHOE, holes=[[10.0, 25.0]], nails=[("lateral", 1)])
    (problem,) = caught.value.problems
    assert problem.field == "observations.outline"
    assert problem.allowed == "a hole inset from 0 to 40"


def test_a_trace_closes_when_its_ends_nearly_meet_and_stays_open_at_heels_a_hand_apart() -> None:
    circle = arc(70, 60, 170)
    gap = 2 * 70 * math.sin(math.radians(10))
    assert gap == pytest.approx(24.3, abs=0.1)
    # Closed, the wall ends at 150 degrees; open, where the trace ends.
    closed = results(circle, branches(72, 74, -75))
    assert closed["length", "medial_heel"].value == pytest.approx(75 + 70 * math.cos(math.radians(150)), abs=0.6)
    opened = results(arc(70, 60, 160), branches(72, 74, -75))
    assert opened["length", "medial_heel"].value == pytest.approx(75 + 70 * math.cos(math.radians(160)), abs=0.01)


def test_without_an_outline_nothing_is_measured() -> None:
    foot = fitting(HOOF, SHOE)
    bare = foot.model_copy(update={"observations": foot.observations.model_copy(update={"outline": None})})
    assert not any(reading.place == "toe" for reading in assess(bare).measurements)


def test_a_trace_that_goes_to_and_fro_is_refused_before_it_is_measured() -> None:
    def zigzag(depth: float) -> Points:
        return [
            [radius * math.sin(math.radians(angle)), radius * math.cos(math.radians(angle))]
            for number in range(2000)
            for angle, radius in [(-150 + 300 * number / 1999, 70 - depth * (number % 2))]
        ]

    assert "to and fro" in only(refused(zigzag(30), SHOE), "hoof")
    assert "to and fro" in only(refused(HOOF, zigzag(8)), "shoe")
    # A hand that shakes by as much as the points lie apart is none.
    assert results(zigzag(0.4), arc(72, 40))


def _turned(points: Points, degrees: float) -> Points:
    turn = math.radians(degrees)
    return [[x * math.cos(turn) - y * math.sin(turn), x * math.sin(turn) + y * math.cos(turn)] for x, y in points]


def _framed(how: str) -> dict[str, Any]:
    """The outline of one good foot, traced all round with its buttresses named, in a frame that is wrong."""
    hoof, shoe = ellipse(62, 70, 90), branches(64.5, 71, -76)
    buttresses = {"medial": [-31.0, -60.6], "lateral": [31.0, -60.6]}
    if how == "swapped sides":
        buttresses = {"medial": buttresses["lateral"], "lateral": buttresses["medial"]}
    degrees = {"toe down": 180.0, "sideways": 90.0, "askew": 30.0}.get(how, 0.0)
    named = dict(zip(buttresses, _turned(list(buttresses.values()), degrees), strict=True))
    return {
        "hoof": _turned(hoof, degrees),
        "shoe": _turned(shoe, degrees),
        "lateral": "+x",
        "buttresses": named | ({"lateral": [10.0, -50.0]} if how == "buttress inside" else {}),
        "scale": {"from": [0, 0], "to": [0, 45 if how == "false scale" else 100], "mm": 100},
    }


@pytest.mark.parametrize(
    ("how", "says"),
    [
        ("toe down", "turned round"),
        ("sideways", "lies"),
        ("askew", "askew"),
        ("swapped sides", "swapped"),
        ("buttress inside", "off the traced border"),
        ("false scale", "100 mm are 45 in the frame"),
    ],
)
def test_a_frame_that_is_wrong_is_refused_in_a_clear_sentence(how: str, says: str) -> None:
    body = {"foot": "left_fore", "stage": "hot_fit", "work": "draught"}
    good = parse_fitting({**body, "observations": {"outline": _framed("right")}})
    assert {each.quantity for each in assess(good).measurements} >= {"length", "width"}
    with pytest.raises(BadInput) as caught:
        assess(parse_fitting({**body, "observations": {"outline": _framed(how)}}))
    assert says in caught.value.problems[0].detail
    assert len({problem.field for problem in caught.value.problems}) == len(caught.value.problems)


@pytest.mark.parametrize(("length", "found"), [(150, False), (140, False), (200, True), (75, True)])
def test_a_trace_of_another_scale_than_the_shoe_that_was_measured_blocks(length: float, found: bool) -> None:  # noqa: FBT001
    foot = fitting(branches(60, 75, -62), branches(62.4, 75.5, -74), shoe_size={"length": length, "thickness": 11})
    judged = assess(foot)
    assert ("trace-scale-false" in {finding.rule for finding in judged.findings}) is found
    assert judged.decision == ("put_right" if found else "incomplete")


def test_a_hostile_outline_of_two_thousand_points_is_done_with_within_half_a_second() -> None:
    def zigzag(radius: float, depth: float) -> Points:
        turns = [math.radians(-150 + 300 * number / 1999) for number in range(2000)]
        return [
            [(radius - depth * (number % 2)) * math.sin(turn), (radius - depth * (number % 2)) * math.cos(turn)]
            for number, turn in enumerate(turns)
        ]

    for depth in (0.3, 1.0, 3.0, 30.0):
        foot = fitting(zigzag(70, depth), zigzag(72.5, depth))
        taken = []
        for _ in range(2):
            start = time.process_time()
            with contextlib.suppress(BadInput):
                explain(foot)
            taken.append(time.process_time() - start)
        assert min(taken) < 0.5
