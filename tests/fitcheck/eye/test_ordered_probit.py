"""Where words end, and how sharply: against statsmodels, against what was put in, and where nothing can be told."""

from __future__ import annotations

import random
import warnings
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from statsmodels.miscmodels.ordinal_model import OrderedModel

from fitcheck.eye.likelihood import Spreads, columns_of
from fitcheck.eye.model import ByShift, FreeEnds
from fitcheck.eye.ordered_probit import Estimate, Look, Method, ends_of, shift_of
from tests.support.counts import tries

PLAIN = Method()
KNOWING = Method(0.02, 0.1, lapse_factor=0.8, end=0.2, spreads=Spreads(0.5, 1.0))
ENDS = (-0.5, 1.6, 3.2)


def looks_of(count: int, seed: int, spread: float = 1.2, u: float = 0.0, shift: float = 0.0) -> list[Look]:
    """Looks without lapses, each at a horse of its own."""
    chance = random.Random(seed)
    looks = []
    for number in range(count):
        true = chance.gauss(1.8, 2.4)
        perceived = true + shift + chance.gauss(0, spread)
        word = sum(perceived > end for end in ENDS)
        looks.append(Look(true + chance.gauss(0, u), u, word, f"H-{number}", ENDS))
    return looks


def by_statsmodels(looks: list[Look]) -> tuple[float, list[float], float]:
    """The log likelihood, ends and spread of the ordered probit of statsmodels."""
    words = np.array([look.word for look in looks])
    values = np.array([[look.value] for look in looks])
    model: Any = OrderedModel(words, values, distr="probit")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        found = model.fit(method="newton", disp=0, maxiter=300, tol=1e-13)
    slope = found.params[0]
    cuts = model.transform_threshold_params(found.params)[1:-1]
    return float(found.llf), [float(cut / slope) for cut in cuts], float(1 / slope)


@pytest.mark.parametrize("count", [30, 100])
def test_without_errors_of_the_measure_it_is_the_ordered_probit_of_statsmodels(count: int) -> None:
    """In OrderedModel of statsmodels 0.14 thresholds divided by the slope are the ends, 1 over the slope the spread."""
    looks = looks_of(count, seed=count)
    likelihood, ends, spread = by_statsmodels(looks)
    fit = ends_of(looks, 4, PLAIN)
    assert fit.log_likelihood == pytest.approx(likelihood, abs=1e-6)
    assert [each.value for each in fit.ends] == pytest.approx(ends, abs=1e-6)
    assert fit.spread.value == pytest.approx(spread, abs=1e-6)
    assert not fit.separate


def test_the_error_of_the_measure_is_not_taken_for_one_of_the_eye() -> None:
    looks = looks_of(400, seed=3, spread=0.8, u=1.0)
    known = ends_of(looks, 4, PLAIN)
    unknown = ends_of([look._replace(u=0.0) for look in looks], 4, PLAIN)
    assert known.spread.value == pytest.approx(0.8, abs=0.2)
    assert unknown.spread.value is not None
    assert unknown.spread.value > 1.1
    assert [each.value for each in known.ends] == pytest.approx(ENDS, abs=0.3)


def test_a_shift_is_how_much_more_is_seen_than_there_is() -> None:
    fit = shift_of(looks_of(800, seed=5, shift=0.7), 4, PLAIN)
    assert fit is not None
    assert fit.ends[0].value == pytest.approx(0.7, abs=0.15)
    assert fit.spread.value == pytest.approx(1.2, abs=0.12)


def test_a_lapse_far_off_does_not_bend_the_curve() -> None:
    """As Wichmann and Hill (2001) show of a lapse rate that is held at none."""
    looks = [*looks_of(60, seed=8, spread=0.5), Look(9.0, 0.0, 0, "H-x", ENDS), Look(-6.0, 0.0, 3, "H-y", ENDS)]
    stiff, supple = shift_of(looks, 4, PLAIN), shift_of(looks, 4, Method(lapse=0.02))
    assert stiff is not None
    assert supple is not None
    assert (stiff.spread.value or 0) > 1.0
    assert supple.spread.value == pytest.approx(0.5, abs=0.2)


def test_ends_that_lie_off_each_by_itself_are_not_taken_for_a_blurred_eye() -> None:
    """Who holds the word between two ends 25 mm apart to be 4 mm wider than the book sees as sharply as before."""
    book, own = (16.0, 41.0), (14.0, 43.0)
    chance = random.Random(6)
    looks = []
    for number in range(300):
        true = chance.uniform(2, 56)
        looks.append(Look(true, 0.0, sum(true + chance.gauss(0, 1.5) > end for end in own), f"H-{number}", book))
    stiff, supple = shift_of(looks, 3, PLAIN), shift_of(looks, 3, Method(end=0.2))
    assert stiff is not None
    assert supple is not None
    assert (stiff.spread.value or 0) > 1.9
    assert supple.spread.value == pytest.approx(1.5, abs=0.35)
    assert supple.ends[0].value == pytest.approx(0.0, abs=0.6)


def test_how_many_words_are_lapses_is_told_by_them_as_far_as_it_is_usual() -> None:
    chance = random.Random(7)
    looks = looks_of(300, seed=9, spread=0.6)
    careless = [look._replace(word=chance.randrange(4)) if chance.random() < 0.1 else look for look in looks]
    method = Method(lapse=0.02, lapse_factor=0.8)
    held, of_careful, of_careless = (
        shift_of(careless, 4, Method(lapse=0.02)),
        *(shift_of(each, 4, method) for each in (looks, careless)),
    )
    assert held is not None
    assert of_careful is not None
    assert of_careless is not None
    assert of_careful.lapse < 0.03 < of_careless.lapse < 0.2
    # A held share makes of further lapses an eye more blurred than it is.
    assert (of_careless.spread.value or 9) < (held.spread.value or 0)


def test_derivatives_are_those_of_finite_differences() -> None:
    looks = [
        look._replace(ends=(-0.5, None, 3.2)) if number % 5 == 0 else look
        for number, look in enumerate(looks_of(50, seed=12, u=0.4))
    ]
    full = Method(lapse=0.02, lapse_factor=0.8, end=0.2)
    for method in (PLAIN, Method(lapse=0.02), full):
        for model in (
            ByShift(columns_of(looks, 4, by_book=True), method, 2.0),
            ByShift(columns_of(looks, 4, by_book=True), method, 2.0, Spreads(0.5, 1.0)),
            FreeEnds(columns_of(looks, 4, by_book=False), method, anchor=1),
        ):
            at = model.start() + 0.05
            _, slope, hessian = model.surface(at)
            for number in range(at.size):
                step = np.zeros(at.size)
                step[number] = 1e-5
                up, down = model.surface(at + step), model.surface(at - step)
                assert (up[0] - down[0]) / 2e-5 == pytest.approx(slope[number], rel=1e-5, abs=1e-5)
                np.testing.assert_allclose((up[1] - down[1]) / 2e-5, hessian[number], rtol=1e-4, atol=1e-4)


def test_where_words_lie_apart_the_spread_is_open_below_and_an_end_lies_between() -> None:
    looks = [Look(float(value), 0.0, int(value > 5), f"H-{value}") for value in range(12)]
    fit = ends_of(looks, 2, PLAIN)
    assert fit.separate
    assert fit.spread.low is None
    assert fit.spread.value is None
    assert fit.spread.high is not None
    assert fit.spread.high < 6
    low, high = fit.ends[0].low, fit.ends[0].high
    assert low is not None
    assert high is not None
    assert low < 5.5 < high


@pytest.mark.parametrize("known", [Spreads(0.4, 1.0), Spreads(1.5, 1.0, by_itself=True)])
def test_the_shift_of_words_that_lie_apart_is_not_that_of_an_eye_without_error(known: Spreads) -> None:
    """What is known of spreads leaves room for a shift where the words alone leave a gap; the spread stays open."""
    looks = [Look(float(value), 0.1, int(value > 5), f"H-{value}", (6.0,)) for value in range(12)]
    plain, knowing = shift_of(looks, 2, PLAIN), shift_of(looks, 2, Method(spreads=known))
    assert plain is not None
    assert knowing is not None
    assert knowing.spread == plain.spread
    (surer, low, high), (_, lower, higher) = (
        (fit.ends[0].value, fit.ends[0].low, fit.ends[0].high) for fit in (plain, knowing)
    )
    assert surer is not None
    assert None not in {low, high, lower, higher}
    assert (lower or 0) < (low or 0) < 0.5 < (high or 0) < (higher or 0)


def test_of_one_word_alone_shift_and_spread_are_open() -> None:
    looks = [Look(2.0 + 0.1 * number, 0.3, 2, f"H-{number}", ENDS) for number in range(14)]
    fit = shift_of(looks, 4, PLAIN)
    assert fit is not None
    assert fit.spread.low is None
    with pytest.raises(ValueError, match="each of them used"):
        ends_of(looks, 4, PLAIN)


@pytest.mark.parametrize("method", [PLAIN, KNOWING])
def test_of_the_last_word_alone_any_greater_shift_is_as_likely_and_none_is_told(method: Method) -> None:
    looks = [Look(2.0 + 0.3 * number, 0.3, 3, f"H-{number}", ENDS) for number in range(14)]
    fit = shift_of(looks, 4, method)
    assert fit is not None
    assert fit.ends[0].value is None
    assert fit.ends[0].high is None
    assert fit.ends[0].low is not None
    assert fit.ends[0].low < 1.0


def test_how_true_values_are_spread_is_taken_from_them_also_where_measures_hardly_tell_them() -> None:
    """With the error of the measure taken off twice, eyes would be known as four times as sharp: 32 of 40 are held."""
    bias, held = 0.5, 0
    for person in range(40):
        chance, looks = random.Random(person), []
        for number in range(12):
            true = chance.gauss(0, 0.3)
            word = sum(true + bias + chance.gauss(0, 1) > end for end in (-1, 0, 1))
            looks.append(Look(true + chance.gauss(0, 0.6), 0.6, word, f"H-{number}", (-1.0, 0.0, 1.0)))
        fit = shift_of(looks, 4, KNOWING)
        assert fit is not None
        low, high = fit.ends[0].low, fit.ends[0].high
        held += (low is None or low <= bias) and (high is None or bias <= high)
    assert held >= 37


@pytest.mark.parametrize(
    ("values", "u", "odd", "ends"),
    [
        (
            (1.07, -3.276, 0.003, -0.51, 0.949, 0.428, 0.38, 1.159, 0.384, 1.33, 0.632, -0.455, -0.943),
            1.0,
            3,
            (-3.576, 1.626, 4.557),
        ),
        (
            (0.563, -1.215, -0.371, 1.125, 0.258, -0.509, -0.166, 0.448, -1.157, 0.239, -0.913, -0.502),
            0.0,
            2,
            (-0.334,),
        ),
    ],
)
def test_the_likeliest_of_several_tops_is_found(
    values: tuple[float, ...], u: float, odd: int, ends: tuple[float, ...]
) -> None:
    """One word is unlike all others; on another line of millimetres, a metre's say, the answer is the same."""
    found = []
    for unit in (1.0, 0.001):
        looks = [
            Look(value * unit, u * unit, int(number != odd), f"H-{number % 5}", tuple(end * unit for end in ends))
            for number, value in enumerate(values)
        ]
        fit = shift_of(looks, len(ends) + 1, KNOWING)
        assert fit is not None
        assert fit.ends[0].value is not None
        found.append(fit.ends[0].value / unit)
    assert found[0] == pytest.approx(found[1], rel=0.02)


@pytest.mark.parametrize("word", [0, 3])
def test_of_one_horse_and_one_word_nothing_is_told(word: int) -> None:
    looks = [Look(2.0 + 0.3 * number, 0.3, word, "H-1", ENDS) for number in range(14)]
    fit = shift_of(looks, 4, KNOWING)
    assert fit is not None
    assert fit.ends[0] == Estimate(None, None, None)


def test_of_one_horse_alone_no_interval_is_told() -> None:
    looks = [look._replace(group="H-1") for look in looks_of(40, seed=2)]
    fit = shift_of(looks, 4, PLAIN)
    assert fit is not None
    assert fit.ends[0] == Estimate(fit.ends[0].value, None, None)
    assert fit.spread == Estimate(fit.spread.value, None, None)


def test_feet_of_one_horse_widen_intervals() -> None:
    """Four times the same looks tell no more than once where they are of the same horses."""
    once = looks_of(40, seed=9)
    apart = [look._replace(group=f"{look.group}-{copy}") for copy in range(4) for look in once]
    together = [look for _ in range(4) for look in once]
    widths = []
    for looks in (once, apart, together):
        fit = shift_of(looks, 4, Method(shared=0.1))
        assert fit is not None
        assert fit.ends[0].low is not None
        assert fit.ends[0].high is not None
        widths.append(fit.ends[0].high - fit.ends[0].low)
    assert widths[1] == pytest.approx(widths[0] / 2, rel=0.15)
    assert widths[2] == pytest.approx(widths[0], rel=0.15)


def test_an_end_that_the_book_does_not_have_is_passed_over() -> None:
    """What lies on both sides of it is then one word."""
    looks = [look._replace(ends=(-0.5, None, 3.2)) for look in looks_of(300, seed=4)]
    merged = [look._replace(word=(0, 1, 1, 2)[look.word], ends=(-0.5, 3.2)) for look in looks]
    one, other = shift_of(looks, 4, PLAIN), shift_of(merged, 3, PLAIN)
    assert one is not None
    assert other is not None
    assert one.ends[0].value == pytest.approx(other.ends[0].value, abs=1e-5)
    assert shift_of([look._replace(ends=(None, None, None)) for look in looks], 4, PLAIN) is None


@pytest.mark.parametrize("seed", range(tries(3, full=60)))
def test_ends_are_in_order_and_intervals_hold_their_values(seed: int) -> None:
    fit = ends_of(looks_of(60, seed, u=0.5), 4, Method(lapse=0.02, shared=0.1))
    values = [each.value for each in fit.ends if each.value is not None]
    assert all(one < other for one, other in pairwise(values))
    for each in (*fit.ends, fit.spread):
        assert each.value is not None
        assert each.low is None or each.low < each.value
        assert each.high is None or each.value < each.high
