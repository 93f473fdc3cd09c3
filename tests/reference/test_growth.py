"""The next visit against published growth, a worked case and simulation."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitcheck.assessment.assess import assess
from fitcheck.assessment.models import Assessment, NextDue
from fitcheck.errors import BadInput
from fitcheck.fitting.input_value import MeasuredValue
from fitcheck.fitting.models import Fitting
from fitcheck.measure.dates import DAYS_IN_A_MONTH
from fitcheck.measure.growth import Drift, days_covered, days_covered_u
from fitcheck.report.terminal import render
from rules import shipped_rulebook
from rules.limits import guard_factor

Changed = Callable[..., dict[str, Any]]
K = guard_factor(0.05)
THIRD_OF_AN_INCH = 25.4 / 3
FITTED = date(2026, 3, 4)


def fitting(
    medial: Any, lateral: Any, *, drop: Any = None, angle: Any = None, history: dict[str, Any] | None = None
) -> Fitting:
    """A foot with these branch lengths; ``drop`` of the old nail holes over the six weeks before."""
    dates = {"last_shod": (FITTED - timedelta(days=42)).isoformat(), "fitted": FITTED.isoformat()}
    return Fitting.model_validate(
        {
            "foot": "left_fore",
            "stage": "finished",
            "work": "draught",
            "hoof": {"wall_angle": angle},
            "observations": {
                "heel_fit": {"medial": {"length": medial}, "lateral": {"length": lateral}},
                "history": dates | {"old_hole_drop": drop} if history is None else history,
            },
        }
    )


def due(assessment: Assessment) -> NextDue:
    assert assessment.next_due is not None
    return assessment.next_due


def support(assessment: Assessment) -> dict[str, tuple[float, float]]:
    return {one.place: (one.value, one.u) for one in assessment.measurements if one.quantity == "heel_support_left"}


def test_six_weeks_at_the_published_mean_use_up_12_mm_of_a_heel_on_a_flat_wall() -> None:
    """LA: a third of an inch in a month, so about 11.7 mm in six weeks; along the ground if the wall lay flat."""
    assert days_covered(11.7, THIRD_OF_AN_INCH) == pytest.approx(42, rel=2e-3)
    low, high = 25.4 / 6, 25.4 / 2
    assert days_covered(11.7, high) < 42 < days_covered(11.7, low)


def test_the_published_range_of_growth_is_what_is_reckoned_with() -> None:
    """LA: a sixth to a half of an inch in a month, a third in the mean."""
    growth = shipped_rulebook().parameters["growth"]
    assert growth.low == pytest.approx(25.4 / 6, abs=0.05)
    assert growth.high == pytest.approx(25.4 / 2, abs=0.05)
    assert growth.value == pytest.approx(THIRD_OF_AN_INCH, abs=0.05)


def test_a_wall_at_60_degrees_carries_the_shoe_forward_by_half_of_its_growth() -> None:
    """By hand: 11.7 mm in 42 days at 60 degrees is 5.85 mm forward, so 8 mm last 42 x 8 / 5.85 = 57.4 days."""
    sure = {"value": 11.7, "u": 0}
    assessment = assess(fitting({"value": 8, "u": 0}, {"value": 4, "u": 0}, drop=sure, angle={"value": 60, "u": 0}))
    days = support(assessment)
    assert days["medial_heel"] == pytest.approx((42 * 8 / 5.85, 0), abs=1e-3)
    assert days["lateral_heel"] == pytest.approx((42 * 4 / 5.85, 0), abs=1e-3)
    first = due(assessment)
    assert (first.reason, first.place, first.days, first.date) == ("heel_support", "lateral_heel", 28, "2026-04-01")
    assert "2026-04-01" in first.say
    assert "28 days" in first.say
    assert "the lateral heel" in first.say


def test_a_long_branch_leaves_the_interval_to_end_first() -> None:
    first = due(assess(fitting(20, 20, drop=11.7, angle=55)))
    assert (first.reason, first.place, first.days, first.u) == ("interval", "foot", 42, 0)
    assert first.date == "2026-04-15"
    assert "42 days" in first.say


def test_the_date_is_taken_at_the_cautious_end_of_growth_and_slope() -> None:
    assessment = assess(fitting({"value": 6, "u": 0}, 20, drop={"value": 12, "u": 1}, angle={"value": 55, "u": 2}))
    a_month = 42 / DAYS_IN_A_MONTH
    fastest = (12 + K * 1) / a_month * math.cos(math.radians(55 - K * 2))
    assert due(assessment).days == math.floor(6 / fastest * DAYS_IN_A_MONTH)
    assert due(assessment).days < support(assessment)["medial_heel"][0]


@pytest.mark.parametrize("length", [0, -2])
def test_a_heel_already_bare_is_due_on_the_day(length: float) -> None:
    assessment = assess(fitting(10, length))
    first = due(assessment)
    assert (first.reason, first.place, first.days, first.date) == ("heel_support", "lateral_heel", 0, "2026-03-04")
    assert support(assessment)["lateral_heel"][0] == 0


def test_growth_that_was_not_measured_is_taken_from_the_published_range_and_said() -> None:
    text = shipped_rulebook().remarks["growth_assumed"].text
    assumed, measured = assess(fitting(8, 8)), assess(fitting(8, 8, drop=11.7))
    assert text in assumed.remarks
    assert text not in measured.remarks
    assert support(assumed)["medial_heel"][1] > support(measured)["medial_heel"][1]
    # No growth at all in six weeks is no measurement to plan by.
    still = assess(fitting(8, 8, drop=0))
    assert text in still.remarks
    assert due(still) == due(assumed)


def test_without_the_day_of_this_fitting_no_visit_is_named() -> None:
    assessment = assess(fitting(8, 8, history={"last_shod": "2026-01-21"}))
    assert assessment.next_due is None
    assert support(assessment) == {}
    assert assessment.remarks == ()


def test_the_interval_alone_needs_only_the_day_of_this_fitting() -> None:
    first = due(assess(fitting(None, None, history={"fitted": "2026-03-04"})))
    assert (first.reason, first.days) == ("interval", 42)


def test_a_wall_past_upright_carries_the_shoe_nowhere() -> None:
    assessment = assess(fitting(2, 2, drop=11.7, angle={"value": 95, "u": 1}))
    assert support(assessment) == {}
    assert due(assessment).reason == "interval"


def test_a_visit_beyond_the_calendar_is_not_named() -> None:
    assert assess(fitting(20, 20, history={"fitted": "9999-12-30"})).next_due is None


def test_the_report_names_the_next_visit_and_what_the_sums_leave_out(changed: Changed) -> None:
    book = shipped_rulebook()
    text = render(assess(Fitting.model_validate(changed())), book, title="H-101", width=400, whole=True)
    assert "Next visit: by 2026-04-15" in text
    heading = text.index("What the sums leave out")
    assert text.index(book.remarks["nail_path"].text) > heading
    bare = fitting(None, None, history={})
    empty = render(assess(bare), book, title="H-101", whole=True)
    assert "What the sums leave out" not in empty
    assert "Next visit" not in empty


@settings(max_examples=60, deadline=None)
@given(st.floats(-5, 30), st.floats(0, 20), st.floats(1, 17), st.floats(0, 17), st.floats(31, 99), st.floats(0, 20))
def test_faster_growth_a_shorter_branch_or_a_lower_wall_never_puts_the_date_later(
    length: float, shorter: float, drop: float, more: float, angle: float, lower: float
) -> None:
    days = due(assess(fitting(length, None, drop=drop, angle=angle))).days
    assert due(assess(fitting(length - shorter, None, drop=drop, angle=angle))).days <= days
    assert due(assess(fitting(length, None, drop=drop + more, angle=angle))).days <= days
    assert due(assess(fitting(length, None, drop=drop, angle=max(30, angle - lower)))).days <= days


@settings(max_examples=40, deadline=None)
@given(st.floats(0, 30), st.floats(1, 30), st.floats(0, 2), st.floats(0, 2), st.floats(0, 5), st.floats(0, 5))
def test_more_uncertain_growth_or_slope_never_puts_the_date_later(
    length: float, drop: float, u_drop: float, more: float, u_angle: float, wider: float
) -> None:
    def days(of_drop: float, of_angle: float) -> int:
        angle, sunk = {"value": 60, "u": of_angle}, {"value": drop, "u": of_drop}
        return due(assess(fitting(length, None, drop=sunk, angle=angle))).days

    assert days(u_drop + more, u_angle + wider) <= days(u_drop, u_angle)


@pytest.mark.parametrize(("length", "drop"), [(4.0, 11.7), (8.0, 9.0), (0.0, 11.7)])
def test_a_simulation_spreads_the_days_as_far_as_is_said(length: float, drop: float) -> None:
    """JCGM 101:2008, propagation of distributions, with the slope held fast."""
    raw = fitting({"value": length, "u": 0.3}, None, drop={"value": drop, "u": 0.4}, angle={"value": 50, "u": 0})
    assessment = assess(raw)
    value, u = support(assessment)["medial_heel"]
    rng = np.random.default_rng(42)
    drawn = rng.normal(length, 0.3, 40_000) / (rng.normal(drop, 0.4, 40_000) / 42 * math.cos(math.radians(50)))
    assert u == pytest.approx(float(np.std(drawn)), rel=0.1)
    assert value == pytest.approx(float(np.mean(drawn)), abs=0.1 * u)
    if due(assessment).reason == "heel_support":
        assert due(assessment).u == u


def test_an_uncertain_slope_counts_in_the_spread_of_the_days() -> None:
    """JCGM 101:2008: the cosine drawn with its own uncertainty."""
    drift = Drift(MeasuredValue(8.5, 0.3), MeasuredValue(0.55, 0.03), 10)
    rng = np.random.default_rng(43)
    drawn = (
        rng.normal(9, 0.4, 40_000) / (rng.normal(8.5, 0.3, 40_000) * rng.normal(0.55, 0.03, 40_000)) * DAYS_IN_A_MONTH
    )
    assert days_covered_u(MeasuredValue(9, 0.4), drift) == pytest.approx(float(np.std(drawn)), rel=0.1)


@settings(max_examples=40, deadline=None)
@given(st.floats(0, 30), st.floats(0, 2), st.floats(0, 5))
def test_a_more_uncertain_branch_never_puts_the_date_later(length: float, u: float, more: float) -> None:
    def days(of_length: float) -> int:
        return due(assess(fitting({"value": length, "u": of_length}, None, drop=11.7, angle=60))).days

    assert days(u + more) <= days(u)


def test_the_date_is_taken_with_the_branch_as_short_as_it_may_be() -> None:
    """By hand: 12 mm less 1.645 u, at 8.5 mm a month, known for certain, on a wall at 60 degrees: cosine 0.5."""
    exact: dict[str, Any] = {"drop": {"value": 8.5 * 42 / DAYS_IN_A_MONTH, "u": 0}, "angle": {"value": 60, "u": 0}}
    sure = due(assess(fitting({"value": 5, "u": 0}, {"value": 40, "u": 0}, **exact)))
    unsure = due(assess(fitting({"value": 5, "u": 1}, {"value": 40, "u": 0}, **exact)))
    assert sure.days == math.floor(5 / 4.25 * DAYS_IN_A_MONTH)
    assert unsure.days == math.floor((5 - 1.644854) / 4.25 * DAYS_IN_A_MONTH)


def history_of(**history: Any) -> Fitting:
    raw = {"foot": "left_fore", "stage": "hot_fit", "work": "draught", "observations": {"history": history}}
    return Fitting.model_validate(raw)


def test_growth_faster_than_25_mm_a_month_is_refused_as_a_slip() -> None:
    """LA 82: 1/6 to 1/2 in a month; 25 mm is twice the most (common practice, no source)."""
    with pytest.raises(BadInput) as refused:
        assess(history_of(last_shod="2026-02-18", fitted="2026-03-04", old_hole_drop=12))
    [problem] = refused.value.problems
    assert problem.field == "observations.history.old_hole_drop"
    assert problem.value == 12
    assert "26 mm a month" in problem.detail
    assert assess(history_of(last_shod="2026-02-18", fitted="2026-03-04", old_hole_drop=11)).findings != ()


@pytest.mark.parametrize(("last", "asked"), [("2025-01-28", False), ("2025-01-27", True)])
def test_an_interval_over_400_days_asks_for_a_second_look_at_the_date(last: str, *, asked: bool) -> None:
    said = shipped_rulebook().remarks["interval_doubted"].text
    assert (said in assess(history_of(last_shod=last, fitted="2026-03-04")).remarks) == asked
