"""Rules that are silent where something else was read; limits in inches; sides that follow the stance."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rules import Evaluator, Reading, Rulebook, Situation, shipped_rulebook, verify
from rules.errors import RulebookError
from rules.loading.records import record_of
from rules.model.records import Rule

BOOK = shipped_rulebook()
FOOT = Situation("fore", "hot_fit", "draught", "regular", "yes")


def _book(**changes: object) -> Rulebook:
    rule = BOOK.rules["toe-over"].model_copy(update=changes)
    return replace(BOOK, rules={"toe-over": rule}, joined={})


def _fired(book: Rulebook, *besides: Reading) -> list[str]:
    readings = {each[:2]: each for each in (Reading("overhang", "toe", 9.0, 0.5), *besides)}
    firings = Evaluator(book).evaluate(FOOT, readings)
    verify(firings, readings, FOOT, book)
    return [firing.rule for firing in firings]


def test_a_rule_without_a_number_is_silent_once_that_is_read_of_the_foot() -> None:
    book = _book(without={"wall_thickness": ()})
    assert _fired(book) == ["toe-over"]
    assert _fired(book, Reading("wall_thickness", "foot", 10.0, 0.5)) == []


def test_a_rule_without_a_word_is_silent_on_that_word_alone() -> None:
    book = _book(without={"clip": ("proud",)})
    assert _fired(book, Reading("clip", "toe", "seated")) == ["toe-over"]
    assert _fired(book, Reading("clip", "toe", "proud")) == []


def _rule(**changes: object) -> Rule:
    written = {
        "quantity": "width",
        "grade": "minor",
        "fires": "simple",
        "low": "1/16 in",
        "unit": "mm",
        "status": "published",
        "sources": ["LA"],
        "basis": "b",
        "finding": "f",
        "order": "iron",
        "caution": "next_visit",
        "action": {"hot_fit": "a"},
    }
    return record_of("book.toml", "rules.r", written | changes, Rule)


@pytest.mark.parametrize(
    ("written", "mm"),
    # The international inch of 1959 is 25.4 mm exactly.
    [("1/16 in", 1.5875), ("5/8 in", 15.875), ("1 5/8 in", 41.275), ("-1/8 in", -3.175)],
)
def test_a_limit_in_inches_is_kept_exactly_and_printed_as_it_is_written(written: str, mm: float) -> None:
    rule = _rule(low=written)
    assert (rule.low, rule.printed) == (mm, written)


def test_the_full_side_is_the_lateral_of_a_base_narrow_foot_and_the_medial_of_a_base_wide_one() -> None:
    # LA 121; USDA 599: base-wide full inside and close outside, base-narrow the reverse.
    contexts = {
        side: [(each.stance, each.side) for each in _rule(applies=[{"side": [side]}]).applies or ()]
        for side in ("full", "close")
    }
    assert contexts["full"] == [(("base_narrow",), ("lateral",)), (("base_wide",), ("medial",))]
    assert contexts["close"] == [(("base_narrow",), ("medial",)), (("base_wide",), ("lateral",))]


@pytest.mark.parametrize("context", [{"side": ["full", "medial"]}, {"side": ["full"], "stance": ["regular"]}])
def test_a_context_that_says_the_stance_twice_is_refused(context: dict[str, list[str]]) -> None:
    with pytest.raises(RulebookError, match="full and close say the stance"):
        _rule(applies=[context])
