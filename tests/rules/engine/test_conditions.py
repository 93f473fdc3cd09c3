"""Conditions: negation is exact, and the engine fires on a written pattern just where a plain evaluator says so."""

from __future__ import annotations

import operator
import random
from collections.abc import Iterable, Mapping
from typing import Any, Final

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rules.engine.conditions import All, AnyOf, Compare, Condition, OneOf, negated, pattern
from rules.engine.durable import Action, Engine, Fact, Match

NUMBERS: Final = ("gap", "width")
WORDS: Final = {"heat": ("black", "dull_red", "cherry", "bright"), "rocks": ("yes", "no")}
LIMITS: Final = (-1, 0, 1, 1_600_000)
VALUES: Final = (-2, -1, 0, 1, 2, 1_599_999, 1_600_000, 1_600_001)
OPERATORS: Final = {"lt": operator.lt, "lte": operator.le, "gt": operator.gt, "gte": operator.ge}


def holds(condition: Condition, fact: Mapping[str, int | str]) -> bool:
    """A second, straightforward reading of a condition; a field that is missing passes no limit and is no word."""
    if isinstance(condition, Compare):
        value = fact.get(condition.field)
        return isinstance(value, int) and OPERATORS[condition.op](value, condition.constant)
    if isinstance(condition, OneOf):
        # Where every word of the vocabulary will do, the field is not even looked at.
        return set(condition.vocabulary) <= set(condition.words) or fact.get(condition.field) in condition.words
    if isinstance(condition, All):
        return all(holds(part, fact) for part in condition.parts)
    return any(holds(part, fact) for part in condition.parts)


comparisons = st.builds(Compare, st.sampled_from(NUMBERS), st.sampled_from(sorted(OPERATORS)), st.sampled_from(LIMITS))
choices = st.sampled_from(sorted(WORDS)).flatmap(
    lambda field: st.builds(
        OneOf, st.just(field), st.lists(st.sampled_from(WORDS[field]), unique=True).map(tuple), st.just(WORDS[field])
    )
)
conditions: st.SearchStrategy[Condition] = st.recursive(
    comparisons | choices,
    lambda parts: (
        st.builds(All, st.lists(parts, max_size=3).map(tuple))
        | st.builds(AnyOf, st.lists(parts, max_size=3).map(tuple))
    ),
    max_leaves=12,
)
complete_facts: st.SearchStrategy[dict[str, int | str]] = st.fixed_dictionaries(
    {name: st.sampled_from(VALUES) for name in NUMBERS}
    | {name: st.sampled_from(words) for name, words in WORDS.items()}
)


@settings(max_examples=500, deadline=None)
@given(conditions, complete_facts)
def test_a_negated_condition_holds_just_where_the_condition_does_not(
    condition: Condition, fact: dict[str, int | str]
) -> None:
    assert holds(negated(condition), fact) is not holds(condition, fact)


@settings(max_examples=200, deadline=None)
@given(conditions, complete_facts)
def test_a_condition_negated_twice_holds_where_it_did(condition: Condition, fact: dict[str, int | str]) -> None:
    assert holds(negated(negated(condition)), fact) is holds(condition, fact)


@settings(max_examples=300, deadline=None)
@given(conditions, complete_facts)
def test_no_pattern_is_written_only_for_what_can_never_hold_and_each_tests_its_kind_first(
    condition: Condition, fact: dict[str, int | str]
) -> None:
    written = pattern("place", condition)
    if written is None:
        assert not holds(condition, fact)
        return
    first = written["$and"][0] if "$and" in written else written
    assert first == {"kind": "place"}


def random_condition(rng: random.Random, depth: int) -> Condition:
    if depth == 0 or rng.random() < 0.35:
        if rng.random() < 0.5:
            return Compare(rng.choice(NUMBERS), rng.choice(sorted(OPERATORS)), rng.choice(LIMITS))
        field = rng.choice(sorted(WORDS))
        return OneOf(field, tuple(word for word in WORDS[field] if rng.random() < 0.5), WORDS[field])
    parts = tuple(random_condition(rng, depth - 1) for _ in range(rng.randint(0, 3)))
    return All(parts) if rng.random() < 0.5 else AnyOf(parts)


def random_fact(rng: random.Random, *, complete: bool) -> Fact:
    fact: Fact = {name: rng.choice(VALUES) for name in NUMBERS}
    fact |= {name: rng.choice(words) for name, words in WORDS.items()}
    return fact if complete else {name: value for name, value in fact.items() if rng.random() < 0.6}


@pytest.mark.parametrize("complete", [True, False], ids=["every field given", "fields missing"])
@pytest.mark.parametrize("depth", [1, 2, 4])
def test_the_engine_fires_just_where_the_evaluator_says(depth: int, *, complete: bool) -> None:
    rng = random.Random(depth)
    sampled = [random_condition(rng, depth) for _ in range(150)]
    written = {number: pattern("place", condition) for number, condition in enumerate(sampled)}
    fired: set[tuple[int, int | str]] = set()

    def noting(number: int) -> Action:
        def act(match: Match) -> Iterable[Fact]:
            fired.add((number, match["c0"]["which"]))
            return []

        return act

    definitions: dict[str, tuple[list[dict[str, Any]], Action]] = {
        f"rule {number}": ([{"c0": each}], noting(number)) for number, each in written.items() if each is not None
    }
    engine = Engine(definitions, ("place",))
    met = 0
    for _ in range(15):
        facts = [random_fact(rng, complete=complete) for _ in range(4)]
        fired.clear()
        engine.run({**fact, "kind": "place", "which": which} for which, fact in enumerate(facts))
        expected = {
            (number, which)
            for number, condition in enumerate(sampled)
            for which, fact in enumerate(facts)
            if holds(condition, fact)
        }
        assert fired == expected, [(sampled[number], facts[int(which)]) for number, which in fired ^ expected][:3]
        met += len(expected)
    assert 1000 < met < 8000, "the sample has both: conditions that hold and conditions that do not"


@pytest.mark.parametrize(
    ("condition", "expected"),
    [
        (All(()), {"kind": "place"}),
        (AnyOf(()), None),
        (OneOf("rocks", (), ("yes", "no")), None),
        (OneOf("rocks", ("yes", "no"), ("yes", "no")), {"kind": "place"}),
        (Compare("gap", "lte", 5), {"$and": [{"kind": "place"}, {"$lte": {"gap": 5}}]}),
        (
            All((OneOf("rocks", ("yes",), ("yes", "no")), All((Compare("gap", "gt", 5), Compare("gap", "lt", 9))))),
            {"$and": [{"kind": "place"}, {"rocks": "yes"}, {"$gt": {"gap": 5}}, {"$lt": {"gap": 9}}]},
        ),
        (
            AnyOf((Compare("gap", "gt", 5), AnyOf((Compare("gap", "lt", 1), AnyOf(()))))),
            {"$and": [{"kind": "place"}, {"$or": [{"$gt": {"gap": 5}}, {"$lt": {"gap": 1}}]}]},
        ),
        (AnyOf((Compare("gap", "gt", 5), All(()))), {"kind": "place"}),
        (All((Compare("gap", "gt", 5), AnyOf(()))), None),
    ],
    ids=str,
)
def test_a_pattern_is_written_without_parts_that_settle_nothing(
    condition: Condition, expected: dict[str, Any] | None
) -> None:
    assert pattern("place", condition) == expected
