"""The engine is spared readings that can stir no rule, and finds the same as when it is told of everything."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

import rules
from fitcheck.assessment.assess import assess
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.readings import readings_of, situation_of
from fitcheck.measure import measured
from rules import EngineFault, Evaluator, Reading, Situation, evaluator_for, in_force, shipped_rulebook, table_of
from rules.engine.durable import Fact
from rules.engine.facts import FactShape
from rules.engine.prefilter import Prefilter, Window
from tests.support.counts import tries
from tests.support.random_fittings import random_cases

BOOK = Path(rules.__file__).parent / "book"
CASES = tries(120, full=20_000)
SEED = 407
SITUATION = Situation("hind", "nailed", "harness", "acute", "no")


@pytest.fixture(scope="module")
def told_everything() -> Evaluator:
    """An evaluator whose engine gets every reading in every form."""
    evaluator = Evaluator(shipped_rulebook())
    evaluator.shape = FactShape(shipped_rulebook())
    return evaluator


def found(evaluator: Evaluator, situation: Situation, readings: list[Reading]) -> list[tuple[str, str, frozenset[Any]]]:
    return [(each.rule, each.place, frozenset(each.bases)) for each in evaluator.evaluate(situation, readings)]


def test_the_engine_finds_the_same_as_when_it_is_told_of_everything(told_everything: Evaluator) -> None:
    sieved, spared = evaluator_for(shipped_rulebook()), 0
    for case in random_cases(BOOK, SEED, CASES):
        situation = Situation(**case.situation)  # type: ignore[arg-type]  # closed words, drawn from the vocabulary
        readings = [Reading(*read) for read in case.readings]
        assert found(sieved, situation, readings) == found(told_everything, situation, readings), case
        spared += len(told_everything.shape.facts(situation, readings)) - len(sieved.shape.facts(situation, readings))
    assert spared > CASES / 2


def test_of_a_good_foot_nothing_need_be_told(good: dict[str, Any]) -> None:
    assert told_of(good) == {}


def test_beside_something_found_the_engine_is_told_what_joined_rules_read(good: dict[str, Any]) -> None:
    for branch in good["observations"]["heel_fit"].values():
        branch["width"] = -3
    told = told_of(good)
    assert set(told) >= {"medial_heel", "lateral_heel", "toe"}
    assert told["toe"]["overhang"] == 0


def told_of(document: dict[str, Any]) -> dict[int | str, Fact]:
    book = shipped_rulebook()
    fitting = Fitting.model_validate_json(json.dumps(document))
    table, _ = measured(fitting, table_of(readings_of(fitting, book)), book)
    return {fact["place"]: fact for fact in evaluator_for(book).shape.facts(situation_of(fitting, book), table)}


@pytest.mark.parametrize(("beyond", "told"), [(0.000001, True), (0, False), (-0.000001, False), (-3, False)])
def test_a_reading_is_told_just_when_it_is_past_a_limit_in_force(beyond: float, *, told: bool) -> None:
    evaluator = evaluator_for(shipped_rulebook())
    judging = in_force(evaluator.book, SITUATION).judging("frog_gap", "medial_heel")
    limit = max(rule.low for _, rule in judging if isinstance(rule.low, float))
    facts = evaluator.shape.facts(SITUATION, [Reading("frog_gap", "medial_heel", limit - beyond)])
    assert bool(facts) == told


def test_a_word_that_goes_along_with_a_limit_is_told_only_beside_a_reading_that_stirs() -> None:
    book = shipped_rulebook()
    rule = next(rule for rule in book.rules.values() if rule.with_ and rule.high is not None)
    [(quantity, words)] = (rule.with_ or {}).items()
    place = book.places_of(rule)[0]
    hot = Situation("fore", "hot_fit", "draught", "regular", "yes")
    word = Reading(quantity, place, words[0])
    assert evaluator_for(book).shape.facts(hot, [word]) == []
    beside = evaluator_for(book).shape.facts(hot, [word, Reading(rule.quantity, place, 1e6)])
    assert [fact[quantity] for fact in beside] == [words[0]]


def test_a_sieve_that_keeps_back_what_would_stir_a_rule_is_no_assessment(
    monkeypatch: pytest.MonkeyPatch, good: dict[str, Any]
) -> None:
    monkeypatch.setattr(Prefilter, "window", lambda *_: Window({}, frozenset(), beside=False, always=False))
    shape = evaluator_for(shipped_rulebook()).shape
    monkeypatch.setattr(shape, "_plans", {})
    good["observations"]["toe_fit"]["overhang"] = -9
    with pytest.raises(EngineFault, match="missed what the limits give"):
        assess(Fitting.model_validate_json(json.dumps(good)))
