"""Heat through the JSON door: each hold at its time, the range that is told, and what is judged without thickness."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitcheck.assessment.assess import assess
from fitcheck.assessment.models import Assessment, Finding
from fitcheck.errors import BadInput
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.validation import parse_fitting
from rules import shipped_rulebook
from rules.limits import guard_factor

Changed = Callable[..., dict[str, Any]]
K: Final = guard_factor(0.05)
READ_OUT: Final = 1e-3
"""Readings are given to four places."""
COLOURS: Final = ("black", "dull_red", "cherry", "bright")


def tried(horn: float | None, **scorch: Any) -> Assessment:
    """A foot of which only the sole's thickness and the hot shoe are known."""
    hoof = {} if horn is None else {"sole_thickness": {"value": horn, "u": 0}}
    raw = {"foot": "left_fore", "stage": "hot_fit", "work": "draught", "hoof": hoof, "observations": {"scorch": scorch}}
    return assess(parse_fitting(raw))


def reading(assessment: Assessment, quantity: str) -> tuple[float, float]:
    [found] = [each for each in assessment.measurements if each.quantity == quantity]
    return found.value, found.u


def ends(assessment: Assessment) -> tuple[float, float]:
    """The least and the greatest that the peak may be."""
    value, u = reading(assessment, "inside_temperature")
    return value - K * u, value + K * u


def found(assessment: Assessment) -> dict[str, Finding]:
    return {finding.rule: finding for finding in assessment.findings}


def held(*holds: tuple[float, float, str]) -> list[dict[str, Any]]:
    return [{"start": start, "seconds": {"value": seconds, "u": 0}, "heat": heat} for start, seconds, heat in holds]


def test_everyday_work_is_let_pass_and_leaves_time_for_one_more_touch() -> None:
    """Seven seconds of cherry heat on 8 mm of horn: common practice, no source."""
    once = tried(8, contact_time=7, shoe_heat="cherry")
    assert found(once) == {}
    assert 30 < reading(once, "time_left")[0] < 80
    assert 100 < reading(once, "peak_time")[0] < 400


@pytest.mark.parametrize("seconds", [29, 47, 80])
def test_what_hurt_none_of_a_hundred_feet_stops_no_work(seconds: int) -> None:
    """FL 596 (Barthelemy): 29 to 80 s, mean 46 to 47; 10 mm of horn: common practice, no source."""
    assert all(finding.blocks is False for finding in tried(10, contact_time=seconds, shoe_heat="cherry").findings)


def test_three_minutes_on_a_thin_sole_stop_it() -> None:
    """FRU 2008: 51 degC inside after three minutes where the sole is thinner than 5.4 mm (s 1.5)."""
    assert found(tried(3.9, contact_time=180, shoe_heat="cherry"))["horn-overheated"].grade == "critical"


def test_a_warm_inside_is_told_as_a_range_and_holds_nothing_up() -> None:
    warm = found(tried(4, contact_time=29, shoe_heat="bright"))["horn-heated"]
    assert (warm.grade, warm.blocks, warm.confidence) == ("major", False, None)
    assert warm.measured is not None
    assert warm.measured.u is None
    assert warm.measured.low is not None
    assert warm.measured.high is not None
    assert warm.measured.low < float(warm.measured.value) < warm.measured.high
    assert f"{warm.measured.low:.0f} to {warm.measured.high:.0f}" in warm.finding


def test_contact_times_are_holds_a_minute_apart_end_to_start() -> None:
    as_times = tried(
        6, contact_time={"value": 9, "u": 0}, further_contact_times=[{"value": 5, "u": 0}], shoe_heat="cherry"
    )
    as_holds = tried(6, holds=held((0, 9, "cherry"), (69, 5, "cherry")))
    for quantity in ("inside_temperature", "peak_time", "time_left"):
        assert reading(as_times, quantity) == reading(as_holds, quantity)


def test_several_holds_are_simulated_and_never_added_up() -> None:
    alone = tried(6, holds=held((0, 8, "cherry")))
    thrice = tried(6, holds=held((0, 8, "cherry"), (68, 8, "cherry"), (136, 8, "cherry")))
    at_once = tried(6, holds=held((0, 24, "cherry")))
    late = tried(6, holds=held((0, 8, "cherry"), (3000, 8, "cherry"), (6000, 8, "cherry")))
    assert ends(alone)[1] < ends(thrice)[1] < ends(at_once)[1]
    assert ends(late)[1] == pytest.approx(ends(alone)[1], abs=0.1)  # an hour later the horn has cooled


def test_each_hold_has_the_heat_that_its_shoe_had() -> None:
    hot_last, hot_first = ((0, 5, "black"), (65, 9, "bright")), ((0, 9, "bright"), (69, 5, "black"))
    one, other = tried(6, holds=held(*hot_last)), tried(6, holds=held(*hot_first))
    both = tried(6, holds=held((0, 5, "bright"), (65, 9, "bright")))
    assert ends(one)[1] != ends(other)[1]
    assert max(ends(one)[1], ends(other)[1]) < ends(both)[1]


@pytest.mark.parametrize(
    ("horn", "heat"), [(None, "cherry"), (10, None), (None, None)], ids=["no horn", "no heat", "neither"]
)
def test_without_thickness_or_heat_all_holds_together_are_judged(horn: float | None, heat: str | None) -> None:
    """210 s in 21 holds was once let go without a word; FL 595: three minutes, 596: 80 s."""
    known = {} if heat is None else {"shoe_heat": heat}
    many = tried(horn, contact_time=10, further_contact_times=[10] * 20, **known)
    assert reading(many, "total_contact") == pytest.approx((210.0, 21**0.5), abs=1e-3)
    assert found(many)["contact-harmful"].grade == "critical"
    assert many.decision == "stop_and_refer"
    nine = found(tried(horn, contact_time=10, further_contact_times=[10] * 8, **known))["contacts-too-long"]
    assert (nine.grade, nine.blocks) == ("major", False)
    assert found(tried(horn, contact_time=10, further_contact_times=[10] * 7, **known)) == {}


def test_with_thickness_and_heat_only_the_course_is_judged() -> None:
    many = tried(15, contact_time=5, further_contact_times=[5] * 20, shoe_heat="dull_red")
    assert {"total_contact"}.isdisjoint(each.quantity for each in many.measurements)
    assert "scorch.total_contact" not in many.not_assessed
    assert "contacts-too-long" not in found(many)


def test_one_hold_without_heat_leaves_the_whole_course_unknown() -> None:
    holds = [*held((0, 50, "cherry")), {"start": 200, "seconds": 50}]
    assert reading(tried(10, holds=holds), "total_contact")[0] == 100
    assert "contacts-too-long" in found(tried(10, holds=holds))


def test_holds_that_overlap_are_refused_and_the_field_is_named() -> None:
    with pytest.raises(BadInput) as refused:
        tried(8, holds=held((0, 20, "cherry"), (15, 5, "cherry")))
    [problem] = refused.value.problems
    assert problem.field == "observations.scorch.holds.1.start"


def test_a_dull_shoe_held_long_is_noted() -> None:
    noted = found(tried(12, contact_time=12, shoe_heat="dull_red"))["dull-shoe-held"]
    assert noted.grade == "minor"


def test_the_remark_says_what_the_model_leaves_out() -> None:
    said = shipped_rulebook().remarks["heat_course"].text
    assert said in tried(8, contact_time=7, shoe_heat="cherry").remarks
    assert said not in tried(None, contact_time=7, shoe_heat="cherry").remarks


@settings(max_examples=25, deadline=None)
@given(
    seconds=st.lists(st.floats(0, 200), min_size=1, max_size=4),
    pause=st.floats(0, 300),
    horn=st.floats(2, 30),
    colour=st.integers(0, 2),
    thinner=st.floats(0, 1),
    longer=st.floats(0, 100),
)
def test_the_peak_never_falls_with_more_heat_time_or_holds_or_less_horn(
    seconds: list[float], pause: float, horn: float, colour: int, thinner: float, longer: float
) -> None:
    def peak(colour: int, horn: float, *times: float) -> tuple[float, float]:
        holds, start = [], 0.0
        for time in times:
            holds.append((start, time, COLOURS[colour]))
            start += time + pause
        return ends(tried(horn, holds=held(*holds)))

    now = peak(colour, horn, *seconds)
    for worse in (
        peak(colour + 1, horn, *seconds),
        peak(colour, max(2.0, horn - thinner), *seconds),
        peak(colour, horn, *seconds, longer),
        peak(colour, horn, *seconds[:-1], min(600.0, seconds[-1] + longer)),
    ):
        assert worse[0] >= now[0] - 0.01 - READ_OUT
        assert worse[1] >= now[1] - 0.01 - READ_OUT


def test_more_uncertainty_only_widens_the_range(changed: Changed) -> None:
    def span(u: float) -> tuple[float, float]:
        raw = changed(
            observations__scorch__shoe_heat="cherry",
            observations__scorch__contact_time={"value": 30, "u": u},
            hoof__sole_thickness={"value": 8, "u": u / 4},
        )
        return ends(assess(Fitting.model_validate(raw)))

    sure, unsure = span(0.5), span(4)
    assert unsure[0] <= sure[0]
    assert unsure[1] >= sure[1]
