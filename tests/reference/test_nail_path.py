"""The run of the nails against drawings by hand, numeric sampling and simulation."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from fitcheck.assessment.assess import assess
from fitcheck.assessment.models import Assessment
from fitcheck.fitting.models import Fitting
from fitcheck.measure.nail_path import Run, deepest_share, depth_at, least_horn, outer_horn
from fitcheck.measure.nail_range import Known, horn_span
from fitcheck.measure.results import Span
from rules import Reading, first_rulebook, shipped_rulebook
from rules.limits import guard_factor

Changed = Callable[..., dict[str, Any]]
K = guard_factor(0.05)
PLACE = "nail:medial:1"


def known(wall: float, hole: float, height: float, u: tuple[float, float, float] = (0.5, 0.5, 0.5)) -> Known:
    return Known(
        Reading("wall_thickness", "foot", wall, u[0]),
        Reading("hole_inset", PLACE, hole, u[1]),
        Reading("exit_height", PLACE, height, u[2]),
    )


def horn_of(assessment: Assessment, quantity: str = "least_horn", place: str = PLACE) -> tuple[float, float]:
    [found] = [one for one in assessment.measurements if (one.quantity, one.place) == (quantity, place)]
    return found.value, found.u


def one_nail(wall: Any, hole: Any, height: Any, angle: Any = None, **nail: Any) -> Fitting:
    return Fitting.model_validate(
        {
            "foot": "left_fore",
            "stage": "nailed",
            "work": "draught",
            "hoof": {"wall_thickness": wall, "wall_angle": angle},
            "observations": {
                "nails": [{"branch": "medial", "hole": 1, "hole_inset": hole, "exit_height": height, **nail}]
            },
        }
    )


def sampled(wall: float, run: Run, points: int = 2001) -> tuple[float, float]:
    """Least and outer horn by drawing the nail point by point on the plane, ground to the right, height upwards."""
    share = np.linspace(0, 1, points)[:, None]
    hole = np.array([run.hole, 0.0])
    out = run.exit * np.array([math.cos(run.slope), math.sin(run.slope)])
    along = (out - hole) / np.linalg.norm(out - hole)
    inwards = np.array([along[1], -along[0]])  # square to the nail, to the right of one who looks up along it
    path = hole + share * (out - hole) + 4 * run.bow * share * (1 - share) * inwards
    depth = path @ np.array([math.sin(run.slope), -math.cos(run.slope)])
    return float(wall * math.sin(run.slope) - depth.max()), float(depth[points // 2])


walls, holes, exits = st.floats(5, 16), st.floats(0.5, 15), st.floats(15, 45)
slopes, bows = st.floats(math.radians(40), math.radians(100)), st.floats(0, 3)


@given(walls, holes, exits, slopes, bows)
def test_sampling_the_nail_point_by_point_gives_the_same_horn(
    wall: float, hole: float, height: float, slope: float, bow: float
) -> None:
    run = Run(hole, height, slope, bow)
    assume(height - hole * math.cos(slope) > 0)
    least, outer = sampled(wall, run)
    assert least_horn(wall, run) == pytest.approx(least, abs=2e-6)
    assert outer_horn(run) == pytest.approx(outer, abs=1e-9)


def test_an_upright_wall_without_bow_leaves_wall_less_hole() -> None:
    """By hand: the straight nail is deepest at its hole, so 10 less 6 is left, and 3 lies outside its middle."""
    run = Run(hole=6, exit=20, slope=math.pi / 2, bow=0)
    assert least_horn(10, run) == pytest.approx(4)
    assert outer_horn(run) == pytest.approx(3)


def test_an_upright_wall_with_a_bowed_nail_as_drawn_by_hand() -> None:
    """Hole 3 in, exit 4 up: a line of 5, its bow of 2.5 goes 2.5 x 4/5 = 2 deep.

    Depth 3 (1 - s) + 8 s (1 - s) is greatest at s = 1/2 - 3/16 = 5/16: (11/16)(3 + 5/2) = 3.78125.
    """
    run = Run(hole=3, exit=4, slope=math.pi / 2, bow=2.5)
    assert deepest_share(run) == pytest.approx(5 / 16)
    assert least_horn(10, run) == pytest.approx(10 - 3.78125)
    assert outer_horn(run) == pytest.approx(3 / 2 + 2)


def test_the_run_begins_at_the_hole_and_ends_on_the_outer_surface() -> None:
    run = Run(hole=8, exit=25, slope=math.radians(55), bow=2)
    assert depth_at(run, 0) == pytest.approx(8 * math.sin(math.radians(55)))
    assert depth_at(run, 1) == 0


def test_an_exit_below_the_hole_has_no_run_to_bow() -> None:
    run = Run(hole=10, exit=2, slope=math.radians(50), bow=2)
    assert least_horn(12, run) == pytest.approx(2 * math.sin(math.radians(50)))
    assert outer_horn(run) == pytest.approx(5 * math.sin(math.radians(50)))


@pytest.mark.parametrize(("hole", "height"), [(0, 0), (1e-200, 0), (1e-120, 1e-120), (1e-50, 0), (0, 1e-50)])
def test_where_hole_and_exit_are_one_point_the_nail_may_bow_as_deep_as_it_can(hole: float, height: float) -> None:
    """By hand: the bow at its greatest, 2 mm, off the wall's depth at 50 degrees; at none, the depth at 80 degrees."""
    inner, outer = horn_span(
        known(12, hole, height, (0, 0, 0)), Span(math.radians(50), math.radians(80)), Span(0, 2), K
    )
    assert inner == pytest.approx((12 * math.sin(math.radians(50)) - 2, 12 * math.sin(math.radians(80))))
    assert outer == pytest.approx((0, 2), abs=1e-6)
    assert outer_horn(Run(hole, height, slope=1, bow=2)) == pytest.approx(2)
    assert horn_of(assess(one_nail(12, hole, height)), "outer_horn")[1] < 1


@pytest.mark.parametrize(("hole", "height"), [(-1e-7, 0), (-1, 0), (-1, 10), (-3, 30)])
@pytest.mark.parametrize("bows", [Span(0, 0), Span(0, 2), Span(1, 2)])
def test_a_hole_outside_the_wall_is_reckoned_with_as_one_inside_it_is(hole: float, height: float, bows: Span) -> None:
    """As the single runs have it, at slopes and bows of a grid; only a yard's own range lets such a hole in."""
    slopes = Span(math.radians(50), math.radians(80))
    inner, outer = horn_span(known(12, hole, height, (0, 0, 0)), slopes, bows, K)
    runs = [Run(hole, height, slope, bow) for slope in np.linspace(*slopes, 31).tolist() for bow in bows]
    assert inner == pytest.approx((min(map(_least, runs)), max(map(_least, runs))), abs=1e-3)
    assert outer == pytest.approx((min(map(outer_horn, runs)), max(map(outer_horn, runs))), abs=1e-3)


def _least(run: Run) -> float:
    return least_horn(12, run)


@given(walls, holes, exits, st.tuples(*[st.floats(0, 2)] * 3), st.floats(40, 95), st.floats(0, 30), st.floats(0, 3))
def test_both_spans_are_widened_by_the_largest_uncertainty_over_slopes_and_bows(
    wall: float, hole: float, height: float, u: tuple[float, float, float], least: float, width: float, bow: float
) -> None:
    """JCGM 100, 5.1.2, with slopes of least and outer horn taken by differences, at slopes and bows of a grid."""
    angles, bends = Span(math.radians(least), math.radians(min(100, least + width))), Span(0, bow)
    assume(height - hole > 0.5)
    step = 1e-4

    def largest(of: Callable[[float, Run], float]) -> float:
        found = 0.0
        for slope in np.linspace(angles.low, angles.high, 6).tolist():
            for bend in (0.0, bow):
                run = Run(hole, height, slope, bend)
                turns = (
                    (of(wall + step, run) - of(wall - step, run)) / (2 * step),
                    (of(wall, run._replace(hole=hole + step)) - of(wall, run._replace(hole=hole - step))) / (2 * step),
                    (of(wall, run._replace(exit=height + step)) - of(wall, run._replace(exit=height - step)))
                    / (2 * step),
                )
                found = max(found, math.hypot(*(turn * each for turn, each in zip(turns, u, strict=True))))
        return found

    sure_inner, sure_outer = horn_span(known(wall, hole, height, (0, 0, 0)), angles, bends, 1)
    inner, outer = horn_span(known(wall, hole, height, u), angles, bends, 1)
    assert inner.high - sure_inner.high == pytest.approx(largest(least_horn), rel=1e-2, abs=1e-3)
    assert outer.high - sure_outer.high == pytest.approx(largest(lambda _, run: outer_horn(run)), rel=1e-2, abs=1e-3)


@pytest.mark.parametrize("wall", [9.5, 12.7, 15.9])
@pytest.mark.parametrize("height", [22, 28, 34])
def test_a_hole_as_deep_as_the_wall_is_thick_is_right(wall: float, height: float) -> None:
    """LA 110, HU 60: as deep as the wall at the nail; LA 53 (Mayer): 9.5 to 15.9 mm.  Nails of everyday height."""
    assessment = assess(one_nail(None, wall, height, wall_thickness=wall))
    assert {"nail-horn-none", "nail-horn-thin", "hole-inside"}.isdisjoint(each.rule for each in assessment.findings)
    value, u = horn_of(assessment)
    assert value - K * u > 0
    [line] = [each.value for each in assessment.measurements if each.quantity == "to_white_line"]
    assert line == 0


def test_from_the_ground_the_first_contract_calls_such_a_hole_close() -> None:
    assessment = assess(one_nail(11, 11, 25, sound="firm", reaction="none", blood=False), first_rulebook())
    assert "nail-horn-none" in {finding.rule for finding in assessment.findings}
    assert assessment.decision == "stop_and_refer"


@given(walls, holes, exits, slopes, bows, st.floats(1, 25))
def test_sampling_from_a_height_on_gives_the_same_horn(
    wall: float, hole: float, height: float, slope: float, bow: float, start: float
) -> None:
    """The nail drawn point by point; of its points those count that lie as high as the sole's inner face."""
    run = Run(hole, height, slope, bow)
    assume(height - hole * math.cos(slope) > 1)
    share = np.linspace(0, 1, 8001)[:, None]
    at_hole, out = np.array([hole, 0.0]), height * np.array([math.cos(slope), math.sin(slope)])
    along = (out - at_hole) / np.linalg.norm(out - at_hole)
    path = at_hole + share * (out - at_hole) + 4 * bow * share * (1 - share) * np.array([along[1], -along[0]])
    depth = path @ np.array([math.sin(slope), -math.cos(slope)])
    high = path[:, 1] >= start
    # Below that height at its end, the nail never comes to it.
    deepest = float(depth[high].max()) if high.any() else 0.0
    assert least_horn(wall, run, start) == pytest.approx(wall * math.sin(slope) - deepest, abs=2e-2)


@given(walls, holes, exits, slopes, bows, st.floats(0, 20), st.floats(0, 10))
def test_a_thicker_sole_never_lessens_the_horn(
    wall: float, hole: float, height: float, slope: float, bow: float, start: float, thicker: float
) -> None:
    run = Run(hole, height, slope, bow)
    assert least_horn(wall, run, start + thicker) >= least_horn(wall, run, start) - 1e-9


@pytest.mark.parametrize(
    ("bad", "decision"),
    [
        ({"reaction": "flinch"}, "stop_and_refer"),
        ({"blood": True}, "stop_and_refer"),
        ({"sound": "soft"}, "put_right"),  # LA 130: drawn at once
        ({"sound": "soft", "reaction": "flinch"}, "stop_and_refer"),
    ],
)
@pytest.mark.parametrize("hole", [9, 11, 13])
def test_a_flinch_or_blood_stops_and_a_soft_nail_is_drawn_whatever_the_sum_says(
    bad: dict[str, Any], decision: str, hole: float
) -> None:
    assessment = assess(one_nail(15, hole, 25, wall_thickness=15, **bad))
    assert horn_of(assessment)[0] > 3
    assert not {"nail-horn-thin"} & {finding.rule for finding in assessment.findings}
    assert assessment.decision == decision
    assert shipped_rulebook().remarks["nail_path"].text in assessment.remarks
    assert "outranks" in shipped_rulebook().remarks["nail_path"].text


@pytest.mark.parametrize("missing", ["wall", "hole", "height"])
def test_without_wall_hole_or_exit_nothing_is_reckoned(missing: str) -> None:
    given_ = {"wall": 12, "hole": 8, "height": 25} | {missing: None}
    assessment = assess(one_nail(**given_))
    assert not {"least_horn", "outer_horn"} & {one.quantity for one in assessment.measurements}
    assert assessment.remarks == ()


def test_a_measured_slope_stands_instead_of_the_range() -> None:
    ranged, steep = (
        horn_of(assess(one_nail(12, 8, 25, angle), first_rulebook())) for angle in (None, {"value": 75, "u": 0})
    )
    assert steep[1] < ranged[1]
    assert steep[0] == pytest.approx(4 * math.sin(math.radians(75)), abs=0.1)


@settings(max_examples=40)
@given(walls, holes, exits, st.floats(40, 95), st.floats(0, 30), bows, st.floats(0, 2))
def test_the_range_holds_every_slope_and_bow_in_it_and_no_more(
    wall: float, hole: float, height: float, least: float, width: float, bow: float, more: float
) -> None:
    """Brute force over a grid of slopes and bows."""
    angles = Span(math.radians(least), math.radians(min(100, least + width)))
    inner, outer = horn_span(known(wall, hole, height), angles, Span(bow, bow + more), 0)
    runs = [
        Run(hole, height, float(slope), float(bend))
        for slope in np.linspace(angles.low, angles.high, 61)
        for bend in np.linspace(bow, bow + more, 3)
    ]
    horns, outers = [least_horn(wall, run) for run in runs], [outer_horn(run) for run in runs]
    # The grid misses an extreme between two slopes by less than its own steps do.
    assert inner.low == pytest.approx(min(horns), abs=2e-3)
    assert inner.high == pytest.approx(max(horns), abs=2e-3)
    assert inner.low <= min(horns) + 1e-6
    assert inner.high >= max(horns) - 1e-6
    assert outer.low <= min(outers) + 1e-6
    assert outer.high >= max(outers) - 1e-6
    assert outer.low == pytest.approx(min(outers), abs=2e-3)
    assert outer.high == pytest.approx(max(outers), abs=2e-3)


@given(walls, holes, exits, slopes, bows, st.floats(0, 5), st.floats(0, 1), st.floats(0, 3))
def test_a_thicker_wall_or_a_finer_hole_never_lessens_the_horn_and_more_bow_never_adds_any(
    wall: float, hole: float, height: float, slope: float, bow: float, thicker: float, share: float, further: float
) -> None:
    run = Run(hole, height, slope, bow)
    before = least_horn(wall, run)
    assert least_horn(wall + thicker, run) >= before - 1e-9
    assert least_horn(wall, run._replace(bow=bow + further)) <= before + 1e-9
    # Where the nail runs up the wall at least twice as far as it bows; any shorter, and no nail could be clinched.
    assume(height - hole * math.cos(slope) >= 2 * bow)
    assert least_horn(wall, run._replace(hole=hole * share)) >= before - 1e-9


@given(walls, holes, exits, st.tuples(*[st.floats(0, 2)] * 3), st.tuples(*[st.floats(0, 2)] * 3), st.floats(0, 10))
def test_more_uncertainty_never_makes_the_guarded_limit_quieter(
    wall: float,
    hole: float,
    height: float,
    u: tuple[float, float, float],
    more: tuple[float, float, float],
    wider: float,
) -> None:
    angles, bends = Span(math.radians(55), math.radians(65)), Span(0, 2)
    before, _ = horn_span(known(wall, hole, height, u), angles, bends, K)
    less_sure = (u[0] + more[0], u[1] + more[1], u[2] + more[2])
    after, _ = horn_span(known(wall, hole, height, less_sure), angles, bends, K)
    assert after.low <= before.low + 1e-9
    wide = Span(angles.low - math.radians(wider), angles.high + math.radians(wider))
    assert horn_span(known(wall, hole, height, u), wide, bends, K)[0].low <= before.low + 1e-6


@pytest.mark.parametrize(
    ("wall", "hole", "height", "angle", "bow"),
    [(12, 8, 25, 60, 0), (12, 8, 25, 60, 2), (14, 4, 20, 75, 2), (11, 5, 18, 50, 1.5), (12, 3, 16, 90, 2.5)],
)
def test_a_simulation_of_the_readings_spreads_the_horn_as_far_as_is_said(
    wall: float, hole: float, height: float, angle: float, bow: float
) -> None:
    """JCGM 101:2008, propagation of distributions, slope and bow held fast."""
    u = (0.4, 0.3, 0.5)
    slope = math.radians(angle)
    inner, outer = horn_span(known(wall, hole, height, u), Span(slope, slope), Span(bow, bow), K)
    rng = np.random.default_rng(5)
    drawn = [
        (least_horn(w, Run(d, h, slope, bow)), outer_horn(Run(d, h, slope, bow)))
        for w, d, h in zip(
            rng.normal(wall, u[0], 20_000).tolist(),
            rng.normal(hole, u[1], 20_000).tolist(),
            rng.normal(height, u[2], 20_000).tolist(),
            strict=True,
        )
    ]
    inner_spread, outer_spread = np.std(drawn, axis=0)
    assert (inner.high - inner.low) / (2 * K) == pytest.approx(float(inner_spread), rel=0.1)
    assert (outer.high - outer.low) / (2 * K) == pytest.approx(float(outer_spread), rel=0.1)


def test_the_guarded_bound_is_below_all_but_a_few_of_what_can_be() -> None:
    """JCGM 101:2008: readings drawn with their u, slope and bow evenly over the rulebook's ranges."""
    book = shipped_rulebook()
    angle, bend = book.parameters["wall_angle"], book.parameters["nail_bow"]
    assert None not in (angle.low, angle.high, bend.low, bend.high)
    value, u = horn_of(assess(one_nail(12, 8, 25), first_rulebook()))
    rng = np.random.default_rng(6)
    drawn = [
        least_horn(w, Run(d, h, math.radians(a), b))
        for w, d, h, a, b in zip(
            rng.normal(12, 0.5, 4000).tolist(),
            rng.normal(8, 0.5, 4000).tolist(),
            rng.normal(25, 0.5, 4000).tolist(),
            rng.uniform(angle.low or 0, angle.high or 0, 4000).tolist(),
            rng.uniform(bend.low or 0, bend.high or 0, 4000).tolist(),
            strict=True,
        )
    ]
    assert sum(one < value - K * u for one in drawn) / len(drawn) <= 0.05
