"""The wall at each nail, and each hole against the white line, by hand and by the published range of LA 53."""

from __future__ import annotations

from typing import Any

import pytest

from fitcheck.assessment.assess import assess
from fitcheck.assessment.models import Assessment
from fitcheck.fitting.models import Fitting
from rules.limits import guard_factor

K = guard_factor(0.05)
PLACE = "nail:medial:1"


def least(assessment: Assessment, place: str = PLACE) -> float:
    """The least horn to the quick that there can be."""
    [found] = [each for each in assessment.measurements if (each.quantity, each.place) == ("least_horn", place)]
    return found.value - K * found.u


def foot_with(hoof: dict[str, Any], foot: str = "left_fore", **nail: Any) -> Assessment:
    """A nail in the medial branch, its hole 9 mm in, that comes out at 25 mm."""
    nails = [{"branch": "medial", "hole": 1, "hole_inset": 9, "exit_height": 25, **nail}]
    return assess(
        Fitting.model_validate(
            {"foot": foot, "stage": "nailed", "work": "draught", "hoof": hoof, "observations": {"nails": nails}}
        )
    )


def line_of(assessment: Assessment, place: str = PLACE) -> tuple[float, float]:
    [found] = [each for each in assessment.measurements if (each.quantity, each.place) == ("to_white_line", place)]
    return found.value, found.u


def test_the_wall_measured_at_the_nail_stands_before_all_else() -> None:
    own = foot_with({"wall_thickness": 14, "quarter_thickness": 12}, wall_thickness=9)
    assert line_of(own)[0] == 0
    assert least(own) == least(foot_with({}, wall_thickness=9))


def test_between_toe_and_quarter_the_wall_is_taken_by_the_nails_place() -> None:
    """By hand: 12 mm at the toe and 8 at the quarters, 10 half way at a quarter of the shoe's length, less 9."""
    half = foot_with({"wall_thickness": 12, "quarter_thickness": 8}, position=0.25)
    assert line_of(half)[0] == pytest.approx(1.0, abs=1e-3)
    assert line_of(foot_with({"wall_thickness": 12, "quarter_thickness": 8}, position=0.5))[0] == pytest.approx(-1)
    assert line_of(foot_with({"wall_thickness": 12, "quarter_thickness": 8}, position=0))[0] == pytest.approx(3)


@pytest.mark.parametrize(("foot", "low", "high"), [("left_fore", 0.59, 0.68), ("left_hind", 0.9, 1.0)])
def test_from_the_toe_alone_the_quarters_follow_by_the_published_range(foot: str, low: float, high: float) -> None:
    """LA 53 (Mayer): 2/8 to 3/8 over 3/8 to 5/8 in before, nearly equal behind (common practice, no source: 0.9)."""
    value, u = line_of(
        foot_with({"wall_thickness": {"value": 12, "u": 0}}, foot, position=0.5, hole_inset={"value": 8, "u": 0})
    )
    assert value - K * u == pytest.approx(12 * low - 8, abs=1e-3)
    assert value + K * u == pytest.approx(12 * high - 8, abs=1e-3)


def test_without_its_position_a_nail_may_stand_anywhere_that_its_hole_can() -> None:
    """The number of the hole says how far back: the worst of it counts."""
    for hole, shares in ((1, (0.16, 0.26)), (4, (0.64, 1.0))):
        nail: dict[str, Any] = {"hole": hole, "hole_inset": {"value": 8, "u": 0}}
        assessed = foot_with({"wall_thickness": {"value": 12, "u": 0}}, **nail)
        value, u = line_of(assessed, f"nail:medial:{hole}")
        assert value - K * u == pytest.approx(12 * (1 - shares[1] * (1 - 0.59)) - 8, abs=1e-3)
        assert value + K * u == pytest.approx(12 * (1 - shares[0] * (1 - 0.68)) - 8, abs=1e-3)


def test_a_thinner_quarter_never_leaves_more_horn() -> None:
    thick, thin = (foot_with({"wall_thickness": 12, "quarter_thickness": at}, position=0.4) for at in (11, 8))
    assert least(thin) < least(thick)


def told(*, nail: float | None = None, shoe: float | None = None, stage: str = "nailed", **more: Any) -> Assessment:
    """A hole whose place was told beside the nail, in the shoe, or both."""
    raw: dict[str, Any] = {"foot": "left_fore", "stage": stage, "work": "draught", "observations": {}, **more}
    if nail is not None:
        raw["observations"]["nails"] = [{"branch": "medial", "hole": 1, "to_white_line": nail}]
    if shoe is not None:
        raw["shoe"] = {"holes": [{"branch": "medial", "hole": 1, "to_white_line": shoe}]}
    return assess(Fitting.model_validate(raw))


@pytest.mark.parametrize(("nail", "shoe", "counts"), [(0, -3, -3), (-3, 0, -3), (0.5, 1, 0.5)])
def test_of_two_tellings_of_one_hole_the_worst_counts(nail: float, shoe: float, counts: float) -> None:
    assert line_of(told(nail=nail, shoe=shoe))[0] == counts


def test_where_two_tellings_of_one_hole_differ_it_is_told() -> None:
    rules = {each.rule for each in told(nail=0, shoe=-3).findings}
    assert "readings-disagree" in rules
    assert "readings-disagree" not in {each.rule for each in told(nail=0, shoe=-0.5).findings}
    [check] = [each for each in told(nail=0, shoe=-3).findings if each.rule == "readings-disagree"]
    assert (check.criterion, check.place) == ("nails", PLACE)
    assert check.measured is not None
    assert check.measured.where == "beside the nail 0 mm, in the shoe -3 mm from the white line"


def test_a_hole_far_inside_is_put_right_before_the_nail_and_stops_after_it() -> None:
    """LA 120: exactly on the white line, none inside; 2 mm: common practice, no source."""
    before, after = told(shoe=-2.5, stage="hot_fit"), told(nail=-2.5)
    assert [each.rule for each in before.findings] == ["hole-far-inside"]
    assert before.decision == "put_right"
    assert "nailed-far-inside" in {each.rule for each in after.findings}
    assert after.decision == "stop_and_refer"


@pytest.mark.parametrize("sole", [2, 11])
def test_a_nail_that_comes_out_on_the_ground_leaves_the_horn_to_be_computed(sole: float) -> None:
    """It never comes to the quick; such an exit is a slip, and no reason to fail."""
    found = foot_with({"wall_thickness": 11, "sole_thickness": sole}, exit_height=0)
    assert {"least_horn", "outer_horn"} <= {each.quantity for each in found.measurements}
