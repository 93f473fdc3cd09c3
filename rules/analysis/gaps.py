"""Gaps: readings that a foot is not released without, and that nothing judges.

A reading is only called good where some rule looks at it.  Two things are faults, for quantities that a criterion
needs and wherever they can be read:

* no rule looks at the quantity at all;
* none looks at one side of it (too little, too much) or at one of its words, although in every other work, hoof form or
  stage, all else being the same, one does: the one that is left out was forgotten.  Only keys with two or more others
  count: that a rule is for fore feet alone, or for one branch, is a plain distinction.

A book may well judge nothing on one side in several forms or works; that is its say.  So it is where it switches an
inherited rule of the quantity off and states why, which loading allows only as far as feet stay safe.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache
from typing import Final, NamedTuple

from rules.analysis.contexts import context_text, is_read, ordinary_first, places_on
from rules.analysis.fault import Example, Fault
from rules.analysis.intervals import IntervalSet, Point
from rules.analysis.overlaps import shown
from rules.analysis.unreachable import past
from rules.engine.in_force import NamedRule, in_force
from rules.engine.reading import Reading
from rules.number_line import middle_of
from rules.rulebook import Rulebook
from rules.situation import VOCABULARY, Observables, Situation, admits, side_of, spot_of

__all__ = ["gaps"]

_KEYS: Final = ("stage", "work", "hoof_form", "stance")
_FEWEST_OTHERS: Final = 2


class _Needed(NamedTuple):
    """A quantity at a place, and the criterion's need that asks for it."""

    file: str
    key: str
    quantity: str
    place: str
    stages: tuple[str, ...] | None


def gaps(book: Rulebook, observables: Observables, inherited: Rulebook | None) -> Iterator[Fault]:
    """Every gap, each quantity and each side of it once."""
    off = {inherited.rules[name].quantity for name in book.off if name in inherited.rules} if inherited else set()
    finder = _Finder(book, observables, off)
    reported: set[tuple[str, ...]] = set()
    for needed in _needs(book):
        for fault in finder.gaps(needed):
            names = (fault.kind, needed.quantity, fault.key)
            if names not in reported:
                reported.add(names)
                yield fault


def _needs(book: Rulebook) -> Iterator[_Needed]:
    for criterion_id, criterion in book.criteria.items():
        for number, need in enumerate(criterion.needs):
            for quantity in need.any_of:
                places = book.quantities[quantity].places
                spots = (
                    places
                    if need.at in {"anywhere", "every_clip"}
                    else ("nail",)
                    if need.at in {"every_nail", "each_branch"}
                    else need.at
                )
                for spot in spots:
                    for place in places_on(spot):
                        yield _Needed(f"{criterion_id}.toml", f"criterion.needs.{number}", quantity, place, need.stages)


class _Finder:
    def __init__(self, book: Rulebook, observables: Observables, off: set[str]) -> None:
        self._book = book
        self._observables = observables
        self._off = off
        self._looked_at: dict[tuple[str, ...], frozenset[str]] = {}

    def gaps(self, needed: _Needed) -> Iterator[Fault]:
        everywhere = ordinary_first(self._book) if needed.quantity not in self._off else ()
        aspects = {each: self._aspects(needed, each) for each in everywhere if self._read(needed, each)}
        kinds = set(aspects.values())
        if len(kinds) == 1 and kinds != {frozenset()}:
            return  # judged alike everywhere: nothing is left out anywhere
        for situation in aspects:
            if not self._rules(needed.quantity, needed.place, situation):
                yield self._not_judged(needed, situation)
                continue
            for key in _KEYS:
                yield from self._left_out(needed, aspects, situation, key)

    def _read(self, needed: _Needed, situation: Situation) -> bool:
        needed_here = needed.stages is None or situation.stage in needed.stages
        return needed_here and is_read(self._book, self._observables, needed.quantity, needed.place, situation)

    def _rules(self, quantity: str, place: str, situation: Situation) -> tuple[NamedRule, ...]:
        judging = in_force(self._book, situation).judging(quantity, place)
        return tuple((rule_id, rule) for rule_id, rule in judging if rule.with_ is None)

    def _not_judged(self, needed: _Needed, situation: Situation) -> Fault:
        book, quantity = self._book, needed.quantity
        elsewhere = [
            (rule_id, rule)
            for rule_id, rule in book.rules_of[quantity]
            if spot_of(needed.place) in book.places_of(rule)
        ]
        value = book.quantities[quantity].vocabulary[-1:] or (float(middle_of(book.quantities[quantity])),)
        example = Example(situation, (Reading(quantity, needed.place, value[0]),))
        what = f"{quantity} at {needed.place} is needed and no rule judges it ({context_text(situation)})"
        if elsewhere:
            rule_id, rule = elsewhere[0]
            example = past(book, rule, needed.place, situation) or example
            return Fault(
                book.files[rule_id],
                f"rules.{rule_id}.applies",
                "not-judged",
                what,
                "Widen applies, or add a rule",
                example,
            )
        return Fault(needed.file, needed.key, "not-judged", what, "Add a rule for it, or do not need it", example)

    def _left_out(
        self, needed: _Needed, aspects: Mapping[Situation, frozenset[str]], situation: Situation, key: str
    ) -> Iterator[Fault]:
        others = [other for other in _others(situation, key, self._words(key)) if other in aspects]
        if len(others) < _FEWEST_OTHERS:
            return
        here = aspects[situation]
        everywhere = frozenset.intersection(*(aspects[other] for other in others))
        if everywhere <= here:
            return
        right = {
            word
            for word, own in (self._book.quantities[needed.quantity].own_way or {}).items()
            if admits(own, situation, side_of(needed.place))
        }
        for aspect in sorted(everywhere - here - right):
            yield from self._one_left_out(needed, situation, key, aspect, others)

    def _words(self, key: str) -> tuple[str, ...]:
        """The words of a key of contexts that the book judges."""
        judges = self._book.judges
        judged = {"stage": judges.stages, "hoof_form": judges.hoof_forms, "stance": judges.stances}
        return judged.get(key, VOCABULARY[key])

    def _aspects(self, needed: _Needed, situation: Situation) -> frozenset[str]:
        """The ends of the number line, or the words, that some rule looks at."""
        rules = self._rules(needed.quantity, needed.place, situation)
        names = tuple(rule_id for rule_id, _ in rules)
        known = self._looked_at.get(names)
        if known is None:
            ends = {end for _, rule in rules for end in ("low", "high") if getattr(rule, end) is not None}
            words = {word for _, rule in rules for word in rule.is_ or ()}
            known = self._looked_at[names] = frozenset(ends | words)
        return known

    def _one_left_out(
        self, needed: _Needed, situation: Situation, key: str, aspect: str, others: list[Situation]
    ) -> Iterator[Fault]:
        book, quantity, place = self._book, needed.quantity, needed.place
        rules = {name: rule for other in others for name, rule in self._rules(quantity, place, other)}
        there = [IntervalSet(book, quantity, place, other, self._rules(quantity, place, other), {}) for other in others]
        whole = IntervalSet(book, quantity, place, situation, tuple(rules.items()), {})
        own = IntervalSet(book, quantity, place, situation, self._rules(quantity, place, situation), {})
        point = next(
            (
                point
                for point in whole.points
                if not own.fired(Point(point.value, point.sizes))
                and all(self._at(interval_set, point, aspect) for interval_set in there)
            ),
            None,
        )
        if point is None:
            return
        rule_id = there[0].fired(point)[0]
        yield Fault(
            book.files[rule_id],
            f"rules.{rule_id}.applies",
            "side-not-judged",
            f"{shown(whole, point)} at {place} is a finding in every other {key.replace('_', ' ')}, and in "
            f"{getattr(situation, key)!r} nothing judges that ({context_text(situation)})",
            "Widen applies, or add a rule for it",
            whole.example(point, situation),
        )

    @staticmethod
    def _at(interval_set: IntervalSet, point: Point, aspect: str) -> bool:
        """Whether a rule of the lane fires on that side, or on that word."""
        fired = interval_set.fired(point)
        if isinstance(point.value, str):
            return point.value == aspect and bool(fired)
        return any(interval_set.zones[name].end(point.value, point.sizes) == aspect for name in fired)


@cache
def _others(situation: Situation, key: str, words: tuple[str, ...]) -> tuple[Situation, ...]:
    """The situations that differ in the word of ``key`` alone."""
    own = getattr(situation, key)
    return tuple(
        situation._replace(**{key: word})  # type: ignore[arg-type]  # a word of the key's own vocabulary
        for word in words
        if word != own
    )
