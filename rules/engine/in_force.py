"""The single rules in force in one situation, by what they judge and where."""

from __future__ import annotations

from functools import cached_property
from typing import NamedTuple, TypeVar

from rules.model.records import Clause, JoinedRule, Rule, Scaled
from rules.rulebook import Rulebook
from rules.situation import Situation, admits, side_of, spot_of

__all__ = ["Dependencies", "InForce", "JoinedInForce", "NamedRule", "in_force", "intern"]

_T = TypeVar("_T")
_INTERNED = "ones"

NamedRule = tuple[str, Rule]


class Dependencies(NamedTuple):
    """What the rules on one quantity at one place ask for besides it: dimensions, and words at the same place."""

    dimensions: tuple[str, ...]
    words: tuple[str, ...]


class JoinedInForce(NamedTuple):
    """A joined rule, and its clauses in the order in which it is soonest seen that one does not hold."""

    rule_id: str
    rule: JoinedRule
    clauses: tuple[Clause, ...]


def in_force(book: Rulebook, situation: Situation) -> InForce:
    """The rules of ``book`` that are in force in ``situation``, gathered once for each."""
    known: InForce | None = book.derived.get(situation)
    if known is None:
        known = book.derived[situation] = InForce(book, situation)
    return known


def intern(book: Rulebook, value: _T) -> _T:
    """The one object that equals ``value``: what many situations have in common lies in memory once, and nearer.

    Asked only about what follows from the book.
    """
    ones: dict[_T, _T] = book.derived.setdefault(_INTERNED, {})
    return ones.setdefault(value, value)


class InForce:
    """Answers for one situation, each kept: a book has few situations, quantities and places."""

    def __init__(self, book: Rulebook, situation: Situation) -> None:
        self._book = book
        self._situation = situation
        self._judges = situation.stage in book.judges.stages
        self._judging: dict[tuple[str, str], tuple[NamedRule, ...]] = {}
        self._places: dict[str, tuple[str, ...]] = {}
        self._dependencies: dict[tuple[str, str], Dependencies | None] = {}

    def judging(self, quantity: str, place: str) -> tuple[NamedRule, ...]:
        """The rules that judge ``quantity`` at ``place``, with their ids."""
        key = (quantity, place)
        known = self._judging.get(key)
        if known is None:
            side, spot = side_of(place), spot_of(place)
            known = self._judging[key] = tuple(
                (rule_id, rule)
                for rule_id, rule in self._book.rules_of[quantity]
                if self._judges and spot in self._book.places_of(rule) and admits(rule.applies, self._situation, side)
            )
        return known

    @cached_property
    def joined(self) -> tuple[JoinedInForce, ...]:
        """The joined rules.  What was found is sooner looked through than what was read."""
        return tuple(
            JoinedInForce(rule_id, rule, tuple(sorted(rule.when, key=lambda clause: clause.findings is None)))
            for rule_id, rule in self._book.joined.items()
            if self._judges and admits(rule.applies, self._situation, None)
        )

    def dependencies(self, quantity: str, place: str) -> Dependencies | None:
        """What the rules that judge ``quantity`` at ``place`` ask for besides; None when none judges it."""
        key = (quantity, place)
        if key not in self._dependencies:
            rules = self.judging(quantity, place)
            limits = [limit for _, rule in rules for limit in (rule.low, rule.high)]
            self._dependencies[key] = (
                Dependencies(
                    tuple(dict.fromkeys(limit.of for limit in limits if isinstance(limit, Scaled))),
                    tuple(dict.fromkeys(word for _, rule in rules for word in rule.with_ or ())),
                )
                if rules
                else None
            )
        return self._dependencies[key]

    def places(self, quantity: str) -> tuple[str, ...]:
        """The places other than nails at which any rule judges ``quantity``."""
        known = self._places.get(quantity)
        if known is None:
            places = self._book.quantities[quantity].places
            known = self._places[quantity] = tuple(
                place for place in places if place != "nail" and self.judging(quantity, place)
            )
        return known
