"""Bands along the number line: in each context, which rules fire on which readings.

A lane holds the rules that judge one quantity at once: those in force in a context, that ask for no other word or for
the same ones.  Contexts with the same rules make one lane.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import product
from typing import NamedTuple

from rules.analysis.contexts import Situations, admitted, parted, read_at
from rules.analysis.fault import Example
from rules.engine.in_force import NamedRule
from rules.engine.reading import Reading
from rules.model.records import Rule, Scaled
from rules.number_line import Line, Sizes, Zone, exact, range_of, sizes_to_try, values_to_try, zone_of
from rules.rulebook import Rulebook
from rules.situation import Observables, Situation, side_of, spot_of

__all__ = ["IntervalSet", "Point", "interval_sets", "number_groups"]


class Point(NamedTuple):
    """One reading to try, a number or a word, with the sizes that limits follow."""

    value: Fraction | str
    sizes: Sizes


@dataclass(frozen=True)
class IntervalSet:
    """The rules that look at ``quantity`` at ``place`` where ``words`` are read there too, in ``situation`` first."""

    book: Rulebook
    quantity: str
    place: str
    situation: Situation
    rules: tuple[NamedRule, ...]
    words: Mapping[str, str]

    @cached_property
    def zones(self) -> Mapping[str, Zone]:
        """The zones of the rules of a number, and of those that silence them."""
        names = {name for rule_id, rule in self.rules for name in (rule_id, *rule.unless)}
        return {name: zone_of(self.book.rules[name]) for name in names if self.book.rules[name].is_ is None}

    @cached_property
    def lines(self) -> tuple[Line, ...]:
        """All limits of the lane."""
        return tuple(dict.fromkeys(line for zone in self.zones.values() for line in zone.lines))

    @cached_property
    def points(self) -> tuple[Point, ...]:
        """Readings that meet the rules in every way there is."""
        return tuple(point for sizes in self.sizes for point in self.points_for(sizes))

    @cached_property
    def sizes(self) -> tuple[Sizes, ...]:
        """Sizes for which the limits lie in every order there is."""
        record = self.book.quantities[self.quantity]
        if record.kind != "number":
            return ({},)
        ends = tuple(Line(exact(0.0), None, end) for end in range_of(record))
        return tuple(sizes_to_try(*number_groups(self.book, [(*self.lines, *ends)])))

    def points_for(self, sizes: Sizes) -> list[Point]:
        """Those of the points that have these sizes."""
        record = self.book.quantities[self.quantity]
        if record.kind != "number":
            return [Point(word, sizes) for word in record.vocabulary]
        return [Point(value, sizes) for value in values_to_try(self.lines, sizes, *range_of(record))]

    def passes(self, rule_id: str, point: Point) -> bool:
        """Whether the reading lies past the rule's limit, or is one of its words."""
        if isinstance(point.value, str):
            return point.value in (self.book.rules[rule_id].is_ or ())
        return self.zones[rule_id].end(point.value, point.sizes) is not None

    def fired(self, point: Point) -> tuple[str, ...]:
        """The rules that fire on the reading."""
        return tuple(
            rule_id
            for rule_id, rule in self.rules
            if self.passes(rule_id, point) and not any(self.passes(other, point) for other in rule.unless)
        )

    def example(self, point: Point, situation: Situation | None = None) -> Example:
        """The foot on which that was read."""
        value = point.value if isinstance(point.value, str) else float(point.value)
        others = [Reading(name, self.place, word) for name, word in self.words.items()]
        sizes = [Reading(name, "foot", float(size)) for name, size in point.sizes.items()]
        return Example(situation or self.situation, (*sizes, Reading(self.quantity, self.place, value), *others))


def number_groups(
    book: Rulebook, groups: list[tuple[Line, ...]]
) -> tuple[list[tuple[Line, ...]], dict[str, tuple[Fraction, Fraction]]]:
    """Groups of lines with the ranges of the dimensions that they follow."""
    followed = {line.of for group in groups for line in group if line.of is not None}
    return groups, {name: range_of(book.quantities[name]) for name in followed}


def interval_sets(book: Rulebook, observables: Observables) -> Iterator[IntervalSet]:
    """Every lane of every quantity that can be read, each once."""
    read_of = {quantity: read_at(book, observables, quantity) for quantity in book.quantities}
    for quantity in book.quantities:
        seen: set[tuple[str, ...]] = set()
        asked = dict.fromkeys(tuple(sorted(rule.with_ or ())) for _, rule in book.rules_of[quantity])
        for place, situation, judging, beside in _sets_of_rules(book, quantity, tuple(asked), read_of):
            for companions in beside:
                alike = [(rule_id, rule) for rule_id, rule in judging if sorted(rule.with_ or ()) == list(companions)]
                bars = list(dict.fromkeys(bar for _, rule in alike for bar in (rule.without or {}).items()))
                choices = product(*(book.quantities[name].vocabulary for name in companions))
                for choice, barring in product(choices, product((False, True), repeat=len(bars))):
                    words = dict(zip(companions, choice, strict=True))
                    barred = dict(zip(bars, barring, strict=True))
                    rules = tuple(
                        (rule_id, rule)
                        for rule_id, rule in alike
                        if all(words[name] in allowed for name, allowed in (rule.with_ or {}).items())
                        and _speaks(rule, barred)
                    )
                    names = (*(rule_id for rule_id, _ in rules), "", *companions)
                    if rules and names not in seen:
                        seen.add(names)
                        yield IntervalSet(book, quantity, place, situation, rules, words)


def _sets_of_rules(
    book: Rulebook,
    quantity: str,
    companions: Sequence[tuple[str, ...]],
    read_of: Mapping[str, Mapping[str, Situations]],
) -> Iterator[tuple[str, Situation, list[NamedRule], list[tuple[str, ...]]]]:
    """The rules that judge ``quantity`` together, and which of ``companions`` can be read beside it.

    With the most ordinary situation and the place of each; the same rules beside the same words make the same lanes.
    """
    found = []
    for at, (place, read) in enumerate(read_of[quantity].items()):
        rules = [each for each in book.rules_of[quantity] if spot_of(place) in book.places_of(each[1])]
        by = [admitted(book.judges, rule.applies, side_of(place)) for _, rule in rules]
        for names in companions:
            beside = read
            for name in names:
                beside &= read_of[name].get(place, 0)
            by.append(beside)
        for number, situation, held in parted(book.judges, read, by):
            judging = [rule for rule, holds in zip(rules, held[: len(rules)], strict=True) if holds]
            besides = [names for names, holds in zip(companions, held[len(rules) :], strict=True) if holds]
            found.append((number, at, place, situation, judging, besides))
    known: set[tuple[object, ...]] = set()
    for _, _, place, situation, judging, besides in sorted(found, key=lambda each: each[:2]):
        lane = (*(rule_id for rule_id, _ in judging), *besides)
        if lane not in known:
            known.add(lane)
            yield place, situation, judging, besides


def _speaks(rule: Rule, barred: Mapping[tuple[str, tuple[str, ...]], bool]) -> bool:
    """Whether the rule can fire where these bars hold; one of a number holds where the number is read."""
    if any(barred[bar] for bar in (rule.without or {}).items()):
        return False
    unread = {name for (name, words), holds in barred.items() if not words and not holds}
    return not any(isinstance(limit, Scaled) and limit.of in unread for limit in (rule.low, rule.high))
