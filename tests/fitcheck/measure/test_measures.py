"""What is computed from observations: differences, ratios, evenness, counts, days, growth."""

from __future__ import annotations

import json
import math
import random
from collections.abc import Callable
from typing import Any

import pytest

from fitcheck.assessment.assess import assess
from fitcheck.assessment.models import Measurement
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.readings import readings_of
from fitcheck.measure import MEASURES, ONCE
from fitcheck.measure import measured as all_measured
from rules import Reading, Rulebook, first_rulebook, shipped_rulebook, table_of
from tests.support.kept_fittings import demo_bodies

Changed = Callable[..., dict[str, Any]]


def measured(raw: dict[str, Any], quantity: str, place: str = "foot") -> Measurement | None:
    found = [
        each
        for each in assess(Fitting.model_validate(raw)).measurements
        if (each.quantity, each.place) == (quantity, place)
    ]
    assert len(found) <= 1
    return found[0] if found else None


@pytest.mark.parametrize("book", [shipped_rulebook(), first_rulebook()], ids=["shipped", "first"])
def test_what_is_taken_once_gives_the_same_with_and_without_computed_readings(book: Rulebook) -> None:
    """Else a foot of which something is read twice over would be judged by a reading that no longer stands."""
    looked_at = 0
    for body in demo_bodies():
        fitting = Fitting.model_validate(json.loads(body))
        stated = table_of(readings_of(fitting, book))
        table, _ = all_measured(fitting, stated, book)
        for measure in MEASURES:
            if measure in ONCE:
                found = list(measure(fitting, stated, book))
                own = {(each.quantity, each.place) for each in found if isinstance(each, Reading)}
                others = {key: reading for key, reading in table.items() if key not in own}
                beside = {key: reading for key, reading in stated.items() if key in own}
                assert list(measure(fitting, others | beside, book)) == found, measure.__name__
                looked_at += len(found)
    assert looked_at


def test_branch_difference_is_lateral_less_medial_with_both_uncertainties(changed: Changed) -> None:
    raw = changed(
        observations__heel_fit__medial__length={"value": 10, "u": 0.3},
        observations__heel_fit__lateral__length={"value": 14, "u": 0.4},
    )
    difference = measured(raw, "branch_difference")
    assert difference is not None
    assert (difference.value, difference.u) == (4.0, 0.5)


def test_without_one_branch_there_is_no_difference(changed: Changed) -> None:
    assert measured(changed(observations__heel_fit__medial__length=...), "branch_difference") is None


def test_wall_heights_are_compared(changed: Changed) -> None:
    difference = measured(changed(observations__levelness__lateral_height=58), "height_difference")
    assert difference is not None
    assert difference.value == -4.0


def test_exit_ratio_agrees_with_a_simulation_of_its_readings(changed: Changed) -> None:
    """JCGM 101:2008: propagation of distributions by Monte Carlo."""
    raw = changed(
        observations__nails__0__exit_height={"value": 24, "u": 0.5},
        observations__nails__0__wall_height={"value": 75, "u": 1.5},
    )
    ratio = measured(raw, "exit_ratio", "nail:medial:1")
    assert ratio is not None
    rng = random.Random(101)
    drawn = [rng.gauss(24, 0.5) / rng.gauss(75, 1.5) for _ in range(40_000)]
    mean = sum(drawn) / len(drawn)
    spread = math.sqrt(sum((value - mean) ** 2 for value in drawn) / len(drawn))
    assert ratio.value == pytest.approx(mean, rel=0.01)
    assert ratio.u == pytest.approx(spread, rel=0.03)


def test_exits_on_a_straight_line_are_even(changed: Changed) -> None:
    edits = {
        f"observations__nails__{n}__exit_height": 30 - 20 * position
        for n, position in enumerate((0.12, 0.24, 0.36, 0.47))
    }
    evenness = measured(changed(**edits), "evenness", "medial_quarter")
    assert evenness is not None
    assert evenness.value == 0.0


def test_unevenness_is_the_largest_distance_from_the_least_squares_line(changed: Changed) -> None:
    """Worked by hand: exits 20, 30, 20 at equal steps have the mean 23.33 as their line; the middle lies 6.67 above."""
    edits: dict[str, Any] = {f"observations__nails__{n}__exit_height": value for n, value in enumerate((20, 30, 20))}
    edits |= {f"observations__nails__{n}__position": ... for n in range(4)}
    edits["observations__nails__3__exit_height"] = ...
    evenness = measured(changed(**edits), "evenness", "medial_quarter")
    assert evenness is not None
    assert evenness.value == pytest.approx(20 / 3, abs=1e-3)
    # The residual of the middle of three is 2/3 y2 - 1/3 y1 - 1/3 y3, so its u is sqrt(4/9 + 1/9 + 1/9) x 0.5.
    assert evenness.u == pytest.approx(0.5 * math.sqrt(6) / 3, abs=1e-3)


def test_two_exits_are_always_on_a_line(changed: Changed) -> None:
    edits = {f"observations__nails__{n}__exit_height": ... for n in (2, 3)}
    assert measured(changed(**edits), "evenness", "medial_quarter") is None


def test_nails_are_counted_without_uncertainty(changed: Changed) -> None:
    count = measured(changed(observations__nails__0=...), "nail_count")
    assert count is not None
    assert (count.value, count.u) == (7.0, 0.0)


def test_six_weeks_of_published_mean_growth_is_a_third_of_an_inch_a_month(changed: Changed) -> None:
    """LA: mean growth 1/3 in a month; six weeks of it are about 11.7 mm."""
    raw = changed(
        observations__history={
            "last_shod": "2026-01-21",
            "fitted": "2026-03-04",
            "old_hole_drop": {"value": 11.7, "u": 0.5},
        }
    )
    days, growth = measured(raw, "days_since_shod"), measured(raw, "growth_rate")
    assert days is not None
    assert growth is not None
    assert days.value == 42.0
    assert growth.value == pytest.approx(25.4 / 3, rel=0.01)
    assert growth.u == pytest.approx(0.5 / (42 / 30.437), rel=1e-3)


def test_no_growth_is_computed_from_a_single_day(changed: Changed) -> None:
    raw = changed(observations__history={"last_shod": "2026-03-04", "fitted": "2026-03-04", "old_hole_drop": 1})
    assert measured(raw, "growth_rate") is None
