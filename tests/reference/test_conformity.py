"""How sure a finding is, against published values of the normal distribution.

JCGM 106:2012 takes the true value as normally distributed about the reading; the probability that it lies beyond a
limit is a value of the normal distribution function.  That function is tied to the tabulated error function by
erf(x) = 2 Phi(x sqrt 2) - 1 (Abramowitz and Stegun, Handbook of Mathematical Functions, 7.1.22; values: table 7.1).
"""

from __future__ import annotations

import math
import random
from statistics import NormalDist
from typing import Any, Final

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitcheck.assessment.assess import assess
from fitcheck.assessment.conformity import probability_above, probability_beyond
from fitcheck.assessment.models import Finding
from fitcheck.fitting.models import Fitting
from rules.limits import guard_factor

# JCGM 106 style: 1.4 standard uncertainties inside a one-sided limit.
INSIDE_BY_1_4_U: Final = 0.919243
# Abramowitz and Stegun, table 7.1.
ERF: Final = {0.5: 0.5204998778, 1.0: 0.8427007929, 2.0: 0.9953222650}


def test_a_reading_1_4_u_inside_a_limit_conforms_with_the_published_probability() -> None:
    assert 1 - probability_above(10.0, 10.0 - 1.4 * 0.5, 0.5) == pytest.approx(INSIDE_BY_1_4_U, abs=5e-7)
    assert 1 - probability_beyond(10.0 - 1.4 * 0.5, 0.5, None, 10.0) == pytest.approx(INSIDE_BY_1_4_U, abs=5e-7)
    assert 1 - probability_beyond(1.4 * 0.5, 0.5, 0.0, None) == pytest.approx(INSIDE_BY_1_4_U, abs=5e-7)


@pytest.mark.parametrize(("x", "erf"), ERF.items())
def test_the_probability_within_two_limits_is_the_tabulated_error_function(x: float, erf: float) -> None:
    u = 0.7
    reach = x * math.sqrt(2) * u
    assert 1 - probability_beyond(3.0, u, 3.0 - reach, 3.0 + reach) == pytest.approx(erf, abs=5e-11)


@pytest.mark.parametrize(("x", "erf"), ERF.items())
def test_the_probability_above_one_limit_follows_from_the_tabulated_error_function(x: float, erf: float) -> None:
    u = 2.0
    reach = x * math.sqrt(2) * u
    assert probability_above(5.0, 5.0 - reach, u) == pytest.approx((1 - erf) / 2, abs=5e-11)
    assert probability_above(5.0, 5.0 + reach, u) == pytest.approx((1 + erf) / 2, abs=5e-11)


@pytest.mark.parametrize(
    ("probability", "quantile"),
    [(0.05, 1.6449), (0.025, 1.9600), (0.01, 2.3263), (0.5, 0.0)],  # one-sided normal quantiles, any statistical table
)
def test_the_guard_factor_is_the_one_sided_normal_quantile(probability: float, quantile: float) -> None:
    assert guard_factor(probability) == pytest.approx(quantile, abs=5e-5)


READING = st.floats(-100, 100)
UNCERTAINTY = st.floats(0.01, 50)


@given(READING, UNCERTAINTY, READING)
def test_a_mirrored_reading_is_as_far_beyond_a_mirrored_limit(value: float, u: float, limit: float) -> None:
    assert probability_beyond(value, u, None, limit) == pytest.approx(probability_beyond(-value, u, -limit, None))


@given(READING, UNCERTAINTY, READING)
def test_above_and_below_one_limit_make_up_the_whole(value: float, u: float, limit: float) -> None:
    above = probability_beyond(value, u, None, limit)
    assert above + probability_beyond(value, u, limit, None) == pytest.approx(1.0)
    assert 0.0 <= above <= 1.0


@given(READING, UNCERTAINTY, READING, st.floats(0, 50))
def test_beyond_two_limits_is_the_sum_of_beyond_each(value: float, u: float, low: float, width: float) -> None:
    high = low + width
    tails = probability_beyond(value, u, low, None) + probability_beyond(value, u, None, high)
    assert probability_beyond(value, u, low, high) == pytest.approx(tails)
    assert probability_beyond(value, u, low, high) <= 1.0


@given(READING, UNCERTAINTY, st.floats(0.01, 50))
def test_a_reading_midway_between_two_limits_is_no_surer_to_be_past_one_than_the_other(
    value: float, u: float, half: float
) -> None:
    low, high = value - half, value + half
    assert probability_beyond(value, u, low, None) == pytest.approx(probability_beyond(value, u, None, high))
    assert probability_beyond(value, u, low, high) == pytest.approx(2 * probability_beyond(value, u, None, high))


@given(READING, UNCERTAINTY, READING, READING)
def test_the_further_a_reading_lies_past_a_limit_the_surer_it_is(
    one: float, u: float, two: float, limit: float
) -> None:
    nearer, further = sorted((one, two))
    assert probability_above(limit, nearer, u) <= probability_above(limit, further, u)


@given(READING, UNCERTAINTY)
def test_on_the_limit_itself_the_chances_are_even(value: float, u: float) -> None:
    assert probability_above(value, value, u) == 0.5
    assert probability_above(value, value, 0.0) == 0.5


@given(READING, READING)
def test_a_reading_without_doubt_is_beyond_or_not(value: float, limit: float) -> None:
    if value != limit:
        assert probability_above(limit, value, 0.0) == float(value > limit)


@given(READING, UNCERTAINTY, READING, st.floats(0.1, 10), READING)
def test_the_unit_and_the_zero_of_a_reading_do_not_matter(
    value: float, u: float, limit: float, scale: float, shift: float
) -> None:
    moved = probability_above(limit * scale + shift, value * scale + shift, u * scale)
    assert moved == pytest.approx(probability_above(limit, value, u), abs=1e-9)


# Through a whole fitting.


def _finding(rule: str, *, stage: str = "hot_fit", **parts: Any) -> Finding:
    observations = parts.pop("observations")
    fitting = {"foot": "left_fore", "stage": stage, "work": "draught"} | parts | {"observations": observations}
    (found,) = [each for each in assess(Fitting.model_validate(fitting)).findings if each.rule == rule]
    return found


def _read(value: float, u: float) -> dict[str, float]:
    return {"value": value, "u": u}


def _simulated(low: float | None, high: float | None, *parts: tuple[float, float, float]) -> float:
    """The share of 200,000 draws of sum(factor x normal(value, u)) that lie beyond the limits; the seed is fixed."""
    draw = random.Random(20260304)
    beyond = 0
    for _ in range(200_000):
        total = sum(factor * draw.gauss(value, u) for factor, value, u in parts)
        beyond += (low is not None and total < low) or (high is not None and total > high)
    return beyond / 200_000


SIMULATED: Final = 0.005  # over four standard deviations of a share of 200,000 draws


def test_a_branch_seen_to_be_tight_is_tight_and_nobody_knows_how_surely() -> None:
    """How sure an eye is has not been measured: a word has no chance, and no number."""
    found = _finding("heel-seen-tight", observations={"heel_fit": {"lateral": {"width": "tight"}}})
    assert (found.grade, found.confidence) == ("major", None)


@pytest.mark.parametrize(
    ("value", "u", "confidence"),
    [(-1.0, 0.5, 0.8413), (-1.5, 0.5, 0.9772), (-1.0, 0.0, 1.0)],  # Phi(1), Phi(2): any statistical table
)
def test_a_measured_width_is_tight_with_the_confidence_of_its_uncertainty(
    value: float, u: float, confidence: float
) -> None:
    """Tight is more than half a millimetre inside the wall (that half: common practice, no source)."""
    found = _finding("heel-width-tight", observations={"heel_fit": {"medial": {"width": _read(value, u)}}})
    assert found.confidence == confidence


def test_a_two_sided_limit_adds_the_chances_of_both_ends() -> None:
    """Wall heights 3.5 mm apart, limits 3 mm either way, each height +/- 3 mm."""
    heights = {"medial_height": _read(60, 3), "lateral_height": _read(63.5, 3)}
    found = _finding("wall-heights-differ", observations={"levelness": heights})
    spread = NormalDist(3.5, math.hypot(3, 3))
    one_end = 1 - spread.cdf(3)
    assert found.confidence == pytest.approx(one_end + spread.cdf(-3), abs=5e-5)
    assert found.confidence is not None
    assert found.confidence > one_end + 0.05, "the far end must weigh here, or the case shows nothing"
    simulated = _simulated(-3, 3, (1, 63.5, 3), (-1, 60, 3))
    assert found.confidence == pytest.approx(simulated, abs=SIMULATED)


@pytest.mark.parametrize(
    ("rule", "length", "thickness", "times", "past"),
    [
        ("heel-long", (15.0, 0.5), (11.0, 1.5), 1, 3.0),  # L > t + 3
        ("heel-too-long", (23.0, 0.5), (11.0, 0.8), 2, 0.0),  # L > 2t
    ],
)
def test_a_limit_that_follows_the_shoe_takes_in_the_doubt_about_its_thickness(
    rule: str, length: tuple[float, float], thickness: tuple[float, float], times: int, past: float
) -> None:
    found = _finding(
        rule,
        work="harness",
        shoe={"thickness": _read(*thickness)},
        observations={"heel_fit": {"medial": {"length": _read(*length)}}},
    )
    simulated = _simulated(None, past, (1, *length), (-times, *thickness))
    assert found.confidence == pytest.approx(simulated, abs=SIMULATED)
    without = 1 - NormalDist(*length).cdf(times * thickness[0] + past)
    assert found.confidence is not None
    assert abs(found.confidence - without) > 0.05, "the thickness must weigh here, or the case shows nothing"


def test_a_short_branch_takes_in_the_doubt_about_the_shoes_thickness() -> None:
    """L < 3t/4 with L 7 +/- 0.5 and t 11 +/- 1.5."""
    found = _finding(
        "heel-short",
        shoe={"thickness": _read(11, 1.5)},
        observations={"heel_fit": {"medial": {"length": _read(7, 0.5)}}},
    )
    simulated = _simulated(0, None, (1, 7, 0.5), (-0.75, 11, 1.5))
    assert found.confidence == pytest.approx(simulated, abs=SIMULATED)


@pytest.mark.parametrize(
    ("seconds", "confidence"),
    [(180, 0.5), (179, 0.1587), (181, 0.8413)],  # Phi(0), Phi(-1), Phi(1): any statistical table
)
def test_a_guarded_limit_fires_early_and_says_how_sure_it_is(seconds: int, confidence: float) -> None:
    found = _finding("contact-harmful", observations={"scorch": {"contact_time": _read(seconds, 1)}})
    assert (found.grade, found.confidence) == ("critical", confidence)


def test_the_least_confidence_of_a_guarded_finding_is_one_in_twenty() -> None:
    readings_of = {"contact_time": _read(180 - 1.6448 * 10, 10)}
    assert _finding("contact-harmful", observations={"scorch": readings_of}).confidence == pytest.approx(0.05, abs=1e-4)


def test_a_word_that_was_observed_is_taken_as_seen() -> None:
    nail = {"branch": "medial", "hole": 1, "reaction": "flinch"}
    assert _finding("nail-flinch", stage="nailed", observations={"nails": [nail]}).confidence == 1.0


def test_a_joined_finding_is_as_sure_as_its_parts_together() -> None:
    """Two heels of -1 +/- 0.5 (limit -0.5, Phi(1) each) and a toe that is flush for certain: 0.8413447 squared."""
    tight = {"width": _read(-1, 0.5)}
    found = _finding(
        "heels-both-tight",
        observations={"heel_fit": {"medial": tight, "lateral": tight}, "toe_fit": {"overhang": _read(0, 0)}},
    )
    assert found.confidence == pytest.approx(0.8413447**2, abs=5e-5)


def test_a_suspected_nail_is_as_sure_as_the_wall_at_it_is_thin() -> None:
    """A soft nail in a wall of 5.35 +/- 1 there (limit 1/4 in = 6.35): Phi(1), any statistical table."""
    nail = {"branch": "medial", "hole": 2, "sound": "soft", "wall_thickness": _read(5.35, 1)}
    found = _finding("close-nail-suspected", stage="nailed", observations={"nails": [nail]})
    assert (found.grade, found.confidence) == ("critical", 0.8413)
