"""An eye for time errs in proportion to what has passed: it is told in per cent, and its words in seconds."""

from __future__ import annotations

import math
import random
import re

import pytest

from fitcheck.assessment.assess import assess
from fitcheck.eye.chance import chance_between, curve_of
from fitcheck.eye.curve_plot import curve_plot
from fitcheck.eye.eye import eye_of
from fitcheck.eye.known import method, usual
from fitcheck.eye.models import EyeQuantity, EyeView
from fitcheck.eye.ordered_probit import Look
from fitcheck.eye.pairs import Pair, Pairs
from fitcheck.eye.stated import with_eye
from fitcheck.fitting.validation import parse_fitting
from fitcheck.scales import scales
from rules import localized, shipped_rulebook

BOOK = shipped_rulebook()
ENDS = (15.0, 80.0)
SCALE = scales()["contact_time_by_eye"]
WORDS = ("few_seconds", "half_minute", "long")
TAKEN_FOR = 1.3
"""Of a time that has passed."""


def pair(number: int, word: str, passed: float, u: float) -> Pair:
    return Pair(
        quantity="contact_time_by_eye",
        place="foot",
        foot="left_fore",
        word=word,
        value=passed,
        u=u,
        unit="s",
        ends=ENDS,
        horse=f"H-{number}",
        visit=f"V-{number}",
        day="2026-03-04",
        record=f"R-{number}",
        measured_in=f"M-{number}",
        by_assessor=True,
    )


def eye(*, german: bool = False) -> EyeView:
    """Of somebody to whom each time seems longer by three tenths; his spread is a fifth either way."""
    chance = random.Random(9)
    pairs = []
    for number in range(120):
        passed = math.exp(chance.uniform(math.log(3), math.log(160)))
        seems = passed * TAKEN_FOR * math.exp(chance.gauss(0, 0.2))
        word = WORDS[sum(seems > end for end in ENDS)]
        pairs.append(pair(number, word, round(passed, 1), 0.3))
    return eye_of("A-3", Pairs(pairs=pairs, words=120), localized(BOOK, "de") if german else BOOK)


@pytest.fixture(scope="module")
def told() -> EyeQuantity:
    [found] = eye().quantities
    return found


def test_bias_and_spread_are_in_per_cent_and_hold_what_was_put_in(told: EyeQuantity) -> None:
    assert (told.unit, told.error_unit) == ("s", "%")
    bias, spread = told.groups[0].bias, told.groups[0].spread
    assert bias is not None
    assert spread is not None
    for figure, put_in in ((bias, 30.0), (spread, 100 * math.expm1(0.2))):
        assert figure.low is not None
        assert figure.high is not None
        assert 0 < figure.low < put_in < figure.high < 3 * put_in


def test_words_begin_and_end_in_seconds(told: EyeQuantity) -> None:
    ends = [each.ends for each in told.groups[0].words[:2]]
    for found, end in zip(ends, ENDS, strict=True):
        assert found is not None
        assert found.low is not None
        assert found.high is not None
        assert found.low < end / TAKEN_FOR < found.high < end


def test_it_is_said_so_in_both_languages(told: EyeQuantity) -> None:
    english = " ".join(told.groups[0].say)
    assert re.search(r"To you a time seems \d\d(\.\d)? % longer than it is \(95 % interval", english)
    assert re.search(r"Your “a few seconds” ends at 1\d(\.\d)? s ", english)
    german = " ".join(eye(german=True).quantities[0].groups[0].say)
    assert re.search(r"\d\d(,\d)? % länger vor, als sie ist", german)


def test_the_plot_has_the_ends_in_seconds_on_an_axis_of_proportions(told: EyeQuantity) -> None:
    plot = curve_plot(eye(), "contact_time_by_eye", BOOK)
    assert plot is not None
    labels = {float(value): float(x) for x, value in re.findall(r'<text x="([\d.]+)"[^>]*>([\d.]+) s</text>', plot)}
    ends = [each.ends.value for each in told.groups[0].words if each.ends is not None and each.ends.value is not None]
    assert sorted(labels) == pytest.approx(ends, abs=0.06)
    low, high = sorted(labels)
    # Half-way between them lies the beginning of the curve's middle word: as far from both in proportion.
    middle = re.search(r'<text x="([\d.]+)"[^>]*>[^<]*half[^<]*</text>', plot)
    assert middle
    assert float(middle[1]) == pytest.approx((labels[low] + labels[high]) / 2, abs=0.2)


def test_a_chance_is_the_share_of_such_words_that_are_so(told: EyeQuantity) -> None:
    """The share is counted over 100,000 times of the same eye, by the simulation's own figures."""
    assert told.curve is not None
    found = chance_between(told.curve, "long", SCALE.ends_on_line(ENDS), SCALE.on_line(ENDS[1]), None)
    chance, long, true = random.Random(4), 0, 0
    for _ in range(100_000):
        passed = math.exp(chance.uniform(math.log(3), math.log(160)))
        if passed * TAKEN_FOR * math.exp(chance.gauss(0, 0.2)) > ENDS[1]:
            long, true = long + 1, true + (passed > ENDS[1])
    assert found == pytest.approx(true / long, abs=0.08)


def test_how_sharp_an_eye_for_time_usually_is_does_not_hang_on_how_times_differ_in_the_yard() -> None:
    """By two pairs hardly anything is told but what is usual; of a width that goes with how feet differ."""
    ends = tuple(map(math.log, ENDS))
    looks = [Look(math.log(8), 0.05, 0, "H-1", ends), Look(math.log(40), 0.02, 1, "H-2", ends)]
    chance = random.Random(2)

    def spread(apart: float, *, in_proportion: bool) -> float:
        yard = [(chance.gauss(3, apart), 0.02) for _ in range(200)]
        found = curve_of(looks, WORDS, "s", method(), usual(in_proportion=in_proportion), yard)
        assert found is not None
        return found.spread

    assert spread(2.0, in_proportion=True) == pytest.approx(spread(0.5, in_proportion=True), rel=0.15)
    assert spread(2.0, in_proportion=False) > 2 * spread(0.5, in_proportion=False)


def test_the_chance_of_a_finding_is_that_of_times(told: EyeQuantity) -> None:
    fitting = parse_fitting(
        {
            "foot": "left_fore",
            "stage": "hot_fit",
            "work": "harness",
            "person": {"id": "A-3"},
            "observations": {"scorch": {"contact_time": "long"}},
        }
    )
    assessment = with_eye(assess(fitting), fitting, eye(), BOOK)
    [chance] = [each.chance_by_eye for each in assessment.findings if each.chance_by_eye is not None]
    assert told.curve is not None
    by_hand = chance_between(told.curve, "long", SCALE.ends_on_line(ENDS), SCALE.on_line(ENDS[1]), None)
    assert chance == pytest.approx(by_hand, abs=1e-4)


@pytest.mark.parametrize("last", [0.0, 0.3])
def test_an_end_of_a_book_at_nothing_is_no_error(told: EyeQuantity, last: float) -> None:
    assert told.curve is not None
    ends = SCALE.ends_on_line((last, 80.0))
    assert chance_between(told.curve, "half_minute", ends, SCALE.on_line(last), None) is not None


def test_what_says_only_that_nothing_is_known_is_open() -> None:
    """Twelve words said nearly at random: no interval reaches to days, nor to no time at all."""
    chance = random.Random(2)
    pairs = [pair(number, chance.choice(WORDS), 5.0 + 3 * number, 0.5) for number in range(12)]
    for each in (pairs, [one._replace(word=WORDS[number // 6]) for number, one in enumerate(pairs)]):
        [found] = eye_of("A-3", Pairs(pairs=each, words=12), BOOK).quantities
        group = found.groups[0]
        errors = [figure for figure in (group.bias, group.spread) if figure is not None]
        assert all(
            end is None or -90 <= end <= 900 for figure in errors for end in (figure.value, figure.low, figure.high)
        )
        ends = [figure for word in group.words for figure in (word.begins, word.ends) if figure is not None]
        values = [value for figure in ends for value in (figure.value, figure.low, figure.high) if value is not None]
        assert all(0.5 <= value <= 380 for value in values)


def test_words_that_lie_apart_below_a_second_have_a_plot() -> None:
    pairs = [pair(number, WORDS[0], 0.5 + number / 100, 0.0) for number in range(20)]
    pairs += [pair(20 + number, WORDS[1], 1.2 + number / 100, 0.0) for number in range(20)]
    view = eye_of("A-3", Pairs(pairs=[each._replace(ends=(1.0, 80.0)) for each in pairs], words=40), BOOK)
    plot = curve_plot(view, "contact_time_by_eye", BOOK)
    assert plot is not None
    assert "nan" not in plot


def test_a_time_of_nothing_is_one_of_half_a_second() -> None:
    pairs = [pair(number, "few_seconds", float(number), 0.0) for number in range(14)]
    [found] = eye_of("A-3", Pairs(pairs=pairs, words=14), BOOK).quantities
    assert found.groups[0].say
