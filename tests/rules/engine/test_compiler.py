"""Corners of the compiled rules that the shipped book does not reach, on changed copies of it."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType

import pytest

from rules import Evaluator, Found, Reading, Rulebook, RulebookError, Situation, shipped_rulebook
from rules.engine.compiler import joined_patterns, single_pattern
from rules.loading.checks import check
from rules.model.records import Clause, Context, JoinedRule, Rule, Scaled

RIDING = Situation("fore", "nailed", "riding", "upright", "no")
LONG, TOO_LONG = "heel-long-upright-riding", "heel-too-long-upright-riding"
THICKNESS = Reading("shoe_thickness", "foot", 11.0, 0.0)


def with_rules(**changes: Rule) -> Rulebook:
    book = shipped_rulebook()
    rules = {name.replace("_", "-"): rule for name, rule in changes.items()}
    changed = replace(book, rules=MappingProxyType({**book.rules, **rules}))
    check(changed)
    return changed


def with_clauses(rule_id: str, *when: Clause) -> Rulebook:
    book = shipped_rulebook()
    joined: JoinedRule = book.joined[rule_id]
    joined = joined.model_copy(update={"when": when})
    changed = replace(book, joined=MappingProxyType({**book.joined, rule_id: joined}))
    check(changed)
    return changed


@pytest.fixture(scope="module")
def two_ended() -> Evaluator:
    """A graver rule with a plain limit below and a scaled one above, and a lesser one that it silences."""
    rules = shipped_rulebook().rules
    graver: Rule = rules[TOO_LONG].model_copy(update={"low": -2.0})
    lesser: Rule = rules[LONG].model_copy(update={"low": 0.0})
    # No length of these tests lies so low: these rules are out of the way.
    uncovered = {
        name: rules[name].model_copy(update={"low": -70.0}) for name in ("heel-not-covered", "heel-not-covered-upright")
    }
    return Evaluator(
        with_rules(
            heel_too_long_upright_riding=graver,
            heel_long_upright_riding=lesser,
            **{name.replace("-", "_"): rule for name, rule in uncovered.items()},
        )
    )


@pytest.mark.parametrize(
    ("length", "known", "fires"),
    [
        (-5.0, [], [TOO_LONG]),
        (-5.0, [THICKNESS], [TOO_LONG]),
        (-1.0, [], [LONG]),
        (20.0, [], [LONG]),
        (20.0, [THICKNESS], [TOO_LONG]),
        (5.0, [THICKNESS], [LONG]),
        (2.0, [THICKNESS], []),
    ],
)
def test_an_end_that_cannot_be_known_neither_fires_nor_hides_the_end_that_can(
    two_ended: Evaluator, length: float, known: list[Reading], fires: list[str]
) -> None:
    firings = two_ended.evaluate(RIDING, [Reading("length", "medial_heel", length), *known])
    assert [firing.rule for firing in firings if firing.place == "medial_heel"] == fires


def test_a_joined_rule_can_look_at_a_reading_of_any_nail() -> None:
    book = with_clauses(
        "shoe-likely-lost",
        Clause(findings=("clinch-thin",)),
        Clause(reading="exit_height", at="nail", low=20.0, unit="mm", fires="simple"),
    )
    readings = [
        Reading("clinch", "nail:medial:1", "thin"),
        Reading("exit_height", "nail:lateral:2", 18.0),
        Reading("exit_height", "nail:lateral:3", 22.0),
    ]
    firings = Evaluator(book).evaluate(RIDING, readings)
    (lost,) = [firing for firing in firings if firing.rule == "shoe-likely-lost"]
    assert lost.rests_on == (Found("clinch-thin", "nail:medial:1"), Found("exit_height", "nail:lateral:2"))


def test_a_rule_that_holds_in_several_of_its_contexts_at_once_fires_once() -> None:
    rule: Rule = shipped_rulebook().rules["shoe-rocks"]
    rule = rule.model_copy(update={"applies": (Context(foot=("fore",)), Context(work=("riding",)))})
    (firing,) = Evaluator(with_rules(shoe_rocks=rule)).evaluate(RIDING, [Reading("rocks", "foot", "yes")])
    assert (firing.rule, firing.place, firing.bases) == ("shoe-rocks", "foot", ())


def test_a_basis_that_holds_in_several_ways_at_once_is_named_once() -> None:
    book = with_clauses(
        "foot-unlevel",
        Clause(findings=("shoe-rocks",)),
        Clause(findings=("bare-arc", "imprint-low")),
    )
    joined: JoinedRule = book.joined["foot-unlevel"]
    joined = joined.model_copy(update={"applies": (Context(foot=("fore",)), Context(work=("riding",)))})
    book = replace(book, joined=MappingProxyType({**book.joined, "foot-unlevel": joined}))
    readings = [Reading("rocks", "foot", "yes"), Reading("coverage", "foot", 0.9), Reading("bare_arc", "toe", 30.0)]
    firings = Evaluator(book).evaluate(RIDING._replace(hot_fitted="yes"), readings)
    (unlevel,) = [firing for firing in firings if firing.rule == "foot-unlevel"]
    rocks = Found("shoe-rocks", "foot")
    assert sorted(map(str, unlevel.bases)) == sorted(
        map(str, [(rocks, Found("imprint-low", "foot")), (rocks, Found("bare-arc", "toe"))])
    )


def test_a_rule_that_no_reading_can_meet_is_refused_when_compiled() -> None:
    book = shipped_rulebook()
    rule: Rule = book.rules["shoe-rocks"].model_copy(update={"is_": ()})
    changed = replace(book, rules=MappingProxyType({**book.rules, "shoe-rocks": rule}))
    with pytest.raises(RulebookError, match=r"levelness\.toml: rules\.shoe-rocks: this rule can never fire"):
        single_pattern(changed, "shoe-rocks")


def test_a_joined_rule_that_nothing_can_meet_is_refused_when_compiled() -> None:
    book = shipped_rulebook()
    joined: JoinedRule = book.joined["foot-unlevel"].model_copy(update={"applies": ()})
    changed = replace(book, joined=MappingProxyType({**book.joined, "foot-unlevel": joined}))
    with pytest.raises(RulebookError, match=r"joined\.toml: joined\.foot-unlevel: this rule can never fire"):
        joined_patterns(changed, "foot-unlevel")


def test_whether_a_scaled_rule_can_fire_is_found_between_the_ends_of_the_dimensions_range() -> None:
    # With 3 mm of iron the limit lies below all lengths that are possible, with 30 mm the graver rule comes first;
    # with 12 mm a length of -45 mm passes the limit of -30 and not that of -60.
    rules = shipped_rulebook().rules
    short: Rule = rules["heel-short"].model_copy(update={"low": Scaled(times=10.0, of="shoe_thickness", plus=-150.0)})
    graver: Rule = rules["heel-not-covered"].model_copy(
        update={"low": Scaled(times=15.0, of="shoe_thickness", plus=-240.0)}
    )
    with_rules(heel_short=short, heel_not_covered=graver)
    always: Rule = graver.model_copy(update={"low": Scaled(times=15.0, of="shoe_thickness", plus=-185.0)})
    with pytest.raises(RulebookError, match=r"rules\.heel-short\.low: the rule can never fire"):
        with_rules(heel_short=short, heel_not_covered=always)
