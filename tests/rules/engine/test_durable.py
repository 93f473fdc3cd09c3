"""The engine wrapper closes each hazard of durable-rules 2.0.28 (the list stands in ``rules/engine/durable.py``)."""

from __future__ import annotations

import math
import threading
from collections.abc import Callable, Iterable
from typing import Any

import pytest

from rules import EngineFault
from rules.engine import durable as engine
from rules.engine.durable import Action, Engine, Fact, Match
from rules.limits import millionths

LOW = {"$and": [{"kind": "reading"}, {"$lt": {"value": 5}}]}
FINDING = {"kind": "finding"}


class Watched:
    """A two-layer engine that keeps what fired: a low reading makes a finding, the finding a joined one."""

    def __init__(self) -> None:
        self.fired: list[tuple[str, int | str]] = []
        self.failing: dict[str, BaseException] = {}
        self.answer: Callable[[Match], Any] = lambda match: [{"kind": "finding", "name": match["c0"]["name"]}]
        self.engine = Engine(
            {"low": ([{"c0": LOW}], self.single), "joined": ([{"c0": FINDING}], self.joined)}, ("reading", "finding")
        )

    def single(self, match: Match) -> Iterable[Fact]:
        self.note("low", match)
        answer: Iterable[Fact] = self.answer(match)
        return answer

    def joined(self, match: Match) -> Iterable[Fact]:
        self.note("joined", match)
        return []

    def note(self, rule: str, match: Match) -> None:
        self.fired.append((rule, match["c0"]["name"]))
        if rule in self.failing:
            raise self.failing[rule]

    def run(self, *facts: Fact) -> list[tuple[str, int | str]]:
        self.fired = []
        self.engine.run(facts)
        return sorted(self.fired)

    def assert_forgotten(self) -> None:
        """The library keeps no state and no fact of the last run (309 is its 'no such session')."""
        host, library = self.engine._core._host, engine._library.durable_rules_engine
        for ask in (host.get_state, host.get_facts):
            with pytest.raises(library.error, match="309"):
                ask(engine._RULESET, str(self.engine._session))

    def assert_right(self) -> None:
        """A run finds what it must, and leaves nothing behind."""
        assert self.run(reading("a", 4), reading("b", 5)) == [("joined", "a"), ("low", "a")]
        self.assert_forgotten()


def reading(name: str, value: int) -> Fact:
    return {"kind": "reading", "name": name, "value": value}


@pytest.fixture
def watched() -> Watched:
    return Watched()


def test_making_and_running_an_engine_starts_no_thread() -> None:
    before = set(threading.enumerate())
    Watched().assert_right()
    assert set(threading.enumerate()) == before


BATCHES = [
    pytest.param([{"kind": "rumour"}], id="alone"),
    pytest.param([{"kind": "rumour"}, reading("a", 4)], id="first"),
    pytest.param([reading("a", 4), {"kind": "rumour"}], id="last"),
]


@pytest.mark.parametrize("facts", BATCHES)
def test_a_fact_of_an_unknown_kind_is_a_fault_and_the_engine_works_right_afterwards(
    watched: Watched, facts: list[Fact]
) -> None:
    with pytest.raises(EngineFault, match="no rule hears facts of the kind 'rumour'"):
        watched.run(*facts)
    assert watched.fired == []
    watched.assert_forgotten()
    watched.assert_right()


@pytest.mark.parametrize("facts", BATCHES)
def test_a_batch_that_the_library_itself_refuses_is_a_fault_and_the_engine_works_right_afterwards(
    watched: Watched, facts: list[Fact], monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(watched.engine, "_kinds", watched.engine._kinds | {"rumour"})
        with pytest.raises(EngineFault, match="did not accept the facts") as caught:
            watched.run(*facts)
    assert str(caught.value.__cause__) == "a fact met no rule"
    assert watched.fired == [], "the library refuses a batch before any action of it"
    watched.assert_right()


def test_a_chained_fact_of_an_unknown_kind_is_a_fault_and_the_engine_works_right_afterwards(watched: Watched) -> None:
    right, watched.answer = watched.answer, lambda _: [{"kind": "rumour"}]
    with pytest.raises(EngineFault, match="an action of the rules engine failed") as caught:
        watched.run(reading("a", 4))
    assert str(caught.value.__cause__) == "no rule hears facts of the kind 'rumour'"
    watched.assert_forgotten()
    watched.answer = right
    watched.assert_right()


def test_a_known_fact_on_which_no_rule_fires_is_no_fault(watched: Watched) -> None:
    assert watched.run(reading("a", 5)) == []
    assert watched.run() == []


@pytest.mark.parametrize(
    "pattern",
    [
        {},
        {"$and": []},
        {"$lt": {"value": 5}},
        {"$and": [{"$lt": {"value": 5}}, {"kind": "reading"}]},
        {"$or": [{"kind": "reading"}, {"kind": "finding"}]},
        {"kind": "reading", "value": 5},
        {"$and": [{"kind": "reading"}], "value": 5},
    ],
    ids=str,
)
def test_a_pattern_that_does_not_test_the_kind_first_is_refused(pattern: dict[str, Any]) -> None:
    with pytest.raises(EngineFault, match="rule low: a pattern does not test 'kind' first"):
        Engine({"low": ([{"c0": pattern}], lambda _: [])}, ("reading",))


@pytest.mark.parametrize(
    "test",
    [
        {"id": 1},
        {"sid": "1"},
        {"$ex": {"id": 1}},
        {"$lt": {"sid": 1}},
        {"$nex": {"value": 1}},
        {"$or": [{"value": 1}, {"$and": [{"value": 2}, {"$ex": {"id": 1}}]}]},
    ],
    ids=str,
)
def test_a_pattern_that_mentions_id_sid_or_nex_is_refused(test: dict[str, Any]) -> None:
    with pytest.raises(EngineFault, match="rule low: a pattern mentions id, sid or \\$nex"):
        Engine({"low": ([{"c0": {"$and": [{"kind": "reading"}, test]}}], lambda _: [])}, ("reading",))


@pytest.mark.parametrize("name", ["closing", "heard reading"])
def test_a_rule_that_bears_a_name_of_the_engine_is_refused_not_lost(name: str) -> None:
    with pytest.raises(EngineFault, match=f"'{name}' is the engine's own"):
        Engine({name: ([{"c0": LOW}], lambda _: [])}, ("reading",))


@pytest.mark.parametrize("kind", ["closing", "never"])
def test_a_kind_of_fact_that_is_the_engines_own_is_refused(kind: str) -> None:
    with pytest.raises(EngineFault, match="the kinds 'closing' and 'never' are the engine's own"):
        Engine({}, ("reading", kind))


@pytest.mark.parametrize("kind", ["readings", "closing"])
def test_a_pattern_of_a_kind_that_is_never_asserted_is_refused(kind: str) -> None:
    with pytest.raises(EngineFault, match=f"rule low: no fact is ever of the kind '{kind}'"):
        Engine({"low": ([{"c0": {"kind": kind}}], lambda _: [])}, ("reading",))


def test_a_definition_that_the_library_cannot_read_is_a_fault() -> None:
    with pytest.raises(EngineFault, match="refused the compiled rulebook"):
        Engine(
            {"low": ([{"c0": {"$and": [{"kind": "reading"}, {"$near": {"value": 5}}]}}], lambda _: [])}, ("reading",)
        )


def test_five_thousand_equal_runs_give_equal_results(watched: Watched) -> None:
    # Without an id of its own, the second equal fact of a run would be refused as observed already.
    facts = [reading("a", 4), reading("a", 4), reading("b", 3), reading("c", 5)]
    first = watched.run(*facts)
    assert first == [("joined", "a")] * 2 + [("joined", "b")] + [("low", "a")] * 2 + [("low", "b")]
    assert all(watched.run(*facts) == first for _ in range(5000))
    watched.assert_forgotten()


class Interrupting(BaseException):
    """Like KeyboardInterrupt, no Exception."""


@pytest.mark.parametrize("layer", ["low", "joined"])
@pytest.mark.parametrize("error", [ValueError("wrong"), KeyboardInterrupt(), SystemExit(1), Interrupting()], ids=repr)
def test_an_exception_in_an_action_is_a_fault_that_keeps_its_cause_and_the_next_run_is_clean(
    watched: Watched, layer: str, error: BaseException
) -> None:
    watched.failing = {layer: error}
    with pytest.raises(EngineFault, match="an action of the rules engine failed") as caught:
        watched.run(reading("a", 4))
    assert caught.value.__cause__ is error
    watched.assert_forgotten()
    watched.failing = {}
    watched.assert_right()


def test_the_first_of_several_exceptions_is_the_cause(watched: Watched) -> None:
    watched.failing = {"low": ValueError("first")}
    watched.fired = []
    with pytest.raises(EngineFault) as caught:
        watched.run(reading("a", 4), reading("b", 4), reading("c", 4))
    assert len(watched.fired) == 1, "after a fault no further action runs"
    assert str(caught.value.__cause__) == "first"
    watched.assert_forgotten()


@pytest.mark.parametrize("kind", ["closing", "never"])
def test_an_action_cannot_assert_a_fact_of_the_engines_own_kinds(watched: Watched, kind: str) -> None:
    watched.answer = lambda _: [{"kind": kind}]
    with pytest.raises(EngineFault, match="an action of the rules engine failed"):
        watched.run(reading("a", 4))


def test_an_action_that_answers_with_no_facts_at_all_is_a_fault(watched: Watched) -> None:
    watched.answer = lambda _: None
    with pytest.raises(EngineFault, match="an action of the rules engine failed") as caught:
        watched.run(reading("a", 4))
    assert isinstance(caught.value.__cause__, TypeError)


def test_the_librarys_own_loop_over_actions_is_never_run(watched: Watched) -> None:
    """It would swallow exceptions, and stop after ten seconds without a word."""
    ruleset = watched.engine._core._host.get_ruleset(engine._RULESET)
    for promise in ruleset._actions.values():
        with pytest.raises(EngineFault, match="own loop"):
            promise._func(None)


@pytest.mark.parametrize("call", ["first", "following"])
def test_an_interrupt_outside_an_action_goes_through_and_the_next_run_is_clean(
    watched: Watched, monkeypatch: pytest.MonkeyPatch, call: str
) -> None:
    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(watched.engine._core, call, interrupted)
        with pytest.raises(KeyboardInterrupt):
            watched.run(reading("a", 4))
    watched.assert_right()


def test_an_action_with_a_second_parameter_is_not_taken_as_one_that_calls_back_later() -> None:
    seen: list[object] = []

    def act(match: Match, second: str = "default") -> Iterable[Fact]:
        seen.append((match["c0"]["name"], second))
        return []

    Engine({"low": ([{"c0": LOW}], act)}, ("reading",)).run([reading("a", 4)])
    assert seen == [("a", "default")]


def test_a_run_that_ends_before_the_closing_fact_is_a_fault(watched: Watched, monkeypatch: pytest.MonkeyPatch) -> None:
    assert_facts = watched.engine._core.assert_facts
    with monkeypatch.context() as patch:
        patch.setattr(watched.engine._core, "assert_facts", lambda facts: assert_facts(facts[:-1]))
        with pytest.raises(EngineFault, match="did not run to its end"):
            watched.run(reading("a", 4))
    assert watched.fired, "the rules themselves did fire"
    watched.assert_right()


def test_a_firing_after_the_closing_one_is_a_fault(monkeypatch: pytest.MonkeyPatch) -> None:
    # At equal priority the library takes the rule that was defined first, which is the closing one.
    monkeypatch.setattr(engine, "_LAST", 0)
    watched = Watched()
    with pytest.raises(EngineFault, match="did not run to its end"):
        watched.run(reading("a", 4))
    assert watched.fired, "the rules did fire, too late"


def test_the_closing_rule_fires_last_after_hundreds_of_chained_findings() -> None:
    order: list[str] = []

    class Ordered(Engine):
        def _fire(self, rule: str, match: Match) -> None:
            if rule == "closing":
                order.append("closing")
            super()._fire(rule, match)

    def chain(match: Match) -> Iterable[Fact]:
        link = int(match["c0"]["link"])
        order.append(f"link {link}")
        return [{"kind": "finding", "link": link + 1}] if link < 20 else []

    definitions: dict[str, tuple[list[dict[str, Any]], Action]] = {
        "first": ([{"c0": {"kind": "reading"}}], chain),
        "onward": ([{"c0": {"kind": "finding"}}], chain),
    }
    Ordered(definitions, ("reading", "finding")).run({"kind": "reading", "link": 1} for _ in range(30))
    assert len(order) == 30 * 20 + 1
    assert order.index("closing") == 30 * 20


def test_a_fact_of_more_fields_than_the_library_bears_is_refused(watched: Watched) -> None:
    many: Fact = {f"field{number}": 1 for number in range(300)}
    with pytest.raises(EngineFault, match="more fields than the rules engine can bear"):
        watched.run(many | reading("a", 4))
    watched.assert_right()


def test_a_failure_to_forget_the_facts_is_a_fault(watched: Watched, monkeypatch: pytest.MonkeyPatch) -> None:
    def failing(*_: object) -> None:
        raise RuntimeError("cannot delete")

    with monkeypatch.context() as patch:
        patch.setattr(watched.engine._core, "forget", failing)
        with pytest.raises(EngineFault, match="did not forget the facts") as caught:
            watched.run(reading("a", 4))
    assert str(caught.value.__cause__) == "cannot delete"
    watched.assert_right()


def test_facts_that_were_left_undeleted_are_never_mixed_into_the_next_run(
    watched: Watched, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(watched.engine._core, "forget", lambda *_: None)
    watched.run(reading("a", 4))
    with pytest.raises(EngineFault, match="did not accept the facts"):
        watched.run(reading("b", 4))


def test_what_the_library_cannot_even_encode_is_a_fault_of_our_own_kind(watched: Watched) -> None:
    with pytest.raises(EngineFault, match="did not accept the facts"):
        watched.run({"kind": "reading", "name": "\ud800", "value": 4})
    watched.assert_right()


@pytest.mark.parametrize(
    ("value", "whole"),
    [
        (0.0, 0),
        (1e-6, 1),
        (-1e-6, -1),
        (1e-5, 10),
        (4e-7, 0),
        (19.05, 19_050_000),
        (0.1 + 0.2, 300_000),
        (9e9, 9 * 10**15),
    ],
)
def test_numbers_enter_as_whole_millionths(value: float, whole: int) -> None:
    assert millionths(value) == whole
    assert type(millionths(value)) is int


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, 1e10, 1e16, 1e300, 1e305, -1e305])
def test_numbers_that_are_not_finite_or_too_large_to_be_exact_are_a_fault(value: float) -> None:
    with pytest.raises(EngineFault, match=r"a number .* was about to enter the rules engine"):
        millionths(value)


@pytest.mark.parametrize("value", [1e-5, 1e16, math.nan, math.inf, 4.5, True, None, [1], 2**53 + 1, -(2**63)])
def test_a_fact_with_anything_but_words_and_exact_whole_numbers_is_refused(watched: Watched, value: Any) -> None:
    # A batch with 1e-05 or infinity in it would end the whole process with a segmentation fault.
    with pytest.raises(EngineFault, match="the fact's value is neither a word nor a whole number"):
        watched.run(reading("a", value))
    watched.assert_right()
