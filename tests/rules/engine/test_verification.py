"""Whatever goes wrong in the engine, no fitting is ever released by it: there is no assessment at all."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from types import MappingProxyType
from typing import Any

import pytest

from fitcheck.assessment import examine as assessing
from fitcheck.assessment.assess import assess
from fitcheck.fitting.models import Fitting
from rules import (
    EngineFault,
    Evaluator,
    Firing,
    Found,
    Reading,
    Situation,
    evaluator_for,
    shipped_rulebook,
    table_of,
    verify,
)
from rules.engine.durable import Engine, Fact
from rules.engine.facts import PlaceFact

Patch = pytest.MonkeyPatch


@pytest.fixture
def fitting(good: dict[str, Any]) -> Fitting:
    return Fitting.model_validate_json(json.dumps(good))


@pytest.fixture
def tight(changed: Callable[..., dict[str, Any]]) -> Fitting:
    """The good fitting with one tight heel, so that a rule fires, and a joined layer with it."""
    return Fitting.model_validate_json(
        json.dumps(
            changed(
                observations__heel_fit__medial__width=-3,
                observations__heel_fit__lateral__width=-3,
            )
        )
    )


@pytest.fixture(autouse=True)
def right_before_and_after(fitting: Fitting, tight: Fitting) -> Any:
    """Before and after each forced fault the good fitting is released, and the tight one is not."""
    assert_right(fitting, tight)
    yield
    assert_right(fitting, tight)


def assert_right(fitting: Fitting, tight: Fitting) -> None:
    good = assess(fitting)
    assert (good.decision, good.findings, good.still_needed) == ("release", (), ())
    faulty = assess(tight)
    assert faulty.decision == "put_right"
    assert {finding.rule for finding in faulty.findings} == {"heel-width-tight", "heels-both-tight"}


def of_joined() -> Engine:
    """The engine that runs for every foot."""
    return evaluator_for(shipped_rulebook())._engine(None)


def of_heels() -> Engine:
    """The engine that hears of the tight heels."""
    return evaluator_for(shipped_rulebook())._engine("heel_fit")


def raising(error: BaseException) -> Callable[..., Any]:
    def fail(*_: Any, **__: Any) -> Any:
        raise error

    return fail


def a_library_that_fails_on_the_facts(patch: Patch, engine: Engine) -> None:
    patch.setattr(engine._core, "assert_facts", raising(RuntimeError("error code: 303")))


def a_library_that_fails_on_the_first_match(patch: Patch, engine: Engine) -> None:
    patch.setattr(engine._core, "first", raising(RuntimeError("error code: 309")))


def a_library_that_fails_between_matches(patch: Patch, engine: Engine) -> None:
    patch.setattr(engine._core, "following", raising(RuntimeError("error code: 309")))


def a_library_that_does_not_forget(patch: Patch, engine: Engine) -> None:
    patch.setattr(engine._core, "forget", raising(RuntimeError("error code: 309")))


def a_library_that_finds_no_match(patch: Patch, engine: Engine) -> None:
    patch.setattr(engine._core, "first", lambda _: None)


def a_library_that_stops_after_the_first_match(patch: Patch, engine: Engine) -> None:
    """The good foot has the closing match only, so it is made to fall to another."""
    core = engine._core
    patch.setattr(core, "first", lambda _: ("nails-few", {"here": {"place": "foot"}}))
    patch.setattr(core, "following", lambda _: None)


def a_library_that_drops_the_closing_fact(patch: Patch, engine: Engine) -> None:
    core = engine._core
    real = core.assert_facts
    heard: Fact = {"kind": "place", "id": 10_000}  # an empty batch would end the process
    patch.setattr(core, "assert_facts", lambda facts: real([*facts[:-1], {**heard, "sid": facts[-1]["sid"]}]))


def a_library_that_closes_twice(patch: Patch, engine: Engine) -> None:
    core = engine._core
    real = core.assert_facts
    again: Fact = {"kind": "closing", "id": 10_000}
    patch.setattr(core, "assert_facts", lambda facts: real([*facts, {**again, "sid": facts[-1]["sid"]}]))


def a_fact_that_no_rule_hears(patch: Patch, _: Engine) -> None:
    shape = evaluator_for(shipped_rulebook()).shape
    real = shape.place_facts
    patch.setattr(shape, "place_facts", lambda *args: [*real(*args), PlaceFact({"kind": "rumour"}, {"heel_fit"})])


def a_fact_that_only_the_library_refuses(patch: Patch, engine: Engine) -> None:
    a_fact_that_no_rule_hears(patch, engine)
    patch.setattr(engine, "_kinds", engine._kinds | {"rumour"})


def a_fact_with_a_number_that_is_not_whole(patch: Patch, _: Engine) -> None:
    shape = evaluator_for(shipped_rulebook()).shape
    real = shape.place_facts
    half: Any = {"kind": "place", "place": "toe", "width": 2.4}
    patch.setattr(shape, "place_facts", lambda *args: [*real(*args), PlaceFact(half, {"heel_fit"})])


def a_reading_that_is_not_finite(patch: Patch, _: Engine) -> None:
    patch.setattr(assessing, "measured", lambda *_: ([Reading("nail_count", "foot", float("nan"))], []))


def a_reading_that_the_book_does_not_know(patch: Patch, _: Engine) -> None:
    patch.setattr(assessing, "measured", lambda *_: ([Reading("shine", "foot", 1.0)], []))


def a_reading_made_twice(patch: Patch, _: Engine) -> None:
    twice = Reading("nail_count", "foot", 8.0)
    patch.setattr(assessing, "measured", lambda *_: ([twice, twice], []))


FAULTS = [
    a_library_that_fails_on_the_facts,
    a_library_that_fails_on_the_first_match,
    a_library_that_fails_between_matches,
    a_library_that_does_not_forget,
    a_library_that_finds_no_match,
    a_library_that_stops_after_the_first_match,
    a_library_that_drops_the_closing_fact,
    a_library_that_closes_twice,
    a_fact_that_no_rule_hears,
    a_fact_that_only_the_library_refuses,
    a_fact_with_a_number_that_is_not_whole,
    a_reading_that_is_not_finite,
    a_reading_that_the_book_does_not_know,
    a_reading_made_twice,
]


@pytest.mark.parametrize("fault", FAULTS)
def test_a_good_fitting_is_not_released_by(fault: Callable[[Patch, Engine], None], fitting: Fitting) -> None:
    with Patch.context() as patch:
        fault(patch, of_joined())
        with pytest.raises(EngineFault):
            assess(fitting)


@pytest.mark.parametrize("engine", [of_joined, of_heels])
@pytest.mark.parametrize("fault", FAULTS)
def test_a_faulty_fitting_gets_no_partial_assessment_by(
    fault: Callable[[Patch, Engine], None], engine: Callable[[], Engine], tight: Fitting
) -> None:
    with Patch.context() as patch:
        fault(patch, engine())
        with pytest.raises(EngineFault):
            assess(tight)


@pytest.mark.parametrize("error", [ValueError("wrong"), MemoryError(), KeyboardInterrupt()], ids=repr)
@pytest.mark.parametrize("rule", ["heel-width-tight", "heels-both-tight"], ids=["single", "joined"])
def test_an_exception_in_an_action_of_a_rule_is_no_assessment(error: BaseException, rule: str, tight: Fitting) -> None:
    evaluator = evaluator_for(shipped_rulebook())
    keep = evaluator._keep

    def failing(rule_id: str, *rest: Any) -> Any:
        if rule_id == rule:
            raise error
        return keep(rule_id, *rest)

    with Patch.context() as patch:
        patch.setattr(evaluator, "_keep", failing)
        with pytest.raises(EngineFault, match="an action of the rules engine failed") as caught:
            assess(tight)
    assert caught.value.__cause__ is error


TIGHT_MEDIAL = Found("heel-width-tight", "medial_heel")
TIGHT_LATERAL = Found("heel-width-tight", "lateral_heel")
TOE = Found("overhang", "toe")


@pytest.mark.parametrize(
    "firing",
    [
        pytest.param(Firing("heel-width-tight", "medial_heel"), id="a number within its limit"),
        pytest.param(Firing("horn-overheated", "foot"), id="a guarded number within its limit"),
        pytest.param(Firing("clinch-thin", "nail:medial:1"), id="a word that was not seen"),
        pytest.param(Firing("heel-width-tight", "toe"), id="a place of another reading"),
        pytest.param(Firing("bare-arc", "toe"), id="a quantity that was not read"),
        pytest.param(
            Firing("heels-both-tight", "foot", ((TIGHT_MEDIAL, TIGHT_LATERAL, TOE),)),
            id="a joined one without its parts",
        ),
        pytest.param(Firing("heels-both-tight", "foot"), id="a joined one that rests on nothing"),
    ],
)
def test_a_finding_that_is_made_up_is_no_assessment(firing: Firing, fitting: Fitting) -> None:
    with Patch.context() as patch:
        patch.setattr(Evaluator, "evaluate", lambda *_: [firing])
        with pytest.raises(EngineFault, match=r"found what the limits do not give|joined what was not found"):
            assess(fitting)


def test_a_finding_that_is_missed_is_no_assessment(tight: Fitting) -> None:
    with Patch.context() as patch:
        patch.setattr(Evaluator, "evaluate", lambda *_: [])
        with pytest.raises(EngineFault, match="missed what the limits give"):
            assess(tight)


def test_a_guarded_finding_of_one_nail_that_is_missed_is_no_assessment(changed: Callable[..., dict[str, Any]]) -> None:
    """A soft nail in a wall that measures thick enough there, but may be thin."""
    raw = changed(observations__nails__0__sound="soft", observations__nails__0__wall_thickness={"value": 6.5, "u": 0.5})
    fitting = Fitting.model_validate(raw)
    assert any(finding.rule == "close-nail-suspected" for finding in assess(fitting).findings)
    evaluate = Evaluator.evaluate
    with Patch.context() as patch:
        patch.setattr(
            Evaluator, "evaluate", lambda *args: [x for x in evaluate(*args) if x.rule != "close-nail-suspected"]
        )
        with pytest.raises(EngineFault, match="missed what the limits give: close-nail-suspected"):
            assess(fitting)


@pytest.mark.parametrize(
    "edits",
    [
        pytest.param(
            {"observations__heel_fit__medial__width": -3, "observations__heel_fit__lateral__width": -3},
            id="tight heels, toe good",
        ),
        pytest.param(
            {"observations__nails__0__exit_height": 15.8, "observations__nails__1__clinch": "thin"},
            id="minor parts only, which would be released without it",
        ),
        pytest.param(
            {"observations__levelness__gaps": {"medial_heel": 0.5, "lateral_heel": 2}}, id="two places, of two grades"
        ),
    ],
)
def test_a_joined_finding_that_is_missed_is_no_assessment(
    edits: dict[str, Any], changed: Callable[..., dict[str, Any]]
) -> None:
    fitting = Fitting.model_validate(changed(**edits))
    joined = shipped_rulebook().joined
    assert any(finding.rule in joined for finding in assess(fitting).findings)
    evaluate = Evaluator.evaluate
    with Patch.context() as patch:
        patch.setattr(
            Evaluator, "evaluate", lambda *args: [each for each in evaluate(*args) if each.rule in args[0].book.rules]
        )
        with pytest.raises(EngineFault, match="missed what belongs together"):
            assess(fitting)


def test_a_joined_finding_that_rests_on_another_clause_is_no_assessment(tight: Fitting) -> None:
    evaluate = Evaluator.evaluate

    def turned(*args: Any) -> list[Firing]:
        return [Firing(each.rule, each.place, tuple(basis[::-1] for basis in each.bases)) for each in evaluate(*args)]

    with Patch.context() as patch:
        patch.setattr(Evaluator, "evaluate", turned)
        with pytest.raises(EngineFault, match="joined what was not found"):
            assess(tight)


def test_a_wide_doubt_about_a_number_inside_is_no_fault_however_little_a_book_guards() -> None:
    """By chance it lies more likely than not past one end or the other, which a glance at the number would not show."""
    shipped = shipped_rulebook()
    guarded = shipped.levels["guarded"].model_copy(update={"probability": 0.49})
    book = replace(shipped, digest="little guarded", levels=MappingProxyType({**shipped.levels, "guarded": guarded}))
    situation = Situation("fore", "hot_fit", "draught", "regular", "yes")
    table = table_of([Reading("branch_difference", "foot", 0.0, 60.0)])
    firings = Evaluator(book).evaluate(situation, table)
    assert firings
    verify(firings, table, situation, book)


def test_the_same_hair_decides_for_the_engine_and_for_the_check(changed: Callable[..., dict[str, Any]]) -> None:
    """Both compare in whole millionths: less than half of one past an edge is on it."""
    raw = changed(observations__heel_fit__medial__frog_gap={"value": 4e-7, "u": 0})
    assert "frog-gap-closed" in {each.rule for each in assess(Fitting.model_validate(raw)).findings}
