"""The rulebook's figures against what the sources print, where no whole foot of ``test_printed_limits.py`` tries them.

The sources, named beside each figure:

* LA: A. Lungwitz and J. W. Adams, A Text-Book of Horseshoeing, 1897/1913 (Mayer's wall thicknesses are printed there).
* FL: G. Fleming, Horse-Shoes and Horse-Shoeing, 1869.  AN17: Animals 2017, 7(4), 29.
* ISO 13732-1: the figure is from memory, and the rulebook must say so.

The inch is 25.4 mm exactly (international yard and pound agreement, 1959), and limits in inches are exact.
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Final

import pytest

from fitcheck.assessment.assess import assess
from fitcheck.fitting.models import Fitting
from rules import Reading, Situation, evaluator_for, shipped_rulebook

BOOK: Final = shipped_rulebook()
INCH: Final = Fraction(254, 10)


def test_a_wall_is_thin_at_a_nail_below_the_thinnest_quarter_that_is_printed() -> None:
    """LA 53 (Mayer): the quarters of a fore hoof, 2/8 in at the thinnest; what follows has no source."""
    rule = BOOK.rules["close-nail-suspected"]
    assert (rule.quantity, rule.low, rule.high) == ("wall_at_nail", float(Fraction(2, 8) * INCH), None)
    assert (rule.status, rule.fires) == ("common practice", "guarded")
    assert "LA" in rule.sources


def test_an_interval_is_long_past_the_most_of_four_to_six_weeks() -> None:
    rule = BOOK.rules["interval-long"]
    assert rule.high == 6 * 7
    assert "AN17" in rule.sources


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
    assert any("FL" in rule.sources for rule in found if rule.grade == grade)


def test_the_heat_that_hurts_lies_below_what_the_trial_on_dead_feet_calls_critical() -> None:
    """FRU 2008: 51 degC; the round figure just under it is common practice, no source."""
    high = BOOK.rules["horn-overheated"].high
    assert isinstance(high, float)
    assert 43 < high <= 51


def test_a_third_of_the_wall_is_a_good_height_for_a_nail() -> None:
    """That a third is good, and the band round it, are common practice: no public source was found."""
    low, high = BOOK.rules["nail-ratio-low"], BOOK.rules["nail-ratio-raised"]
    assert (low.low, high.high) == (0.20, 0.45)
    assert 0.20 < Fraction(1, 3) < 0.45
    assert {(rule.status, rule.sources) for rule in (low, high)} == {("common practice", ("trade",))}


def test_the_threshold_of_long_contact_is_marked_as_written_from_memory() -> None:
    rule = BOOK.rules["horn-heated"]  # ISO 13732-1: 43 degC for 8 h and longer, from memory
    assert (rule.high, rule.edge, rule.status) == (43, "fires", "from memory")
    assert {"ISO13732-1", "memory"} <= set(rule.sources)


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
    """The figures of a text such as ``1 5/8 in``, ``-1/16 in`` or ``1/6 to 1/2 in``."""
    assert re.fullmatch(r"-?(\d+ )?\d+/\d+( to (\d+ )?\d+/\d+)? in", printed), printed
    figures = [int(whole or 0) + Fraction(int(over), int(under)) for whole, over, under in _PRINTED.findall(printed)]
    return [-each for each in figures] if printed.startswith("-") else figures


@pytest.mark.parametrize("rule_id", [name for name, rule in BOOK.rules.items() if rule.printed])
def test_a_printed_figure_converts_to_the_limit_of_its_rule(rule_id: str) -> None:
    """To the six decimals in which limits are compared; an end that is not printed may be any."""
    rule = BOOK.rules[rule_id]
    printed = {round(float(inches * INCH), 6) for inches in inches_of(rule.printed or "")}
    ends = {limit for limit in (rule.low, rule.high) if isinstance(limit, float)}
    assert printed <= ends


def test_every_limit_that_is_written_in_inches_is_given_as_printed() -> None:
    assert {name for name, rule in BOOK.rules.items() if rule.printed} == {
        "heel-short-riding-hind",
        "heel-long-upright-riding",
        "heel-long-upright-riding-full-side",
        "heel-long-riding-hind",
        "heel-long-riding-hind-full-side",
        "heel-past-bulbs-full-side",
        "heel-width-close",
        "heel-off-plumb",
        "toe-full",
        "toe-over",
        "nail-line-inside",
        "nail-iron-inside",
        "nail-line-full",
        "nail-line-over",
        "seating-near-heel",
        "holes-spaced",
        "nail-low",
        "nail-high",
        "close-nail-suspected",
        "sole-scorched",
        "sole-scorched-nailed",
        "sole-scorched-riding",
        "sole-scorched-riding-nailed",
        "growth-odd",
    }
