"""What the engine is told: one fact for each place, with the fields that the rules look at, and nothing else."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from types import MappingProxyType
from typing import Any

import pytest

from fitcheck.fitting.models import Fitting
from fitcheck.fitting.readings import readings_of, situation_of
from fitcheck.measure import measured
from rules import EngineFault, Evaluator, Reading, Rulebook, Situation, shipped_rulebook, table_of
from rules.engine.durable import Fact
from rules.engine.facts import FactShape
from rules.limits import Term, guard_factor, known_field, term_of
from rules.model.records import Rule, Scaled
from rules.situation import VOCABULARY

SITUATION = Situation("hind", "nailed", "harness", "acute", "no")
FRAME = {
    "kind": "place",
    "foot": "hind",
    "stage": "nailed",
    "work": "harness",
    "hoof_form": "acute",
    "stance": "regular",
    "hot_fitted": "no",
    "known_shoe_thickness": "no",
    "known_wall_thickness": "no",
    "known_width_allowance": "no",
    "barred_by_bulbs": "no",
    "barred_by_plumb_line_yes": "no",
    "barred_by_wall_thickness": "no",
    "barred_by_went_before_uneven_lame": "no",
    "barred_by_struck_before_yes": "no",
    "barred_by_shoe_heat_black_dull_red": "no",
}
THICKNESS = Reading("shoe_thickness", "foot", 11.0, 0.3)


def facts_of(*readings: Reading) -> dict[int | str, Fact]:
    return {fact["place"]: fact for fact in FactShape(shipped_rulebook()).facts(SITUATION, readings)}


def test_each_place_with_a_reading_gets_one_fact_with_all_that_was_read_there() -> None:
    facts = facts_of(
        Reading("width", "medial_heel", 2.4, 0.5),
        Reading("frog_gap", "medial_heel", 8.0, 0.5),
        Reading("clip", "toe", "seated"),
        Reading("sound", "nail:lateral:2", "soft"),
        Reading("rocks", "foot", "no"),
    )
    assert facts == {
        "medial_heel": FRAME
        | {"place": "medial_heel", "spot": "medial_heel", "side": "medial", "width": 2_400_000, "frog_gap": 8_000_000},
        "toe": FRAME | {"place": "toe", "spot": "toe", "side": "none", "clip": "seated"},
        "nail:lateral:2": FRAME | {"place": "nail:lateral:2", "spot": "nail", "side": "lateral", "sound": "soft"},
        "foot": FRAME | {"place": "foot", "spot": "foot", "side": "none", "rocks": "no"},
    }


def test_without_a_reading_there_is_no_fact() -> None:
    assert facts_of() == {}


def test_a_length_is_also_told_less_each_multiple_of_the_shoes_thickness_that_limits_follow() -> None:
    fact = facts_of(Reading("length", "medial_heel", 20.0, 0.4), THICKNESS)["medial_heel"]
    assert fact["length"] == 20_000_000
    assert fact["length_less_1_shoe_thickness"] == 9_000_000
    assert fact["length_less_2_shoe_thickness"] == -2_000_000
    assert fact["known_shoe_thickness"] == "yes"


def test_without_the_dimension_the_scaled_terms_are_missing_and_the_fact_says_so() -> None:
    fact = facts_of(Reading("length", "medial_heel", 20.0, 0.4))["medial_heel"]
    assert {name for name in fact if name.startswith("length")} == {"length"}
    assert fact["known_shoe_thickness"] == "no"


def test_a_guarded_term_is_the_end_of_the_readings_interval_at_the_guarded_level() -> None:
    # JCGM 106:2012: for a least probability of 0.05 beyond the limit, 1.644854 standard uncertainties.
    facts = facts_of(
        Reading("total_contact", "foot", 70.0, 2.0), Reading("wall_at_nail", "nail:medial:1", 10.0, 0.5), THICKNESS
    )
    fact, nail = facts["foot"], facts["nail:medial:1"]
    assert fact["total_contact"] == 70_000_000
    assert fact["total_contact_high"] == round((70 + 1.6448536269514722 * 2.0) * 1e6)
    assert nail["wall_at_nail_low"] == round((10 - 1.6448536269514722 * 0.5) * 1e6)
    assert "total_contact_low" not in fact
    assert "wall_at_nail_high" not in nail


def scaled_and_guarded(book: Rulebook) -> Rulebook:
    """The shipped book with one guarded limit that follows the shoe's thickness."""
    rule: Rule = book.rules["contact-harmful"]
    rule = rule.model_copy(update={"high": Scaled(times=2.5, of="shoe_thickness", plus=60.0)})
    return replace(book, rules=MappingProxyType({**book.rules, "contact-harmful": rule}))


def test_a_guarded_scaled_term_takes_in_the_dimensions_uncertainty() -> None:
    shape = FactShape(scaled_and_guarded(shipped_rulebook()))
    (fact,) = shape.facts(SITUATION, [Reading("total_contact", "foot", 70.0, 2.0), THICKNESS])
    u = math.hypot(2.0, 2.5 * 0.3)
    assert fact["total_contact_less_2p5_shoe_thickness_high"] == round((70 - 2.5 * 11 + 1.6448536269514722 * u) * 1e6)


def test_a_rule_whose_scaled_limit_cannot_be_known_leaves_the_lesser_ones_to_speak() -> None:
    # contact-harmful silences contacts-too-long; without the thickness it cannot fire, so it must not silence either.
    evaluator = Evaluator(scaled_and_guarded(shipped_rulebook()))
    situation = Situation("fore", "hot_fit", "draught", "regular", "yes")
    contact = Reading("total_contact", "foot", 88.0, 1.0)
    assert [firing.rule for firing in evaluator.evaluate(situation, [contact])] == ["contacts-too-long"]
    assert [firing.rule for firing in evaluator.evaluate(situation, [contact, THICKNESS])] == ["contact-harmful"]


@pytest.mark.parametrize(
    ("term", "field"),
    [
        (Term("length", 0.0, None, ""), "length"),
        (Term("length", 0.0, None, "low"), "length_low"),
        (Term("length", 2.0, "shoe_thickness", ""), "length_less_2_shoe_thickness"),
        (Term("length", 0.75, "shoe_thickness", "high"), "length_less_0p75_shoe_thickness_high"),
    ],
)
def test_a_term_has_a_field_of_its_own_without_a_dot(term: Term, field: str) -> None:
    assert term.field == field


def test_multiples_that_differ_in_the_eighth_figure_have_different_fields() -> None:
    assert Term("length", 1.00000001, "shoe_thickness", "").field != Term("length", 1.0, "shoe_thickness", "").field


def test_a_limit_is_split_into_a_term_and_the_plain_number_that_is_left() -> None:
    assert term_of("width", 1.6, "simple", "low") == (Term("width", 0.0, None, ""), 1.6)
    assert term_of("width", 1.6, "guarded", "high") == (Term("width", 0.0, None, "high"), 1.6)
    scaled = Scaled(times=2.0, of="shoe_thickness", plus=-3.0)
    assert term_of("length", scaled, "guarded", "low") == (Term("length", 2.0, "shoe_thickness", "low"), -3.0)


def test_the_guard_is_the_normal_quantile_of_jcgm_106() -> None:
    # One-sided quantiles of the standard normal distribution, as any printed table of it gives them.
    assert guard_factor(0.5) == pytest.approx(0.0, abs=1e-12)
    assert guard_factor(0.05) == pytest.approx(1.644854, abs=1e-6)
    assert guard_factor(0.025) == pytest.approx(1.959964, abs=1e-6)


def test_the_dimensions_that_limits_follow_are_found_in_the_book() -> None:
    assert FactShape(shipped_rulebook()).dimensions == ("shoe_thickness", "wall_thickness", "width_allowance")
    assert known_field("shoe_thickness") == "known_shoe_thickness"


@pytest.mark.parametrize(
    ("reading", "says"),
    [
        (Reading("breadth", "medial_heel", 2.0), "knows no breadth at medial_heel"),
        (Reading("width", "toe", 2.0), "knows no width at toe"),
        (Reading("width", "knee", 2.0), "knows no width at knee"),
        (Reading("sound", "nail", "firm"), "knows no sound at nail"),
        (Reading("sound", "nail:inner:1", "firm"), "knows no sound at nail:inner:1"),
        (Reading("sound", "nail:medial:0", "firm"), "knows no sound at nail:medial:0"),
        (Reading("sound", "nail:medial:1:2", "firm"), "knows no sound at nail:medial:1:2"),
        (Reading("sound", "nail:medial:1", "dull"), "not one of its words or numbers"),
        (Reading("sound", "nail:medial:1", 3.0), "not one of its words or numbers"),
        (Reading("rocks", "foot", "perhaps"), "not one of its words or numbers"),
        (Reading("width", "medial_heel", "tight"), "not one of its words or numbers"),
        (Reading("width", "medial_heel", math.nan), "not finite"),
        (Reading("width", "medial_heel", math.inf), "not finite"),
        (Reading("width", "medial_heel", 1e300), "too large to be exact"),
        (Reading("width", "medial_heel", 2.0, -0.1), "the uncertainty of width"),
        (Reading("width", "medial_heel", 2.0, math.nan), "the uncertainty of width"),
        (Reading("width", "medial_heel", 2.0, math.inf), "the uncertainty of width"),
    ],
    ids=lambda part: str(part)[:60],
)
def test_a_reading_that_the_rulebook_does_not_know_is_a_fault_never_dropped(reading: Reading, says: str) -> None:
    good = Reading("width", "lateral_heel", 2.4, 0.5)
    with pytest.raises(EngineFault, match=says):
        facts_of(good, reading)


def test_two_readings_of_one_quantity_at_one_place_are_a_fault_even_when_equal() -> None:
    reading = Reading("width", "medial_heel", 2.4, 0.5)
    with pytest.raises(EngineFault, match="two readings of width at medial_heel"):
        facts_of(reading, reading)
    assert set(facts_of(reading, reading._replace(place="lateral_heel"))) == {"medial_heel", "lateral_heel"}


def test_only_exact_whole_numbers_and_closed_words_enter_the_engine(changed: Callable[..., dict[str, Any]]) -> None:
    odd = 'Ünïcode "quotes"\n\\ $and'
    raw = changed(notes=odd, horse__id='H-101 "ß"', visit="$nex")
    fitting, book = Fitting.model_validate_json(json.dumps(raw)), shipped_rulebook()
    table, _ = measured(fitting, table_of(readings_of(fitting, book)), book)
    closed = {"place", "none", "yes", "no", *book.places}
    closed |= {word for words in VOCABULARY.values() for word in words}
    closed |= {word for quantity in book.quantities.values() for word in quantity.vocabulary}
    closed |= {f"nail:{side}:{hole}" for side in ("medial", "lateral") for hole in range(1, 7)}
    facts = FactShape(book).facts(situation_of(fitting, book), table)
    assert len(facts) > 10
    for fact in facts:
        for field, value in fact.items():
            assert type(value) is int or value in closed, f"{field}: {value}"
