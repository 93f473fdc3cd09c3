"""A range that is no normal spread, made into a reading: to a guarded limit it is just as wide as it is."""

from __future__ import annotations

from dataclasses import replace
from statistics import NormalDist
from typing import Final

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitcheck.measure.results import of_range
from rules import Reading, Situation, evaluator_for, shipped_rulebook

BOOK: Final = shipped_rulebook()
FOOT: Final = Situation(foot="fore", stage="finished", work="draught", hoof_form="regular", hot_fitted="yes")


def bounds(reading: Reading, probability: float) -> tuple[float, float]:
    """The values below and above which the true one lies with ``probability`` each: normal, JCGM 106:2012."""
    if reading.u == 0:
        return float(reading.value), float(reading.value)
    spread = NormalDist(float(reading.value), reading.u)
    return spread.inv_cdf(probability), spread.inv_cdf(1 - probability)


@given(st.floats(-1000, 1000), st.floats(0, 1000))
def test_the_guarded_bounds_of_a_range_are_its_ends(low: float, width: float) -> None:
    found = bounds(of_range("least_horn", "nail:medial:1", low, low + width, BOOK), 0.05)
    assert found == pytest.approx((low, low + width), rel=1e-9, abs=1e-9)


def test_a_range_worked_by_hand() -> None:
    """The one-sided 5 % point of the normal distribution is 1.6449 (any table of it): 20 to 40 is 30 with u 6.0796."""
    reading = of_range("inside_temperature", "foot", 20, 40, BOOK, "inside the sole")
    assert (reading.quantity, reading.place, reading.where) == ("inside_temperature", "foot", "inside the sole")
    assert reading.value == 30
    assert reading.u == pytest.approx(10 / 1.64485, rel=1e-5)


def test_the_spread_follows_the_guarded_level_of_the_book() -> None:
    level = BOOK.levels["guarded"].model_copy(update={"probability": 0.1})
    book = replace(BOOK, levels={**BOOK.levels, "guarded": level})
    reading = of_range("least_horn", "nail:medial:1", 0, 4, book)
    assert bounds(reading, 0.1) == pytest.approx((0, 4), abs=1e-9)
    assert reading.u > of_range("least_horn", "nail:medial:1", 0, 4, BOOK).u


def found(reading: Reading) -> set[str]:
    return {firing.rule for firing in evaluator_for(BOOK).evaluate(FOOT, [reading])}


@pytest.mark.parametrize(("low", "high"), [(-5, 0.01), (20, 43.01), (42, 43.01), (43.01, 43.01)])
def test_a_guarded_limit_from_above_looks_at_the_upper_end_alone(low: float, high: float) -> None:
    assert ("horn-heated" in found(of_range("inside_temperature", "foot", low, high, BOOK))) == (high > 43)


@pytest.mark.parametrize("low", [20, 36, 42.9])
def test_heat_that_stays_just_below_the_limit_at_its_upper_end_is_let_pass(low: float) -> None:
    assert found(of_range("inside_temperature", "foot", low, 42.99, BOOK)) == set()


@pytest.mark.parametrize("high", [0.5, 3, 30])
def test_a_guarded_limit_from_below_looks_at_the_lower_end_alone(high: float) -> None:
    assert "nail-horn-none" in found(of_range("least_horn", "nail:medial:1", -0.01, high, BOOK))
    assert "nail-horn-none" not in found(of_range("least_horn", "nail:medial:1", 0.01, high, BOOK))
