"""Intraclass correlation against the printed figures of Shrout and Fleiss 1979, pingouin, scipy, and by simulation."""

from __future__ import annotations

import random
from typing import Final

import pandas as pd
import pingouin
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from fitcheck.agreement.distributions import f_quantile, f_tail
from fitcheck.agreement.intraclass import FORMS, Correlation, Form, FTest, intraclass, mean_squares
from fitcheck.agreement.outcome import Interval, NotComputed

Table = list[list[float]]

# P. E. Shrout and J. L. Fleiss, Psychological Bulletin 86 (1979) 420-428: six targets by four judges.
SHROUT: Final[Table] = [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]]
PRINTED: Final[dict[Form, str]] = {
    "ICC(1,1)": ".17",
    "ICC(2,1)": ".29",
    "ICC(3,1)": ".71",
    "ICC(1,k)": ".44",
    "ICC(2,k)": ".62",
    "ICC(3,k)": ".91",
}
# The documentation of the R package psych, on the same ratings (from memory).
PSYCH: Final[dict[Form, tuple[float, float]]] = {
    "ICC(1,1)": (-0.133, 0.72),
    "ICC(2,1)": (0.019, 0.76),
    "ICC(3,1)": (0.342, 0.95),
    "ICC(1,k)": (-0.884, 0.91),
    "ICC(2,k)": (0.071, 0.93),
    "ICC(3,k)": (0.676, 0.99),
}


def _found(table: Table, form: Form) -> Correlation:
    forms = intraclass(table)
    assert not isinstance(forms, NotComputed)
    found = forms[form]
    assert isinstance(found, Correlation)
    return found


def _tables(least: int = 2) -> st.SearchStrategy[Table]:
    numbers = st.integers(-40, 40).map(lambda tenths: tenths / 8)  # eighths, so that sums are exact
    return st.integers(2, 4).flatmap(
        lambda raters: st.lists(st.lists(numbers, min_size=raters, max_size=raters), min_size=least, max_size=9)
    )


def _values(table: Table) -> dict[Form, float | None] | None:
    forms = intraclass(table)
    if isinstance(forms, NotComputed):
        return None
    return {form: found.value if isinstance(found, Correlation) else None for form, found in forms.items()}


def _alike(one: float | None, other: float | None) -> bool:
    return one is other is None or (one is not None and one == pytest.approx(other, rel=1e-6, abs=1e-6))


@pytest.mark.parametrize("form", FORMS)
def test_shrout_and_fleiss_own_ratings_give_their_printed_coefficients(form: Form) -> None:
    assert f"{_found(SHROUT, form).value:.2f}".removeprefix("0") == PRINTED[form]


def test_shrout_and_fleiss_own_ratings_give_their_printed_mean_squares() -> None:
    """Printed: 11.24, 6.26, 32.49, 1.02 (from memory)."""
    found = mean_squares(SHROUT)
    squares = (found.between, found.within, found.of_raters, found.left_over)
    assert [f"{square:.2f}" for square in squares] == ["11.24", "6.26", "32.49", "1.02"]


@pytest.mark.parametrize("form", FORMS)
def test_the_intervals_of_those_ratings_are_the_ones_that_psych_shows(form: Form) -> None:
    interval = _found(SHROUT, form).interval
    assert isinstance(interval, Interval)
    low, high = PSYCH[form]
    assert interval.low == pytest.approx(low, abs=5.01e-4)
    assert interval.high == pytest.approx(high, abs=5.01e-3)


@pytest.mark.filterwarnings("ignore:The inplace keyword")  # pingouin asks pandas for what pandas will drop
@pytest.mark.parametrize("seed", range(1, 7))
def test_all_six_forms_are_those_of_pingouin(seed: int) -> None:
    """Below 0 our interval of the second form differs, see ``_levels_count``: these tables are all above."""
    draw = random.Random(seed)
    feet, raters = 4 + 3 * seed, 2 + seed % 3
    levels = [draw.gauss(0, 0.5) for _ in range(raters)]
    table = [
        [foot + level + draw.gauss(0, 0.7) for level in levels] for foot in (draw.gauss(10, 1) for _ in range(feet))
    ]
    rows = [(foot, rater, number) for foot, row in enumerate(table) for rater, number in enumerate(row)]
    theirs = pingouin.intraclass_corr(
        pd.DataFrame(rows, columns=["foot", "rater", "number"]), targets="foot", raters="rater", ratings="number"
    )
    (ends,) = [name for name in theirs.columns if name.startswith("CI95")]
    for form, (_, row) in zip(FORMS, theirs.iterrows(), strict=True):
        ours = _found(table, form)
        assert isinstance(ours.test, FTest)
        assert isinstance(ours.interval, Interval)
        assert ours.value > 0
        assert ours.value == pytest.approx(row["ICC"], rel=1e-9)
        assert ours.test.ratio == pytest.approx(row["F"], rel=1e-9)
        assert (ours.test.above, ours.test.below) == (row["df1"], row["df2"])
        assert ours.test.probability == pytest.approx(row["pval"], rel=1e-9)
        assert [ours.interval.low, ours.interval.high] == pytest.approx(list(row[ends]), abs=5.01e-3)


@pytest.mark.parametrize(("above", "below"), [(5, 18), (5, 4.79), (4.79, 5), (1, 1), (60, 200)])
def test_the_f_distribution_is_that_of_scipy_stats(above: float, below: float) -> None:
    assert f_quantile(above, below, 0.975) == pytest.approx(stats.f.ppf(0.975, above, below), rel=1e-9)
    assert f_tail(above, below, 2.5) == pytest.approx(stats.f.sf(2.5, above, below), rel=1e-9)


@given(_tables(), st.randoms(use_true_random=False), st.sampled_from([0.5, 2.0, 8.0]), st.integers(-20, 20))
def test_order_unit_and_zero_of_the_numbers_do_not_matter(
    table: Table, draw: random.Random, unit: float, zero: int
) -> None:
    before = _values(table)
    order = draw.sample(range(len(table[0])), len(table[0]))
    turned = [[row[rater] for rater in order] for row in draw.sample(table, len(table))]
    scaled = [[number * unit + zero for number in row] for row in table]
    for other in (_values(turned), _values(scaled)):
        assert (other is None) == (before is None)
        if other is not None and before is not None:
            for form in FORMS:
                assert _alike(other[form], before[form])


@given(_tables(), st.lists(st.integers(-9, 9), min_size=4, max_size=4))
def test_a_raters_own_level_does_not_count_in_the_third_form(table: Table, levels: list[int]) -> None:
    raised = [[number + level for number, level in zip(row, levels, strict=False)] for row in table]
    before, after = _values(table), _values(raised)
    if before is not None and after is not None:
        for form in ("ICC(3,1)", "ICC(3,k)"):
            assert _alike(after[form], before[form])


@given(st.lists(st.integers(-40, 40), min_size=2, max_size=9, unique=True), st.integers(2, 4))
def test_raters_who_read_the_same_agree_fully_in_every_form(numbers: list[int], raters: int) -> None:
    for form in FORMS:
        found = _found([[number / 8] * raters for number in numbers], form)
        assert found.value == 1
        assert isinstance(found.test, NotComputed)
        assert isinstance(found.interval, NotComputed)


@given(_tables(least=3))
def test_an_interval_holds_its_value_and_stays_below_1(table: Table) -> None:
    forms = intraclass(table)
    if isinstance(forms, NotComputed):
        return
    for found in forms.values():
        if isinstance(found, Correlation):
            assert found.value <= 1
            if isinstance(found.interval, Interval):
                assert found.interval.low <= found.value + 1e-9
                assert found.value <= found.interval.high + 1e-9
                assert found.interval.high <= 1


@pytest.mark.parametrize(
    ("table", "why"),
    [
        ([], "no foot was read by all"),
        ([[1.0], [2.0]], "one rater only"),
        ([[1.0, 2.0]], "one foot alone"),
        ([[0.1, 0.1], [0.1, 0.1], [0.1, 0.1]], "no spread"),
    ],
)
def test_where_no_form_would_say_anything_it_says_why(table: Table, why: str) -> None:
    found = intraclass(table)
    assert isinstance(found, NotComputed)
    assert why in found.why


def test_feet_that_do_not_differ_in_the_mean_have_no_averaged_form() -> None:
    forms = intraclass([[1, 2, 3], [2, 3, 1], [3, 1, 2]])
    assert not isinstance(forms, NotComputed)
    single = forms["ICC(3,1)"]
    assert isinstance(single, Correlation)
    assert single.value == pytest.approx(-1 / 2)  # the lowest that three raters can reach: -1 / (k - 1)
    averaged = forms["ICC(3,k)"]
    assert isinstance(averaged, NotComputed)
    assert "do not differ in the mean" in averaged.why


def test_two_feet_and_two_raters_who_only_swap_have_no_second_form() -> None:
    forms = intraclass([[1, 2], [2, 1]])
    assert not isinstance(forms, NotComputed)
    assert isinstance(forms["ICC(2,1)"], NotComputed)
    assert isinstance(forms["ICC(2,k)"], NotComputed)


def test_a_table_with_gaps_is_refused() -> None:
    for table in ([[1.0, 2.0], [1.0]], [[1.0, float("nan")], [1.0, 2.0]]):
        with pytest.raises(ValueError, match="not full of finite numbers"):
            intraclass(table)


DRAWS: Final = 1500
WITHIN: Final = 0.0225
"""Four standard deviations of a share of 0.95 over 1500 draws; the first and third intervals are exact."""


@pytest.mark.parametrize(
    ("form", "judges", "less"), [("ICC(1,1)", 0.0, 0), ("ICC(3,1)", 1.0, 0), ("ICC(2,1)", 0.7, 0.01)]
)
@pytest.mark.parametrize("feet", [6, 20])
def test_intervals_hold_the_true_coefficient_95_times_in_100(form: Form, judges: float, less: float, feet: int) -> None:
    """Feet with variance 1, raters with variance ``judges``, the rest with variance 0.5; the second is approximate."""
    draw = random.Random(20260304)
    true = 1 / (1.5 + (judges**2 if form == "ICC(2,1)" else 0))
    held = 0
    for _ in range(DRAWS):
        levels = [draw.gauss(0, judges) for _ in range(3)]
        of_feet = [draw.gauss(0, 1) for _ in range(feet)]
        interval = _found(
            [[foot + level + draw.gauss(0, 0.5**0.5) for level in levels] for foot in of_feet], form
        ).interval
        held += isinstance(interval, Interval) and interval.low <= true <= interval.high
    assert 0.95 - WITHIN - less <= held / DRAWS <= 0.95 + WITHIN + less
