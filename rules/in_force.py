"""The single rules in force in one situation, by what they judge and where."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from rules.engine import millionths
from rules.model import Rule, Scaled
from rules.situation import Situation, admits, side_of, spot_of

if TYPE_CHECKING:
    from rules.rulebook import Rulebook

__all__ = ["Asks", "Clear", "InForce"]

NamedRule = tuple[str, Rule]


class Asks(NamedTuple):
    """What the rules on one quantity at one place ask for besides it: dimensions, and words at the same place."""

    dimensions: tuple[str, ...]
    words: tuple[str, ...]


class Clear(NamedTuple):
    """Where a reading passes no limit, told at a glance: strictly between ``low`` and ``high``, or none of ``words``.

    In whole millionths; ``sure_low`` and ``sure_high`` are the limits that count the uncertainty.  ``others`` are the
    rules that must be looked at one by one, since their limit follows a dimension.
    """

    low: float
    high: float
    sure_low: float
    sure_high: float
    words: frozenset[str]
    others: tuple[NamedRule, ...]


class InForce:
    """Answers for one situation, each kept: a book has few situations, quantities and places."""

    def __init__(self, book: Rulebook, situation: Situation) -> None:
        self._book = book
        self._situation = situation
        self._judging: dict[tuple[str, str], tuple[NamedRule, ...]] = {}
        self._places: dict[str, tuple[str, ...]] = {}
        self._asks: dict[tuple[str, str], Asks | None] = {}
        self._clear: dict[tuple[str, str], Clear | None] = {}

    def judging(self, quantity: str, place: str) -> tuple[NamedRule, ...]:
        """The rules that judge ``quantity`` at ``place``, with their ids."""
        key = (quantity, place)
        known = self._judging.get(key)
        if known is None:
            side, spot = side_of(place), spot_of(place)
            known = self._judging[key] = tuple(
                (rule_id, rule)
                for rule_id, rule in self._book.rules_of[quantity]
                if spot in self._book.places_of(rule) and admits(rule.applies, self._situation, side)
            )
        return known

    def clear(self, quantity: str, place: str) -> Clear | None:
        """Where ``quantity`` at ``place`` passes no limit; None when no rule judges it."""
        key = (quantity, place)
        if key not in self._clear:
            rules = self.judging(quantity, place)
            self._clear[key] = _clear(rules) if rules else None
        return self._clear[key]

    def asks(self, quantity: str, place: str) -> Asks | None:
        """What the rules that judge ``quantity`` at ``place`` ask for besides; None when none judges it."""
        key = (quantity, place)
        if key not in self._asks:
            rules = self.judging(quantity, place)
            limits = [limit for _, rule in rules for limit in (rule.low, rule.high)]
            self._asks[key] = (
                Asks(
                    tuple(dict.fromkeys(limit.of for limit in limits if isinstance(limit, Scaled))),
                    tuple(dict.fromkeys(word for _, rule in rules for word in rule.with_ or ())),
                )
                if rules
                else None
            )
        return self._asks[key]

    def places(self, quantity: str) -> tuple[str, ...]:
        """The places other than nails at which any rule judges ``quantity``."""
        known = self._places.get(quantity)
        if known is None:
            places = self._book.quantities[quantity].places
            known = self._places[quantity] = tuple(
                place for place in places if place != "nail" and self.judging(quantity, place)
            )
        return known


def _clear(rules: tuple[NamedRule, ...]) -> Clear:
    ends = {"simple": (-math.inf, math.inf), "guarded": (-math.inf, math.inf)}
    words, others = set[str](), []
    for rule_id, rule in rules:
        if rule.is_ is not None:
            words.update(rule.is_)
        elif isinstance(rule.low, Scaled) or isinstance(rule.high, Scaled):
            others.append((rule_id, rule))
        else:
            low, high = ends[rule.fires or "simple"]
            ends[rule.fires or "simple"] = (
                low if rule.low is None else max(low, millionths(rule.low)),
                high if rule.high is None else min(high, millionths(rule.high)),
            )
    return Clear(*ends["simple"], *ends["guarded"], frozenset(words), tuple(others))
