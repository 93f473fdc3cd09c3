"""At which stages of the work a rule can make its finding at all."""

from __future__ import annotations

from typing import Final

from rules.loading.situation_sets import admitted, stages_in
from rules.model.records import BranchSide, JoinedRule, Rule, Stage
from rules.rulebook import Rulebook
from rules.situation import side_of

__all__ = ["sides_of", "stages_of_finding"]

_DERIVED: Final = "rules.loading.stages"


def stages_of_finding(book: Rulebook, rule_id: str) -> tuple[Stage, ...]:
    """The stages at which a single or joined rule can make its finding, in the order of the work.

    The joined rules must not rest on themselves.
    """
    known: dict[str, tuple[Stage, ...]] = book.derived.setdefault(_DERIVED, {})
    if rule_id not in known:
        rule = book.rules.get(rule_id)
        known[rule_id] = _of_joined(book, book.joined[rule_id]) if rule is None else _of_single(book, rule)
    return known[rule_id]


def sides_of(place: str) -> tuple[BranchSide | None, ...]:
    """The sides on which a place of the book can lie: both for a nail, none for the toe, the sole, the foot."""
    return ("medial", "lateral") if place == "nail" else (side_of(place),)


def _of_single(book: Rulebook, rule: Rule) -> tuple[Stage, ...]:
    """The stages of its criterion at which it applies at any of its places."""
    some = 0
    for side in {side for place in book.places_of(rule) for side in sides_of(place)}:
        some |= admitted(rule.applies, side, book.judges)
    applied = stages_in(some, book.judges)
    criterion = book.criterion_of.get(rule.quantity)
    if criterion is None:
        return tuple(applied)
    observed = (*book.criteria[criterion].stages, *book.quantities[rule.quantity].also_at)
    return tuple(stage for stage in applied if stage in observed)


def _of_joined(book: Rulebook, joined: JoinedRule) -> tuple[Stage, ...]:
    """The stages at which it applies and every finding that it rests on can be made."""
    return tuple(
        stage
        for stage in stages_in(admitted(joined.applies, None, book.judges), book.judges)
        if all(
            any(stage in stages_of_finding(book, rule_id) for rule_id in clause.findings)
            for clause in joined.when
            if clause.findings
        )
    )
