"""Kappa against the printed figures of those who made it, against statsmodels and scikit-learn, and by simulation."""

from __future__ import annotations

import math
import random
from statistics import fmean
from typing import Final

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sklearn.metrics import cohen_kappa_score
from statsmodels.stats.inter_rater import cohens_kappa

from fitcheck.agreement.kappa import (
    WEIGHTS,
    Kappa,
    Weights,
    disagreement,
    kappa,
    kappa_of_table,
    standard_error,
    table_of,
)
from fitcheck.agreement.outcome import NotComputed

GRADES: Final = 4
_SCALE: Final = range(GRADES)
_GIVEN: Final = st.lists(st.tuples(st.integers(0, 3), st.integers(0, 3)), min_size=2, max_size=40)

# J. Cohen, Weighted kappa, Psychological Bulletin 70 (1968) 213-220: proportions and disagreement weights.
COHEN: Final = ((0.44, 0.07, 0.09), (0.05, 0.20, 0.05), (0.01, 0.03, 0.06))
COHEN_WEIGHTS: Final = ((0, 1, 3), (1, 0, 6), (3, 6, 0))
# Fleiss, Cohen and Everitt, Psychological Bulletin 72 (1969) 323-327: 200 subjects (from memory, as are its figures).
FLEISS: Final = ((0.53, 0.05, 0.02), (0.11, 0.14, 0.05), (0.01, 0.06, 0.03))
FLEISS_WEIGHTS: Final = ((0, 1, 1 - 0.4444), (1, 0, 1 - 0.6667), (1 - 0.4444, 1 - 0.6667, 0))


def _computed(pairs: list[tuple[int, int]], weights: Weights) -> Kappa | None:
    found = kappa([one for one, _ in pairs], [two for _, two in pairs], GRADES, weights)
    return found if isinstance(found, Kappa) else None


def test_cohens_own_example_gives_his_printed_kappa_and_weighted_kappa() -> None:
    plain, weighted = kappa_of_table(COHEN, disagreement(3, "none")), kappa_of_table(COHEN, COHEN_WEIGHTS)
    assert plain is not None
    assert weighted is not None
    assert (f"{plain:.3f}", f"{weighted:.3f}") == ("0.492", "0.348")


def test_the_large_sample_variances_are_those_of_fleiss_cohen_and_everitt() -> None:
    """Kappa .429 with variance .002885, weighted kappa .507 with variance .003248 (from memory)."""
    plain, weighted = kappa_of_table(FLEISS, disagreement(3, "none")), kappa_of_table(FLEISS, FLEISS_WEIGHTS)
    assert plain == pytest.approx(0.429, abs=5e-4)
    assert weighted == pytest.approx(0.507, abs=5e-4)
    assert standard_error(FLEISS, disagreement(3, "none"), 200) ** 2 == pytest.approx(0.002885, abs=5e-7)
    assert standard_error(FLEISS, FLEISS_WEIGHTS, 200) ** 2 == pytest.approx(0.003248, abs=5e-7)


@pytest.mark.parametrize("weights", WEIGHTS)
@pytest.mark.parametrize("seed", range(8))
def test_kappa_and_its_standard_error_are_those_of_statsmodels_and_scikit_learn(seed: int, weights: Weights) -> None:
    draw = random.Random(seed)
    first = draw.choices(_SCALE, (6, 2, 2, 1), k=15 + 10 * seed)
    second = [draw.choice(_SCALE) if draw.random() < 0.4 else one for one in first]
    table = table_of(first, second, GRADES)
    ours = kappa(first, second, GRADES, weights)
    assert isinstance(ours, Kappa)
    theirs = cohens_kappa(table, wt=None if weights == "none" else weights)
    assert ours.value == pytest.approx(theirs.kappa, abs=1e-12)
    error = standard_error(table, disagreement(GRADES, weights), len(first))
    assert error == pytest.approx(math.sqrt(theirs.var_kappa), rel=1e-9)
    learnt = cohen_kappa_score(first, second, labels=list(_SCALE), weights=None if weights == "none" else weights)
    assert ours.value == pytest.approx(learnt, abs=1e-12)


@given(_GIVEN)
def test_kappa_with_squared_weights_is_the_concordance_correlation(pairs: list[tuple[int, int]]) -> None:
    """Fleiss and Cohen 1973; L. I. Lin, A concordance correlation coefficient, Biometrics 45 (1989) 255-268."""
    found = _computed(pairs, "quadratic")
    first, second = fmean(one for one, _ in pairs), fmean(two for _, two in pairs)
    shared = fmean((one - first) * (two - second) for one, two in pairs)
    spread = fmean((one - first) ** 2 + (two - second) ** 2 for one, two in pairs) + (first - second) ** 2
    if found is None:
        assert spread == 0
    else:
        assert found.value == pytest.approx(2 * shared / spread, abs=1e-9)


@given(_GIVEN, st.sampled_from(WEIGHTS), st.randoms(use_true_random=False))
def test_neither_the_order_of_raters_and_feet_nor_the_scale_turned_round_matters(
    pairs: list[tuple[int, int]], weights: Weights, draw: random.Random
) -> None:
    found = _computed(pairs, weights)
    shuffled = draw.sample(pairs, len(pairs))
    others = (
        shuffled,
        [(two, one) for one, two in pairs],
        [(GRADES - 1 - one, GRADES - 1 - two) for one, two in pairs],
    )
    for other in others:
        again = _computed(other, weights)
        assert (again is None) == (found is None)
        if again is not None and found is not None:
            assert again.value == pytest.approx(found.value, abs=1e-12)
            assert again.interval.low == pytest.approx(found.interval.low, abs=1e-9)
            assert again.interval.high == pytest.approx(found.interval.high, abs=1e-9)


@given(_GIVEN, st.sampled_from(WEIGHTS))
def test_the_interval_holds_the_value_and_lies_between_full_disagreement_and_full_agreement(
    pairs: list[tuple[int, int]], weights: Weights
) -> None:
    found = _computed(pairs, weights)
    if found is not None:
        assert -1 - 1e-12 <= found.interval.low <= found.value <= found.interval.high <= 1
        assert found.interval.low < found.interval.high


@given(st.lists(st.integers(0, 3), min_size=2, max_size=40).filter(lambda grades: len(set(grades)) > 1))
def test_full_agreement_is_1_and_its_interval_still_has_width(grades: list[int]) -> None:
    for weights in WEIGHTS:
        found = kappa(grades, grades, GRADES, weights)
        assert isinstance(found, Kappa)
        assert found.value == 1
        assert found.interval.high == 1
        assert found.interval.low < 1


@given(st.lists(st.tuples(st.integers(0, 1), st.integers(0, 1)), min_size=2, max_size=30))
def test_weights_make_no_difference_between_two_grades(pairs: list[tuple[int, int]]) -> None:
    plain, *weighted = (_computed(pairs, weights) for weights in WEIGHTS)
    for other in weighted:
        assert (other is None) == (plain is None)
        if other is not None and plain is not None:
            assert other.value == pytest.approx(plain.value, abs=1e-12)


@pytest.mark.parametrize(
    ("first", "second", "why"),
    [
        ([], [], "no foot was judged by both"),
        ([1], [1], "one foot alone"),
        ([0, 0, 0], [0, 0, 0], "one and the same grade to all"),
    ],
)
def test_where_kappa_would_say_nothing_it_says_why(first: list[int], second: list[int], why: str) -> None:
    for weights in WEIGHTS:
        found = kappa(first, second, GRADES, weights)
        assert isinstance(found, NotComputed)
        assert why in found.why


def test_a_rater_who_gives_all_the_same_grade_agrees_no_more_than_chance() -> None:
    found = kappa([0] * 10, [0] * 7 + [1, 2, 2], GRADES, "linear")
    assert isinstance(found, Kappa)
    assert found.value == pytest.approx(0)


def test_grades_off_the_scale_and_lists_of_two_lengths_are_refused() -> None:
    with pytest.raises(ValueError, match="scale of 4"):
        kappa([4], [0], GRADES, "linear")
    with pytest.raises(ValueError, match="shorter"):
        kappa([0, 1], [0], GRADES, "linear")
    with pytest.raises(ValueError, match="not defined"):
        standard_error([[3, 0], [0, 0]], disagreement(2, "none"), 3)


# Simulation: shares of the four grades, and how often a grade is kept rather than given anew (a mixture of full
# agreement and chance, whose kappa is the share kept, whatever the weights).
SHARES: Final = {"even": (1, 1, 1, 1), "usual": (11, 4, 4, 1), "mostly good": (40, 6, 3, 1)}
DRAWS: Final = 1000
FLOORS: Final = {20: 0.87, 60: 0.88}
"""Least share of intervals that hold the true value, whatever the shares of grades."""


@pytest.mark.parametrize(("feet", "floor"), FLOORS.items())
@pytest.mark.parametrize("kept", [0.3, 0.6, 0.85])
@pytest.mark.parametrize("shares", SHARES)
def test_the_interval_holds_the_true_kappa_as_often_as_documented(
    shares: str, kept: float, feet: int, floor: float
) -> None:
    draw = random.Random(20260304)
    held, computed = 0, 0
    for _ in range(DRAWS):
        first = draw.choices(_SCALE, SHARES[shares], k=feet)
        second = [
            one if draw.random() < kept else other
            for one, other in zip(first, draw.choices(_SCALE, SHARES[shares], k=feet), strict=True)
        ]
        found = kappa(first, second, GRADES, "linear")
        if isinstance(found, Kappa):
            computed += 1
            held += found.interval.low <= kept <= found.interval.high
    assert computed > 0.95 * DRAWS
    assert floor <= held / computed <= 0.99
