"""Somebody's progress: shares of good feet, marks over the days, what to practise next, never more than is known."""

from __future__ import annotations

import math
import random
from datetime import date, timedelta
from math import factorial
from typing import get_args

import pytest
from scipy.stats import binomtest
from statsmodels.api import OLS, add_constant

from fitcheck.assessment.models import Finding
from fitcheck.fitting.models import FittedFoot
from fitcheck.marking import mark_of
from fitcheck.marking.progress import CriterionProgress, DatedSheet, Progress, progress_of
from rules import shipped_rulebook
from tests.support.counts import tries
from tests.support.marked import BOOK, assessed, finding, overridden

BY_VISITS = shipped_rulebook()
"""Its scheme tells a trend by visits, that of the first rulebook by feet."""
MONDAY = date(2026, 3, 2)
FEET: tuple[FittedFoot, ...] = get_args(FittedFoot)
TIGHT = finding("heel_fit", "major", "medial_heel")
CLOSE = finding("heel_fit", "minor", "medial_heel")
OVER = finding("toe_fit", "major", "toe")
FLINCH = finding("nails", "critical", "nail:medial:2", rule="nail-flinch")


def foot(number: int, *findings: Finding, visit: str | None = None, **edits: str) -> DatedSheet:
    """The foot of that number: seen so many days after the first, with these findings."""
    day = MONDAY + timedelta(days=number)
    said = assessed(*findings, **{"id": f"A-{number:03}", "created": f"{day}T10:00:00.000Z"} | edits)
    return DatedSheet(day, visit, mark_of(said, BOOK))


def on(progress: Progress, criterion: str) -> CriterionProgress:
    return next(each for each in progress.criteria if each.criterion == criterion)


def test_nothing_assessed_is_said_to_be_nothing() -> None:
    progress = progress_of([], BOOK)
    assert (progress.feet, progress.practise, progress.marks) == (0, None, ())
    assert progress.say == "Nothing was assessed yet."
    assert on(progress, "heel_fit").say == "Heel fit: not assessed."
    assert progress.trend.way == "too_few"


def test_a_share_counts_feet_without_anything_to_put_right_and_has_the_exact_interval() -> None:
    """The interval against scipy's exact binomial one (Clopper and Pearson 1934)."""
    feet = [foot(0, TIGHT), foot(1, CLOSE), foot(2), foot(3, TIGHT, OVER), foot(4)]
    heels = on(progress_of(feet, BOOK), "heel_fit")
    expected = binomtest(3, 5).proportion_ci(0.95, method="exact")
    assert (heels.good, heels.feet, heels.share) == (3, 5, 0.6)
    assert (heels.low, heels.high) == pytest.approx((expected.low, expected.high))
    assert heels.say == "Heel fit: nothing to put right on 3 of 5 feet (95 % interval 15 % to 95 %)."


def test_what_is_lost_is_reckoned_over_all_marks() -> None:
    """By hand: 11 and 2.2 of three times 22 are 20 %."""
    assert on(progress_of([foot(0, TIGHT), foot(1, CLOSE), foot(2)], BOOK), "heel_fit").lost == 20.0


def test_only_criteria_that_have_marks_are_followed() -> None:
    names = [each.criterion for each in progress_of([foot(0)], BOOK).criteria]
    assert names == ["heel_fit", "toe_fit", "levelness", "nails", "clinches", "scorch", "finish"]


def test_what_was_not_observed_counts_neither_way() -> None:
    finish = on(progress_of([foot(0), foot(1, without="finish")], BOOK), "finish")
    assert (finish.good, finish.feet) == (1, 1)


def test_a_foot_counts_once_in_a_visit_and_with_the_worst_that_was_found() -> None:
    first = foot(0, TIGHT, visit="V-1", stage="hot_fit")
    right = foot(0, visit="V-1", id="A-later", created="2026-03-02T11:00:00.000Z")
    other = foot(0, visit="V-1", id="A-right", foot="right_fore")
    progress = progress_of([first, right, other], BOOK)
    assert (progress.feet, progress.assessments) == (2, 3)
    assert (on(progress, "heel_fit").good, on(progress, "heel_fit").feet) == (1, 2)
    assert [point.assessment for point in progress.marks] == ["A-later", "A-right"]


def test_the_latest_sheet_of_a_foot_is_the_one_kept_last_whatever_its_clock_said() -> None:
    first = foot(3, TIGHT, visit="V-1", stage="hot_fit")
    right = foot(2, visit="V-1", id="A-later", created="2026-03-01T11:00:00.000Z")
    assert [point.assessment for point in progress_of([first, right], BOOK).marks] == ["A-later"]


def test_feet_of_no_visit_stand_each_alone() -> None:
    assert progress_of([foot(0), foot(0, id="A-other")], BOOK).feet == 2


def test_a_stopped_foot_has_no_mark_and_still_tells_of_its_criteria() -> None:
    progress = progress_of([foot(0, TIGHT, FLINCH)], BOOK)
    (point,) = progress.marks
    assert (point.state, point.percent, point.band) == ("stopped", None, None)
    assert (on(progress, "nails").good, on(progress, "nails").feet) == (0, 1)
    assert on(progress, "toe_fit").good == 1
    assert on(progress, "nails").lost is None


def test_the_reckoning_of_the_assessor_counts() -> None:
    said = assessed(TIGHT)
    struck = mark_of(said, BOOK, [overridden(said, {"what": "strike", "finding": TIGHT.id})])
    progress = progress_of([DatedSheet(MONDAY, None, struck)], BOOK)
    assert on(progress, "heel_fit").good == 1
    assert progress.marks[0].percent == 100.0


def test_the_order_in_which_sheets_come_does_not_matter() -> None:
    feet = [foot(number, *([TIGHT] if number % 3 else [OVER])) for number in range(12)]
    shuffled = random.Random(4).sample(feet, len(feet))
    assert progress_of(shuffled, BOOK) == progress_of(feet, BOOK)
    assert [point.day for point in progress_of(shuffled, BOOK).marks] == [each.day.isoformat() for each in feet]


# What to practise next.


def test_with_few_feet_a_weakness_may_be_chance() -> None:
    progress = progress_of([foot(0, TIGHT), foot(1)], BOOK)
    assert progress.practise == "heel_fit"
    assert progress.say == (
        "Practise heel fit next: something had to be put right on 1 of 2 feet. With so few feet that may be chance."
    )


def test_where_intervals_overlap_the_weakest_is_not_settled() -> None:
    feet = [foot(number, *([TIGHT] if number < 4 else []), *([OVER] if number < 3 else [])) for number in range(8)]
    progress = progress_of(feet, BOOK)
    assert progress.practise == "heel_fit"
    assert "put right on 4 of 8 feet. That it is the weakest is not settled: the interval overlaps that of toe fit" in (
        progress.say
    )


def test_where_the_numbers_bear_it_out_it_is_said_plainly() -> None:
    """By hand: 12 of 12 bad has an interval up to 26 %, 12 of 12 good one from 74 % on."""
    progress = progress_of([foot(number, TIGHT) for number in range(12)], BOOK)
    assert progress.say == "Practise heel fit next: something had to be put right on 12 of 12 feet."


def test_one_bad_foot_of_one_does_not_outweigh_many_of_many() -> None:
    """By hand: the scorch seen once and bad ends at 97.5 %, heels bad on four of nine feet at 86 %."""
    feet = [foot(number, *([TIGHT] if number < 3 else []), fitted="cold") for number in range(8)]
    feet.append(foot(9, finding("scorch", "major", rule="imprint-poor"), TIGHT, stage="hot_fit"))
    assert on(progress_of(feet, BOOK), "scorch").good == 0
    assert progress_of(feet, BOOK).practise == "heel_fit"


def test_of_two_that_fail_alike_the_one_that_lost_more_is_named() -> None:
    twice = finding("toe_fit", "major", "medial_quarter")
    assert progress_of([foot(0, TIGHT, OVER)], BOOK).practise == "heel_fit"
    assert progress_of([foot(0, TIGHT, OVER, twice)], BOOK).practise == "toe_fit"


@pytest.mark.parametrize(
    ("number", "says"),
    [
        (1, "Nothing had to be put right on 1 foot. 1 foot is few to go on."),
        (3, "Nothing had to be put right on 3 feet. 3 feet are few to go on."),
        (8, "Nothing had to be put right on 8 feet."),
    ],
)
def test_where_nothing_was_wrong_nothing_is_made_up(number: int, says: str) -> None:
    progress = progress_of([foot(each, CLOSE) for each in range(number)], BOOK)
    assert (progress.practise, progress.say) == (None, says)


# The trend.


def worse_to_better(number: int) -> list[DatedSheet]:
    """Feet with fewer and fewer low nails: each mark above the one before."""
    return [
        foot(at, *(finding("nails", "minor", f"nail:medial:{hole}") for hole in range(1, number - at)))
        for at in range(number)
    ]


def test_marks_that_rise_on_each_of_eight_days_go_up() -> None:
    """By hand: of 8! orders only two are as strict, so the chance is 2 / 8!."""
    trend = progress_of(worse_to_better(8), BY_VISITS).trend
    assert (trend.way, trend.feet, trend.visits) == ("up", 8, 8)
    assert trend.chance == pytest.approx(2 / factorial(8))
    assert trend.say == "Over 8 visits the marks go up."


def test_by_the_first_rulebook_a_trend_is_told_by_feet() -> None:
    trend = progress_of(worse_to_better(8), BOOK).trend
    assert (trend.way, trend.feet, trend.visits) == ("up", 8, None)
    assert trend.say == "Over 8 feet the marks go up."


def test_marks_that_fall_go_down() -> None:
    better = worse_to_better(9)
    falling = [DatedSheet(MONDAY + timedelta(days=20 - at), None, each.sheet) for at, each in enumerate(better)]
    assert progress_of(falling, BY_VISITS).trend.way == "down"


@pytest.mark.parametrize(
    ("feet", "way", "says"),
    [
        (worse_to_better(3), "too_few", "3 visits with a whole mark on 3 days: too few to tell a trend."),
        ([foot(each) for each in range(8)], "not_shown", "The marks are all alike."),
        (
            [DatedSheet(MONDAY, None, each.sheet) for each in worse_to_better(9)],
            "too_few",
            "9 visits with a whole mark on 1 day: too few to tell a trend.",
        ),
        (
            [foot(at, *([TIGHT] if at % 2 else [])) for at in range(10)],
            "not_shown",
            "Over 10 visits the marks go neither up nor down by more than chance may do.",
        ),
        (
            [foot(each, without="finish") for each in range(9)],
            "too_few",
            "No visits with a whole mark on 0 days: too few to tell a trend.",
        ),
    ],
    ids=["three visits", "all alike", "one day", "to and fro", "none whole"],
)
def test_no_trend_is_told_where_none_is_shown(feet: list[DatedSheet], way: str, says: str) -> None:
    trend = progress_of(feet, BY_VISITS).trend
    assert (trend.way, trend.say) == (way, says)


def marked(visits: list[tuple[int, list[float]]]) -> list[DatedSheet]:
    """Feet of visits: the day of each and the marks of its feet, in percent."""
    sheet = mark_of(assessed(), BOOK)
    return [
        DatedSheet(
            MONDAY + timedelta(days=day),
            f"V-{number}",
            sheet.model_copy(
                update={"foot": FEET[at], "tool": sheet.tool.model_copy(update={"percent": round(percent, 1)})}
            ),
        )
        for number, (day, percents) in enumerate(visits)
        for at, percent in enumerate(percents)
    ]


def test_the_feet_of_a_visit_are_one_unit_and_not_four() -> None:
    """Two good and two bad visits, 16 feet: foot by foot a trend was told, of two visits each way there is none."""
    run = [(0, [70.0, 71, 72, 73]), (30, [80.0, 81, 82, 83]), (60, [90.0, 91, 92, 93])]
    trend = progress_of(marked(run), BY_VISITS).trend
    assert (trend.way, trend.feet, trend.visits) == ("too_few", 12, 3)


RECORDS = tries(150, full=4_000)


@pytest.mark.parametrize("visits", [4, 5, 6, 8, 12])
def test_where_there_is_no_trend_one_is_told_of_at_most_one_record_in_twenty(visits: int) -> None:
    """Visits spread by 5 marks and feet by 5 more, both normal; with the spread of so many draws allowed for."""
    rng = random.Random(1500 + visits)
    told = 0
    for _ in range(RECORDS):
        run = []
        for at in range(visits):
            mean = rng.gauss(75, 5)
            run.append((42 * at, [min(100.0, max(0.0, rng.gauss(mean, 5))) for _ in range(rng.randint(1, 4))]))
        told += progress_of(marked(run), BY_VISITS).trend.way in {"up", "down"}
    assert told / RECORDS <= 0.05 + 2 * math.sqrt(0.05 * 0.95 / RECORDS)


def test_a_trend_that_is_told_is_one_to_least_squares_too() -> None:
    """Statsmodels' OLS on the means of the visits: the same way, and a slope that chance hardly makes."""
    rng = random.Random(77)
    for _ in range(20):
        run = []
        for at in range(8):
            mean = rng.gauss(60 + 4 * at, 3)
            run.append((42 * at, [rng.gauss(mean, 3) for _ in range(4)]))
        trend = progress_of(marked(run), BY_VISITS).trend
        means = [sum(percents) / len(percents) for _, percents in run]
        line = OLS(means, add_constant([float(day) for day, _ in run])).fit()
        assert trend.way == "up"
        assert line.params[1] > 0
        assert line.pvalues[1] < 0.05
