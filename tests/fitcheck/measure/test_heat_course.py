"""The course of heat over several holds: what may only raise its peak, the time that is left, and what it imports."""

from __future__ import annotations

import math
import subprocess
import sys
from typing import Final

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from fitcheck.measure.heat_course import Hold, Tissue, inside_at, peak_inside, time_left
from fitcheck.measure.results import Span
from rules import shipped_rulebook
from tests.support.paths import ROOT

FINE: Final = 0.01
"""K within which two peaks are the same: of two tops that lie close together the lower may be closed in on."""
HORN: Final = st.floats(2, 40)
TISSUE: Final = st.sampled_from(["living", "dead"])


def exact(value: float) -> Span:
    return Span(value, value)


@st.composite
def in_turn(draw: st.DrawFn, most: int = 4) -> list[Hold]:
    """Holds one after the other, each with spans of time and heat; the next starts after the longest time."""
    holds: list[Hold] = []
    start = 0.0
    for _ in range(draw(st.integers(1, most))):
        shortest, further = draw(st.floats(0, 300)), draw(st.floats(0, 10))
        coolest = draw(st.floats(375, 1000))
        holds.append(Hold(start, Span(shortest, shortest + further), Span(coolest, coolest + draw(st.floats(0, 150)))))
        start += shortest + further + draw(st.floats(0, 2000))
    return holds


def more(span: Span, by: float) -> Span:
    return Span(span.low + by, span.high + by)


@settings(max_examples=60, deadline=None)
@given(in_turn(), HORN, TISSUE, st.floats(0, 200), st.floats(0, 200), st.floats(0, 5), st.data())
def test_more_heat_time_or_holds_or_less_horn_never_lowers_the_peak(
    holds: list[Hold], horn: float, tissue: Tissue, hotter: float, longer: float, thinner: float, data: st.DataObject
) -> None:
    before = peak_inside(holds, exact(horn), tissue=tissue)
    which = data.draw(st.integers(0, len(holds) - 1))
    hold = holds[which]
    # The next hold may start as soon as this one is over: then it is as long as it can be.
    room = min([longer, *(after.start_s - hold.start_s - hold.seconds.high for after in holds[which + 1 :])])
    late = holds[-1].start_s + holds[-1].seconds.high + data.draw(st.floats(0, 500))
    for worse, depth in (
        ([*holds[:which], hold._replace(iron_degc=more(hold.iron_degc, hotter)), *holds[which + 1 :]], horn),
        ([*holds[:which], hold._replace(seconds=more(hold.seconds, max(0.0, room))), *holds[which + 1 :]], horn),
        ([*holds, Hold(late, exact(longer), exact(375 + hotter))], horn),
        (holds, max(0.5, horn - thinner)),
    ):
        after = peak_inside(worse, exact(depth), tissue=tissue)
        assert after.low_peak >= before.low_peak - FINE
        assert after.high_peak >= before.high_peak - FINE


@settings(max_examples=60, deadline=None)
@given(in_turn(), HORN, TISSUE, st.floats(0, 7000))
def test_the_peak_is_reached_when_it_is_stated_and_never_passed(
    holds: list[Hold], horn: float, tissue: Tissue, moment: float
) -> None:
    course = peak_inside(holds, exact(horn), tissue=tissue)
    at_ends = [inside_at(when, holds, exact(horn), tissue=tissue) for when in course.when_s]
    assert max(each.high for each in at_ends) == pytest.approx(course.high_peak, abs=FINE)
    assert max(each.low for each in at_ends) == pytest.approx(course.low_peak, abs=FINE)
    inside = inside_at(moment, holds, exact(horn), tissue=tissue)
    assert inside.low <= course.low_peak + FINE
    assert inside.high <= course.high_peak + FINE


@settings(max_examples=60, deadline=None)
@given(in_turn(1), st.floats(0, 20), st.floats(0, 100), st.floats(2, 30), st.floats(0, 1.5))
def test_a_wider_span_of_time_heat_or_horn_only_widens_the_peak(
    holds: list[Hold], seconds: float, heat: float, horn: float, depth: float
) -> None:
    [hold] = holds
    wider = Hold(
        0,
        Span(hold.seconds.low - seconds, hold.seconds.high + seconds),
        Span(hold.iron_degc.low - heat, hold.iron_degc.high + heat),
    )
    sure, unsure = peak_inside(holds, exact(horn)), peak_inside([wider], Span(horn - depth, horn + depth))
    assert unsure.low_peak <= sure.low_peak + FINE
    assert unsure.high_peak >= sure.high_peak - FINE


@settings(max_examples=60, deadline=None)
@given(in_turn(), st.floats(2, 20), st.floats(375, 1000), st.floats(38, 60), st.floats(0, 300))
def test_one_more_hold_as_long_as_the_time_left_just_comes_to_the_limit(
    holds: list[Hold], horn: float, degc: float, limit: float, pause: float
) -> None:
    now = holds[-1].start_s + holds[-1].seconds.high + pause
    left = time_left(limit, exact(degc), now, holds, exact(horn))
    so_far = peak_inside(holds, exact(horn)).high_peak
    if left == 0:
        assert so_far >= limit - 0.01
        return
    assume(left < 600 or math.isinf(left))
    then = peak_inside([*holds, Hold(now, exact(min(left, 600)), exact(degc))], exact(horn)).high_peak
    if math.isinf(left):
        assert then <= limit + 0.01
    else:
        assert then == pytest.approx(limit, abs=0.01)


@pytest.mark.parametrize(("spared", "iron"), [(0.0, exact(800)), (math.inf, exact(30))])
def test_no_time_is_left_past_the_limit_and_no_end_of_it_under_iron_cooler_than_the_foot(
    spared: float, iron: Span
) -> None:
    holds = [Hold(0, exact(180 if spared == 0 else 1), exact(800))]
    assert time_left(43, iron, 180, holds, exact(4 if spared == 0 else 10)) == spared


def test_without_a_hold_the_foot_is_as_warm_as_before() -> None:
    before = shipped_rulebook().parameters["living_temperature"]
    assert peak_inside([], exact(10)) == (before.low, before.high, (0, 0))


def test_the_order_in_which_holds_are_stated_does_not_count() -> None:
    first, second = Hold(0, exact(10), exact(800)), Hold(100, exact(20), exact(700))
    assert peak_inside([second, first], exact(7)) == peak_inside([first, second], exact(7))


def test_a_hold_that_may_reach_into_the_next_ends_there() -> None:
    touching = [Hold(0, Span(50, 60), exact(800)), Hold(60, exact(5), exact(800))]
    reaching = [Hold(0, Span(50, 70), exact(800)), Hold(60, exact(5), exact(800))]
    assert peak_inside(reaching, exact(7)) == peak_inside(touching, exact(7))


def test_several_holds_are_not_one_hold_of_their_total_time() -> None:
    """Three touches a minute apart stay cooler than one of the same length, and warmer than the longest alone."""
    thrice = [Hold(start, exact(8), exact(800)) for start in (0, 68, 136)]
    peaks = [peak_inside(holds, exact(6)).high_peak for holds in (thrice[:1], thrice, [Hold(0, exact(24), exact(800))])]
    assert peaks == sorted(peaks)
    assert peaks[2] - peaks[1] > 0.2


def test_the_peak_comes_after_the_iron_is_taken_away() -> None:
    holds = [Hold(0, exact(7), exact(800))]
    course, as_it_comes_off = peak_inside(holds, exact(8)), inside_at(7, holds, exact(8))
    assert course.when_s.low > 60
    assert course.high_peak > as_it_comes_off.high + 0.5
    assert course.low_peak > as_it_comes_off.low + 0.5


def test_parameters_of_another_book_count() -> None:
    book = dict(shipped_rulebook().parameters)
    book["living_temperature"] = book["living_temperature"].model_copy(update={"low": 25.0, "high": 37.0})
    holds = [Hold(0, exact(20), exact(800))]
    shipped, own = peak_inside(holds, exact(8)), peak_inside(holds, exact(8), parameters=book)
    assert own.high_peak - shipped.high_peak == pytest.approx(4, abs=0.1)


def test_the_course_is_computed_without_heavy_libraries() -> None:
    code = (
        "import sys; from fitcheck.measure.heat_course import Hold, peak_inside;"
        "from fitcheck.measure.results import Span;"
        "peak_inside([Hold(0, Span(6, 8), Span(725, 875))], Span(9, 11));"
        "print(sorted({'numpy', 'scipy', 'shapely'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stdout.strip() == "[]"
