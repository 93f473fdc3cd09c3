"""How sure a joined finding is: the chance that all its parts are true, by the joint distribution of the readings.

Readings are normal and, but for what a trace has in common, independent of one another; parts are not: the thickness
of the shoe stands in every limit that follows it, and a difference of branches in both lengths.  Given what several
parts share, the parts are independent, so the chance is the mean of the product of their chances over what is shared.
That mean is taken at fixed points: the middles of equal shares of one normal variable, a Kronecker sequence of several.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from statistics import NormalDist
from typing import Final, NamedTuple

from fitcheck.assessment.conformity import has_a_chance, probability_above
from fitcheck.fitting.observables import ROWS
from rules import Firing, Reading, Rulebook, Situation, Table
from rules.model.records import Clause, Limit, Rule, Scaled
from rules.situation import admits, side_of

__all__ = ["End", "Part", "joint_chance", "standing"]

Key = tuple[str, str]
"""A reading, by quantity and place."""

_TRACE: Final[Key] = ("outline", "foot")
"""What all readings of one trace have in common: frame, pencil, scale."""
_OF_A_TRACE: Final = frozenset(row.quantity for row in ROWS if row.measure == "outline_fit")
_SUMS: Final[Mapping[str, tuple[tuple[Key, float], ...]]] = {
    "branch_difference": ((("length", "lateral_heel"), 1.0), (("length", "medial_heel"), -1.0)),
}
"""Quantities that are sums of other readings, with their factors."""
_EVEN: Final = 0.5
_POINTS: Final = 512
_POINTS_OF_SEVERAL: Final = 4096


class End(NamedTuple):
    """One end of a limit, as a sum of independent normal variables that lies past it above 0.

    ``mean`` of the sum and ``spread``: each variable with its share of the sum's standard uncertainty, signed.
    """

    mean: float
    spread: tuple[tuple[Key, float], ...]


class Part(NamedTuple):
    """One thing that must be true: past one of the ends, or past none where ``clear``.

    Ends on one side are nested, so that the likeliest counts; those on two sides exclude each other.
    """

    lows: tuple[End, ...]
    highs: tuple[End, ...]
    clear: bool = False


def joint_chance(parts: Sequence[Part]) -> float:
    """The chance that all ``parts`` are true.

    >>> end = End(0.0, ((("length", "medial_heel"), 1.0),))
    >>> joint_chance([Part((), (end,))]), round(joint_chance([Part((), (end,)), Part((), (end,))]), 3)
    (0.5, 0.5)
    """
    uses = Counter(key for part in parts for key in {key for end in (*part.lows, *part.highs) for key, _ in end.spread})
    # In one order always: which of several variables takes which coordinate of the points is felt in the last figure.
    shared = sorted(key for key, times in uses.items() if times > 1)
    if not shared:
        return math.prod(_chance(part, {}) for part in parts)
    # A part that shares nothing has one chance, whatever is shared.
    apart = [part for part in parts if _is_apart(part, shared)]
    together = [part for part in parts if not _is_apart(part, shared)]
    points = _points(len(shared))
    mean = math.fsum(
        math.prod(_chance(part, dict(zip(shared, point, strict=True))) for part in together) for point in points
    ) / len(points)
    return mean * math.prod(_chance(part, {}) for part in apart)


def _is_apart(part: Part, shared: Sequence[Key]) -> bool:
    return not any(key in shared for end in (*part.lows, *part.highs) for key, _ in end.spread)


def _chance(part: Part, known: Mapping[Key, float]) -> float:
    """The chance of one part where the variables in ``known`` lie so many standard uncertainties off their means."""
    beyond = sum(max((_past(end, known) for end in side), default=0.0) for side in (part.lows, part.highs))
    return max(0.0, 1.0 - beyond) if part.clear else min(1.0, beyond)


def _past(end: End, known: Mapping[Key, float]) -> float:
    mean, variance = end.mean, 0.0
    for key, spread in end.spread:
        if key in known:
            mean += spread * known[key]
        else:
            variance += spread * spread
    return probability_above(0.0, mean, math.sqrt(variance))


@lru_cache
def _points(dimensions: int) -> list[tuple[float, ...]]:
    """Points that are spread evenly over so many independent standard normal variables."""
    quantile = NormalDist().inv_cdf
    if dimensions == 1:
        return [(quantile((number + 0.5) / _POINTS),) for number in range(_POINTS)]
    # The generalised golden ratio: the root above 1 of x^(d + 1) = x + 1.
    ratio = 2.0
    for _ in range(60):
        ratio = (1 + ratio) ** (1 / (dimensions + 1))
    steps = [ratio ** -(number + 1) for number in range(dimensions)]
    return [
        tuple(quantile(min(1 - 1e-12, max(1e-12, (0.5 + number * step) % 1))) for step in steps)
        for number in range(1, _POINTS_OF_SEVERAL + 1)
    ]


def standing(
    firings: list[Firing], table: Table, stated: Table, situation: Situation, book: Rulebook
) -> tuple[list[Firing], dict[tuple[str, str], float | None]]:
    """The firings that stand, and by rule and place how sure each joined one is.

    It is as sure as the surest set of things that it rests on; None where one of them is a range of worst cases or an
    eye's judgement.  Of a book that judges by chance a major one stands when it is at least as likely as not; of any
    other all stand, parts are taken as independent, and a reading that only has to be clear of limits as clear.
    """
    if not any(firing.rule in book.joined for firing in firings):
        return firings, {}
    chances: dict[tuple[str, str], float | None] = {}
    parts_of = _Parts(table, stated, situation, book)
    kept, dropped = [], set()
    for firing in firings:
        joined = book.joined.get(firing.rule)
        if joined is None:
            kept.append(firing)
            continue
        best: tuple[float | None, list[Part]] = (0.0, [])
        for basis in firing.bases:
            if any((found.name, found.place) in dropped for found in basis):
                continue
            parts = [
                part
                for clause, found in zip(joined.when, basis, strict=True)
                for part in parts_of.of(clause, found.name, found.place)
            ]
            chance = None if None in parts else parts_of.together([part for part in parts if part is not None])
            if chance is None or (best[0] is not None and chance > best[0]):
                best = chance, [part for part in parts if part is not None]
        stands = best[0] is None or best[0] >= _EVEN or joined.grade != "major" or not book.judges.by_chance
        if stands:
            kept.append(firing)
            chances[firing.rule, firing.place] = best[0]
            parts_of.joined[firing.rule, firing.place] = [None] if best[0] is None else [*best[1]]
        else:
            dropped.add((firing.rule, firing.place))
    return kept, chances


class _Parts:
    """What findings and readings of one foot come to as parts of a joined finding."""

    def __init__(self, table: Table, stated: Table, situation: Situation, book: Rulebook) -> None:
        self._table, self._stated, self._situation, self._book = table, stated, situation, book
        self._by_chance = book.judges.by_chance
        common = book.parameters.get("trace_common")
        self._common = 0.0 if common is None or common.value is None else common.value
        self.joined: dict[tuple[str, str], list[Part | None]] = {}

    def together(self, parts: Sequence[Part]) -> float:
        """The chance of all of them."""
        if self._by_chance:
            return joint_chance(parts)
        return math.prod(joint_chance([part]) for part in parts)

    def of(self, clause: Clause, name: str, place: str) -> Iterable[Part | None]:
        """The parts that one clause comes to; none where nothing about it is uncertain, None where nobody knows."""
        if (name, place) in self.joined:
            return self.joined[name, place]
        rule = self._book.rules.get(name) if clause.findings is not None else None
        quantity = name if rule is None else rule.quantity
        reading, record = self._table[quantity, place], self._book.quantities[quantity]
        if not has_a_chance(record):
            return [None]
        if isinstance(reading.value, str):
            return []
        if clause.clear_of is not None:
            return [self._clear(clause.clear_of, reading)] if self._by_chance else []
        return [self._part(clause if rule is None else rule, reading)]

    def _part(self, limited: Rule | Clause, reading: Reading) -> Part:
        return Part(self._ends(limited.low, reading, -1), self._ends(limited.high, reading, 1))

    def _clear(self, rule_ids: Iterable[str], reading: Reading) -> Part:
        side = side_of(reading.place)
        rules = [self._book.rules[rule_id] for rule_id in rule_ids]
        parts = [self._part(rule, reading) for rule in rules if admits(rule.applies, self._situation, side)]
        lows = tuple(end for part in parts for end in part.lows)
        return Part(lows, tuple(end for part in parts for end in part.highs), clear=True)

    def _ends(self, limit: Limit | None, reading: Reading, sign: int) -> tuple[End, ...]:
        if limit is None:
            return ()
        mean, spread = sign * float(reading.value), dict(self._spread(reading, sign))
        if not isinstance(limit, Scaled):
            return (End(mean - sign * limit, tuple(spread.items())),)
        size = self._table.get((limit.of, "foot"))
        if size is None:
            return ()
        mean -= sign * (limit.times * float(size.value) + limit.plus)
        for key, share in self._spread(size, -sign * limit.times):
            spread[key] = spread.get(key, 0.0) + share
        return (End(mean, tuple(spread.items())),)

    def _spread(self, reading: Reading, factor: float) -> Iterable[tuple[Key, float]]:
        """What the reading's uncertainty is made of, times ``factor``."""
        key = reading.quantity, reading.place
        terms = _SUMS.get(reading.quantity, ())
        if self._by_chance and terms and all(term in self._table for term, _ in terms):
            found: dict[Key, float] = {}
            for term, times in terms:
                for each, share in self._spread(self._table[term], factor * times):
                    found[each] = found.get(each, 0.0) + share
            return found.items()
        u = factor * reading.u
        if self._by_chance and self._common and reading.quantity in _OF_A_TRACE and self._stated.get(key) != reading:
            common = self._common
            return ((key, u * math.sqrt(1 - common)), (_TRACE, u * math.sqrt(common)))
        return ((key, u),)
