"""Second-layer rules that can never join: what they rest on cannot stand together in any context.

Readings are taken as independent of one another, also where one could be computed from another: what is called
impossible here is impossible by the limits themselves.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import product
from typing import NamedTuple

from rules.analysis.contexts import is_read, ordinary_first, places_on
from rules.analysis.fault import Example, Fault
from rules.analysis.intervals import number_groups
from rules.engine.reading import Reading
from rules.model.records import Clause, JoinedRule
from rules.number_line import Line, Sizes, Zone, exact, range_of, sizes_to_try, values_to_try, zone_of
from rules.rulebook import Rulebook
from rules.situation import Observables, Situation, admits, side_of, spot_of

__all__ = ["never_joined"]

Spot = tuple[str, str]
"""A quantity and a place."""


@dataclass(frozen=True, slots=True)
class ReadingSought:
    """What one thing that a joined rule rests on asks of one reading.

    A number lies past every zone of ``inside`` and clear of all of ``outside``; a word is one of ``words``.
    """

    spot: Spot
    inside: tuple[Zone, ...] = ()
    outside: tuple[Zone, ...] = ()
    words: frozenset[str] | None = None


class _Way(NamedTuple):
    """One way in which a clause can hold: by which finding (None for a reading), made where, and what it asks."""

    finding: str | None
    place: str
    readings_sought: tuple[ReadingSought, ...]


def never_joined(book: Rulebook, observables: Observables) -> Iterator[Fault]:
    """Joined rules that never join; of those that can, findings in a clause or in ``replaces`` that never take part."""
    joiner = _Joiner(book, observables)
    for rule_id, joined in book.joined.items():
        file, key = book.files[rule_id], f"joined.{rule_id}"
        if joiner.together(joined, {}) is None:
            yield Fault(
                file,
                f"{key}.when",
                "never-joins",
                "what this rule rests on can never stand together, so it never fires",
                "Name findings that can be made on one foot, or widen applies",
                joiner.as_far_as_it_goes(joined),
            )
            continue
        for number, clause in enumerate(joined.when):
            for finding in clause.findings or ():
                if joiner.together(joined, {number: finding}) is None:
                    yield Fault(
                        file,
                        f"{key}.when.{number}.findings",
                        "never-joins",
                        f"{finding!r} can never take part: it cannot be made there together with the rest",
                        f"Take {finding!r} out",
                        joiner.alone(finding),
                    )
        for finding in joined.replaces if joined.replaces_actions else ():
            if joiner.together(joined, {}, besides=finding) is None:
                yield Fault(
                    file,
                    f"{key}.replaces",
                    "never-joins",
                    f"{finding!r} can never stand beside this rule, so there is nothing to replace",
                    f"Take {finding!r} out",
                    joiner.alone(finding),
                )


class _Joiner:
    def __init__(self, book: Rulebook, observables: Observables) -> None:
        self._book = book
        self._observables = observables
        self._solved: dict[frozenset[ReadingSought], tuple[Reading, ...] | None] = {}

    def together(
        self, joined: JoinedRule, chosen: Mapping[int, str], besides: str | None = None, clauses: int | None = None
    ) -> Example | None:
        """A foot on which the rule fires, its clauses resting on ``chosen`` findings where named; None for none.

        ``besides`` is a further finding that must stand; only the first ``clauses`` are asked for where given.
        """
        count = len(joined.when) if clauses is None else clauses
        for situation in ordinary_first(self._book):
            ways = [
                [way for way in self._ways(joined, number, situation) if chosen.get(number) in {None, way.finding}]
                for number in range(count)
            ]
            if besides is not None:
                ways.append(list(self._found(besides, None, situation, len(ways))))
            for choice in product(*ways):
                readings = self._solve(
                    frozenset(readings_sought for way in choice for readings_sought in way.readings_sought)
                )
                if readings is not None:
                    return Example(situation, readings)
        return None

    def as_far_as_it_goes(self, joined: JoinedRule) -> Example | None:
        """A foot on which as many of the clauses hold as can, from the first on."""
        examples = (self.together(joined, {}, clauses=count) for count in range(len(joined.when) - 1, 0, -1))
        return next((example for example in examples if example is not None), None)

    def alone(self, finding: str) -> Example | None:
        """A foot on which ``finding`` is made."""
        for situation in ordinary_first(self._book):
            for way in self._found(finding, None, situation, 0):
                readings = self._solve(frozenset(way.readings_sought))
                if readings is not None:
                    return Example(situation, readings)
        return None

    def _ways(self, joined: JoinedRule, number: int, situation: Situation) -> Iterator[_Way]:
        clause = joined.when[number]
        if clause.findings is None:
            yield from self._read(joined, clause, situation)
            return
        for finding in clause.findings:
            for way in self._found(finding, clause.at, situation, number):
                # A joined rule's context must hold on the side of each finding.
                if admits(joined.applies, situation, side_of(way.place)):
                    yield way

    def _found(self, finding: str, at: str | None, situation: Situation, number: int) -> Iterator[_Way]:
        """The ways in which a finding can be made; each clause looks at a nail of its own."""
        book = self._book
        if finding in book.joined:
            inner = book.joined[finding]
            each = [list(self._ways(inner, part, situation)) for part in range(len(inner.when))]
            for choice in product(*each):
                made_at = "foot" if inner.place == "foot" else choice[0].place
                if at in {None, spot_of(made_at)}:
                    yield _Way(
                        finding,
                        made_at,
                        tuple(readings_sought for way in choice for readings_sought in way.readings_sought),
                    )
            return
        rule = book.rules[finding]
        for spot in book.places_of(rule):
            for place in places_on(spot, number + 1):
                here = at in {None, spot} and admits(rule.applies, situation, side_of(place))
                names = (rule.quantity, *(rule.with_ or ()))
                if here and all(is_read(book, self._observables, name, place, situation) for name in names):
                    yield _Way(finding, place, tuple(self._fires(finding, place)))

    def _fires(self, rule_id: str, place: str) -> Iterator[ReadingSought]:
        rule = self._book.rules[rule_id]
        silent = [self._book.rules[other] for other in rule.unless]
        spot = (rule.quantity, place)
        if rule.is_ is not None:
            yield ReadingSought(
                spot, words=frozenset(rule.is_) - {word for other in silent for word in other.is_ or ()}
            )
        else:
            yield ReadingSought(spot, (zone_of(rule),), tuple(zone_of(other) for other in silent))
        for name, words in (rule.with_ or {}).items():
            yield ReadingSought((name, place), words=frozenset(words))

    def _read(self, joined: JoinedRule, clause: Clause, situation: Situation) -> Iterator[_Way]:
        book, quantity = self._book, clause.reading or ""
        for place in places_on(clause.at or ""):
            side = side_of(place)
            if not (admits(joined.applies, situation, side) and self._is_read(quantity, place, situation)):
                continue
            rules = [book.rules[name] for name in clause.clear_of or ()]
            rules = [rule for rule in rules if admits(rule.applies, situation, side)]
            vocabulary = book.quantities[quantity].vocabulary
            if vocabulary:
                words = frozenset(vocabulary) - {word for rule in rules for word in rule.is_ or ()}
                yield _Way(None, place, (ReadingSought((quantity, place), words=words),))
            else:
                inside = (zone_of(clause),) if clause.clear_of is None else ()
                yield _Way(
                    None, place, (ReadingSought((quantity, place), inside, tuple(zone_of(rule) for rule in rules)),)
                )

    def _is_read(self, quantity: str, place: str, situation: Situation) -> bool:
        return is_read(self._book, self._observables, quantity, place, situation)

    def _solve(self, readings_sought: frozenset[ReadingSought]) -> tuple[Reading, ...] | None:
        """Readings that give all that is asked at once, None when there are none."""
        if readings_sought not in self._solved:
            self._solved[readings_sought] = _solution(self._book, readings_sought)
        return self._solved[readings_sought]


def _solution(book: Rulebook, readings_sought: frozenset[ReadingSought]) -> tuple[Reading, ...] | None:
    by_spot: dict[Spot, list[ReadingSought]] = {}
    for each in sorted(readings_sought, key=lambda one: one.spot):
        by_spot.setdefault(each.spot, []).append(each)
    words = {}
    numbers = {}
    for spot, parts in by_spot.items():
        choices = [part.words for part in parts if part.words is not None]
        if not choices:
            numbers[spot] = parts
            continue
        common = frozenset.intersection(*choices)
        if not common:
            return None
        words[spot] = next(word for word in book.quantities[spot[0]].vocabulary if word in common)
    values = _values(book, numbers)
    if values is None:
        return None
    return tuple(Reading(*spot, value) for found in (values, words) for spot, value in found.items())


def _values(book: Rulebook, numbers: Mapping[Spot, Sequence[ReadingSought]]) -> dict[Spot, float] | None:
    """A number for each spot, and for each dimension that the limits follow."""
    lines = {
        spot: tuple(
            dict.fromkeys(line for part in parts for zone in (*part.inside, *part.outside) for line in zone.lines)
        )
        for spot, parts in numbers.items()
    }
    followed = {line.of for each in lines.values() for line in each if line.of is not None}
    groups = []
    for (name, place), own in lines.items():
        ends = tuple(Line(exact(0.0), None, end) for end in range_of(book.quantities[name]))
        # A dimension that is itself asked about is its own value.
        itself = (Line(Fraction(1), name, Fraction(0)),) if place == "foot" and name in followed else ()
        groups.append((*own, *ends, *itself))
    for sizes in sizes_to_try(*number_groups(book, groups)):
        found: dict[Spot, float] = {(name, "foot"): float(size) for name, size in sizes.items()}
        for spot, parts in numbers.items():
            value = _value(book, spot, parts, lines[spot], sizes)
            if value is None:
                break
            found[spot] = float(value)
        else:
            return found
    return None


def _value(
    book: Rulebook, spot: Spot, parts: Sequence[ReadingSought], lines: Sequence[Line], sizes: Sizes
) -> Fraction | None:
    name, place = spot
    if place == "foot" and name in sizes:
        candidates = [sizes[name]]
    else:
        candidates = values_to_try(lines, sizes, *range_of(book.quantities[name]))
    for value in candidates:
        if all(
            all(zone.end(value, sizes) for zone in part.inside)
            and not any(zone.end(value, sizes) for zone in part.outside)
            for part in parts
        ):
            return value
    return None
