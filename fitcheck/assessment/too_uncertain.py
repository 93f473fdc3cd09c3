"""Readings that no limit finds fault with and that are too uncertain to conform: to be measured again.

A reading conforms when its true value lies more likely than not inside all its limits (JCGM 106:2012, 8.2).  Limits on
one side count as one, the likeliest to be passed: of nested limits the nearest is passed whenever another is.  Only a
book that judges by chance asks for this, and only of numbers: a range of worst cases has no chance.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from typing import Final, NamedTuple

from fitcheck.assessment.conformity import probability_above
from rules import Firing, Reading, Rulebook, Situation, Table, in_force
from rules.model.records import Limit, Rule, Scaled

__all__ = ["too_uncertain"]

_EVEN: Final = 0.5
_ON_A_LIMIT: Final = 1e-9
"""A reading no further from one of its limits conforms, whatever its chance."""
_HALVINGS: Final = 60


class _Moved(NamedTuple):
    """How far a reading lies inside one limit, with the u of the size that the limit follows, in the limit's unit."""

    inside: float
    its_u: float


def too_uncertain(
    table: Table, firings: Iterable[Firing], situation: Situation, book: Rulebook
) -> dict[tuple[str, str], float | None]:
    """By quantity and place each reading that is too uncertain, and the largest u with which it would conform.

    None where no u of the reading is small enough, since the size that its limits follow is too uncertain itself.
    """
    if not book.judges.by_chance:
        return {}
    judging: _Judging | None = book.derived.get((_DERIVED, situation))
    if judging is None:
        judging = book.derived[_DERIVED, situation] = _Judging(book, situation)
    found: dict[tuple[str, str], float | None] = {}
    for key, reading in table.items():
        judged = judging[key]
        # Past a limit on its one side it would have fired; only two sides can leave it in doubt.
        if judged is None:
            continue
        value, u = reading.value, reading.u
        if isinstance(value, str) or u == 0 or _is_well_inside(value, u, judged, table):
            continue
        rules = [rule for rule in judged.rules if _has_companions(rule, key[1], table)]
        lows, highs = _sides(rules, value, table)
        if lows and highs and not _conforms(lows, highs, u):
            found[key] = _most(lows, highs, u)
    if found:
        for each in firings:
            if each.rule in book.rules:
                found.pop((book.rules[each.rule].quantity, each.place), None)
    return found


class _Judged(NamedTuple):
    """The rules on a number that has limits on two sides.

    ``low`` and ``high``: the nearest limits that follow no size; ``lows`` and ``highs``: those that do.
    """

    rules: tuple[Rule, ...]
    low: float
    high: float
    lows: tuple[Scaled, ...]
    highs: tuple[Scaled, ...]


def _is_well_inside(value: float, u: float, judged: _Judged, table: Table) -> bool:
    """Whether it lies inside every limit by one u, and by one of the size that the limit follows: then it conforms."""
    low, high = judged.low, judged.high
    for limit in judged.lows:
        size = table.get((limit.of, "foot"))
        if size is not None:
            low = max(low, limit.times * (float(size.value) + size.u) + limit.plus)
    for limit in judged.highs:
        size = table.get((limit.of, "foot"))
        if size is not None:
            high = min(high, limit.times * (float(size.value) - size.u) + limit.plus)
    return low + u < value < high - u


_DERIVED: Final = "too_uncertain"


class _Judging(dict[tuple[str, str], _Judged | None]):
    """What judges each reading, worked out when one is first asked for."""

    def __init__(self, book: Rulebook, situation: Situation) -> None:
        self._book, self._situation = book, situation

    def __missing__(self, key: tuple[str, str]) -> _Judged | None:
        self[key] = known = _judged(key, self._situation, self._book)
        return known


def _judged(key: tuple[str, str], situation: Situation, book: Rulebook) -> _Judged | None:
    """What judges the quantity at the place; None where that can never leave a reading in doubt."""
    quantity, place = key
    rules = tuple(rule for _, rule in in_force(book, situation).judging(quantity, place))
    lows, highs = (
        [each.low for each in rules if each.low is not None],
        [each.high for each in rules if each.high is not None],
    )
    if not lows or not highs or book.quantities[quantity].worst_case:
        return None
    return _Judged(
        rules,
        max((limit for limit in lows if not isinstance(limit, Scaled)), default=-math.inf),
        min((limit for limit in highs if not isinstance(limit, Scaled)), default=math.inf),
        tuple(limit for limit in lows if isinstance(limit, Scaled)),
        tuple(limit for limit in highs if isinstance(limit, Scaled)),
    )


def _has_companions(rule: Rule, place: str, table: Table) -> bool:
    return all(
        (name, place) in table and table[name, place].value in words for name, words in (rule.with_ or {}).items()
    )


def _sides(rules: Iterable[Rule], value: float, table: Table) -> tuple[list[_Moved], list[_Moved]]:
    """The limits below and above the reading; one that follows a size that is not known is none."""
    lows: list[_Moved] = []
    highs: list[_Moved] = []
    for rule in rules:
        lows += _moved(rule.low, value, -1, table)
        highs += _moved(rule.high, value, 1, table)
    return lows, highs


def _moved(limit: Limit | None, value: float, sign: int, table: Mapping[tuple[str, str], Reading]) -> Iterator[_Moved]:
    if isinstance(limit, Scaled):
        size = table.get((limit.of, "foot"))
        if size is not None:
            edge = limit.times * float(size.value) + limit.plus
            yield _Moved(sign * (edge - value), limit.times * size.u)
    elif limit is not None:
        yield _Moved(sign * (limit - value), 0.0)


def _conforms(lows: list[_Moved], highs: list[_Moved], u: float) -> bool:
    if min(abs(each.inside) for each in (*lows, *highs)) <= _ON_A_LIMIT:
        return True
    beyond = (
        max(probability_above(each.inside, 0.0, math.hypot(u, each.its_u)) for each in side) for side in (lows, highs)
    )
    return 1 - sum(beyond) > _EVEN


def _most(lows: list[_Moved], highs: list[_Moved], u: float) -> float | None:
    """The largest u, not above the given one, with which it would conform: by bisection, as the chance falls with u."""
    low, high = 0.0, u
    if not _conforms(lows, highs, low):
        return None
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if _conforms(lows, highs, middle) else (low, middle)
    return low
