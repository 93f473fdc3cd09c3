"""The rulebook's figures against what the sources print, the fractions of an inch converted here.

The sources, named beside each figure:

* LA: A. Lungwitz and J. W. Adams, A Text-Book of Horseshoeing, 1897/1913 (Mayer's wall thicknesses are printed there).
* USDA: Special Report on Diseases of the Horse, U.S. Department of Agriculture, chapter on shoeing.
* HU: W. Hunting, The Art of Horse-Shoeing, 1895.  FL: G. Fleming, Horse-Shoes and Horse-Shoeing, 1869.
* AN17: Animals 2017, 7(4), 29.  AFA22: American Farrier's Association Certification Guide, 2022.
* ISO 13732-1: the figure is from memory, and the rulebook must say so.

The inch is 25.4 mm exactly (international yard and pound agreement, 1959); limits are rounded to 0.1 mm.
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Final

import pytest

from fitcheck.assessment.assess import assess
from fitcheck.fitting.models import Fitting
from rules import Reading, Situation, evaluator_for, shipped_rulebook
from rules.model.records import Clause, Rule, Scaled

BOOK: Final = shipped_rulebook()
INCH: Final = Fraction(254, 10)


def mm(inches: Fraction) -> float:
    """Inches in millimetres, rounded to a tenth."""
    return float(round(inches * INCH, 1))


def _wall() -> Clause:
    (clause,) = [clause for clause in BOOK.joined["close-nail-suspected"].when if clause.reading is not None]
    return clause


@pytest.mark.parametrize(
    ("rule", "end", "inches", "source"),
    [
        ("heel-width-close", "low", Fraction(1, 16), "LA"),  # branches stand 1/16 to 1/8 in outside the wall
        ("heel-width-wide", "high", Fraction(1, 8), "LA"),
        ("heel-long-upright-riding", "high", Fraction(1, 8), "LA"),  # upright feet and riding horses
        ("heel-long-upright-riding", "high", Fraction(1, 8), "USDA"),
        ("nail-low", "low", Fraction(5, 8), "LA"),  # nails come out 5/8 to 1 5/8 in up
        ("nail-high", "high", 1 + Fraction(5, 8), "LA"),
        ("sole-scorched", "high", Fraction(1, 8), "USDA"),  # margin of the sole that may bear
        ("growth-odd", "low", Fraction(1, 6), "LA"),  # growth of horn in a month
        ("growth-odd", "high", Fraction(1, 2), "LA"),
    ],
)
def test_a_limit_printed_in_inches_stands_in_the_rulebook(rule: str, end: str, inches: Fraction, source: str) -> None:
    record = BOOK.rules[rule]
    assert (record.low if end == "low" else record.high) == mm(inches)
    assert source in record.sources
    assert record.status == "published"


def test_the_longer_branch_of_a_base_narrow_foot_is_a_quarter_inch_give_or_take_two_millimetres() -> None:
    rule = BOOK.rules["branches-base-narrow"]  # 1/4 in: LA; the 2 mm: common practice, no source
    assert rule.low == pytest.approx(mm(Fraction(1, 4)) - 2)
    assert rule.high == pytest.approx(mm(Fraction(1, 4)) + 2)
    assert {"LA", "trade"} <= set(rule.sources)


def test_a_wall_is_thin_below_three_eighths_of_an_inch_at_the_toe() -> None:
    wall = _wall()  # 3/8 in: LA (Mayer)
    assert (wall.reading, wall.low, wall.high) == ("wall_thickness", mm(Fraction(3, 8)), None)
    assert "LA" in BOOK.joined["close-nail-suspected"].sources


@pytest.mark.parametrize(
    ("rule", "share", "source"),
    [
        ("nail-far-back-fore", Fraction(1, 2), "USDA"),  # nails in the front half of a fore shoe
        ("nail-far-back-hind", Fraction(2, 3), "USDA"),  # and in the front two thirds of a hind shoe
    ],
)
def test_the_rearmost_nail_stands_no_further_back_than_published(rule: str, share: Fraction, source: str) -> None:
    assert BOOK.rules[rule].high == float(round(share, 3))
    assert source in BOOK.rules[rule].sources
    assert BOOK.rules[rule].status == "published"


@pytest.mark.parametrize(
    ("rule", "end", "times", "leeway", "source"),
    [
        ("clip-low", "low", 1, 0, "USDA"),  # the clip is as high as the shoe is thick
        ("heel-short-acute", "low", 1, 0, "LA"),  # an acute foot: one thickness to two
        ("heel-too-long", "high", 2, 0, "LA"),
        ("heel-too-long", "high", 2, 0, "USDA"),
        ("heel-short", "low", 1, -3, "LA"),  # a regular foot: one thickness; the 3: common practice, no source
        ("heel-long", "high", 1, 3, "LA"),
        ("heel-too-long-upright-riding", "high", 1, 0, "trade"),  # common practice, no source
    ],
)
def test_a_limit_that_follows_the_thickness_of_the_shoe(
    rule: str, end: str, times: int, leeway: int, source: str
) -> None:
    record = BOOK.rules[rule]
    limit = record.low if end == "low" else record.high
    assert limit == Scaled(times=times, of="shoe_thickness", plus=leeway)
    assert source in record.sources


@pytest.mark.parametrize(
    ("rule", "end", "figure", "source"),
    [
        ("heel-not-covered", "low", 0, "LA"),  # the bearing surface is covered
        ("heel-width-tight", "low", 0, "HU"),  # full, never inside the wall
        ("nail-line-inside", "low", 0, "LA"),  # the iron follows the edge of the wall
        ("nails-few", "low", 2 * 3, "USDA"),  # three nails a branch
        ("nails-many", "high", 8, "USDA"),  # eight when heavy
        ("interval-long", "high", 6 * 7, "AN17"),  # 4 to 6 weeks
        ("contact-too-long", "high", 80, "FL"),  # 596: the longest of the timed trials
        ("contacts-too-long", "high", 80, "FL"),
        ("contact-harmful", "high", 3 * 60, "FL"),  # 595: felt inside a separated sole not before three minutes
    ],
)
def test_a_published_figure_without_fractions(rule: str, end: str, figure: float, source: str) -> None:
    record = BOOK.rules[rule]
    assert (record.low if end == "low" else record.high) == figure
    assert source in record.sources


@pytest.mark.parametrize(
    ("seconds", "grade", "blocks"),
    [(29, "minor", False), (47, "minor", False), (81, "major", False), (190, "critical", True)],
)
def test_the_published_trials_are_not_called_harmful_and_more_than_three_minutes_are(
    seconds: int, grade: str, *, blocks: bool
) -> None:
    """FL 596: 29 to 80 s, mean 46 to 47, hurt none; 595: about three minutes were felt inside the sole."""
    situation = Situation("fore", "hot_fit", "draught", "regular", "yes")
    times = [Reading(name, "foot", float(seconds), 1.0) for name in ("contact_time", "total_contact")]
    found = [BOOK.rules[firing.rule] for firing in evaluator_for(BOOK).evaluate(situation, times)]
    assert grade in {rule.grade for rule in found}
    assert any(rule.holds_up for rule in found) == blocks


def test_the_heat_that_hurts_lies_below_what_the_trial_on_dead_feet_calls_critical() -> None:
    """FRU 2008: 51 degC; the round figure just under it is common practice, no source."""
    high = BOOK.rules["horn-overheated"].high
    assert isinstance(high, float)
    assert 43 < high <= 51


def test_a_third_of_the_wall_is_a_good_height_for_a_nail() -> None:
    """AFA22: about one third; the band round it is common practice, no source."""
    low, high = BOOK.rules["nail-ratio-low"].low, BOOK.rules["nail-ratio-raised"].high
    assert isinstance(low, float)
    assert isinstance(high, float)
    assert (low, high) == (0.25, 0.40)
    assert low < Fraction(1, 3) < high
    assert {"AFA22", "trade"} <= set(BOOK.rules["nail-ratio-low"].sources)


def test_the_threshold_of_long_contact_is_marked_as_written_from_memory() -> None:
    rule = BOOK.rules["horn-heated"]  # ISO 13732-1: 43 degC for 8 h and longer, from memory
    assert (rule.high, rule.edge, rule.status) == (43, "fires", "from memory")
    assert {"ISO13732-1", "memory"} <= set(rule.sources)


def test_the_eye_word_full_stands_for_the_middle_of_the_published_band_of_width() -> None:
    middle = mm((Fraction(1, 16) + Fraction(1, 8)) / 2)  # LA
    assert BOOK.eye_words["width"]["full"].value == middle
    for rule_id in ("heel-width-tight", "heel-width-close", "heel-width-wide", "heel-width-too-wide"):
        amount = BOOK.rules[rule_id].amount
        assert amount is not None
        assert amount.to == middle, rule_id


def test_the_published_mean_growth_makes_nearly_twelve_millimetres_in_six_weeks() -> None:
    """LA: mean 1/3 in a month; six weeks of it are about 11.7 mm, and nothing odd."""
    month = Fraction(3652425, 10000) / 12  # days, Gregorian mean
    drop = float(Fraction(1, 3) * INCH * 42 / month)
    assert drop == pytest.approx(11.7, abs=0.05)
    assessment = assess(
        Fitting.model_validate(
            {
                "foot": "left_fore",
                "stage": "hot_fit",
                "work": "draught",
                "observations": {
                    "history": {"last_shod": "2026-01-21", "fitted": "2026-03-04", "old_hole_drop": round(drop, 1)}
                },
            }
        )
    )
    (growth,) = [item.value for item in assessment.measurements if item.quantity == "growth_rate"]
    assert growth == pytest.approx(float(Fraction(1, 3) * INCH), abs=0.05)
    assert assessment.findings == ()


# What the book says that the sources print.

_PRINTED: Final = re.compile(r"(?:(\d+) )?(\d+)/(\d+)")


def inches_of(printed: str) -> list[Fraction]:
    """The figures of a text such as ``1 5/8 in`` or ``1/6 to 1/2 in``."""
    assert re.fullmatch(r"(\d+ )?\d+/\d+( to (\d+ )?\d+/\d+)? in", printed), printed
    return [int(whole or 0) + Fraction(int(over), int(under)) for whole, over, under in _PRINTED.findall(printed)]


LIMITED: Final[dict[str, Rule | Clause]] = {**BOOK.rules, "close-nail-suspected": _wall()}


@pytest.mark.parametrize("rule_id", [name for name, limited in LIMITED.items() if limited.printed])
def test_a_printed_figure_converts_to_the_limit_of_its_rule(rule_id: str) -> None:
    limited = LIMITED[rule_id]
    limits = [limit for limit in (limited.low, limited.high) if isinstance(limit, float)]
    if rule_id == "branches-base-narrow":  # printed is the middle, the leeway is common practice
        limits = [sum(limits) / 2]
    assert [mm(inches) for inches in inches_of(limited.printed or "")] == pytest.approx(limits)


def test_every_limit_that_a_source_prints_in_inches_is_given_as_printed() -> None:
    assert {name for name, limited in LIMITED.items() if limited.printed} == {
        "heel-width-close",
        "heel-width-wide",
        "heel-long-upright-riding",
        "branches-base-narrow",
        "nail-low",
        "nail-high",
        "sole-scorched",
        "growth-odd",
        "close-nail-suspected",
    }
