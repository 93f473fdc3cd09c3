"""What the engine is told: one fact for each place of the foot, holding all that was read there."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist
from typing import Final, NamedTuple

from rules.engine import Fact, millionths
from rules.errors import EngineFault
from rules.model import Clause, Fires, Limit, Rule, Scaled
from rules.rulebook import Rulebook
from rules.situation import Situation, side_of, spot_of

__all__ = ["KNOWN_PREFIX", "FactShape", "Reading", "Term", "guard_factor", "known_field", "term_of"]

KNOWN_PREFIX: Final = "known_"
_NAIL: Final = re.compile(r"nail:(medial|lateral):[1-9][0-9]?")


class Reading(NamedTuple):
    """One thing read or computed at one place: a number with its standard uncertainty ``u``, or a closed word.

    ``place`` is a place of the rulebook or ``nail:<side>:<hole>``; numbers are in the quantity's own unit.  ``where``
    says in words where at the place, and ``about`` which quantity a cross-check compares; the engine sees neither.
    """

    quantity: str
    place: str
    value: float | str
    u: float = 0.0
    where: str = ""
    about: str = ""


@dataclass(frozen=True, slots=True)
class Term:
    """One way in which rules look at a number: the value itself or less a multiple of a dimension, plain or bounded.

    ``bound`` is "" for the value itself, "low" or "high" for the end of its interval at the guarded level.
    """

    quantity: str
    times: float
    of: str | None
    bound: str

    @property
    def field(self) -> str:
        """The name of the fact's field, such as ``length_less_2_shoe_thickness``."""
        # In full, so that two multiples never share a field; a dot would mean a field within a field.
        times = repr(self.times).removesuffix(".0").replace(".", "p")
        scaled = f"_less_{times}_{self.of}" if self.of else ""
        return f"{self.quantity}{scaled}{'_' + self.bound if self.bound else ''}"


def known_field(dimension: str) -> str:
    """The field that says whether a dimension that limits follow is known: yes or no."""
    return f"{KNOWN_PREFIX}{dimension}"


def term_of(quantity: str, limit: Limit, fires: Fires, end: str) -> tuple[Term, float]:
    """The term that ``limit`` is compared with, and the plain number that is left of the limit.

    ``end`` is "low" for a rule that fires below its limit, "high" for one that fires above.
    """
    bound = end if fires == "guarded" else ""
    if isinstance(limit, Scaled):
        return Term(quantity, limit.times, limit.of, bound), limit.plus
    return Term(quantity, 0.0, None, bound), limit


@lru_cache(maxsize=64)
def guard_factor(probability: float) -> float:
    """How many standard uncertainties before a limit a guarded rule fires, for a least ``probability`` beyond it.

    The one-sided normal quantile of JCGM 106:2012.

    >>> round(guard_factor(0.05), 4)
    1.6449
    """
    return NormalDist().inv_cdf(1 - probability)


def _no_such_nail(place: str) -> bool:
    """A nail without branch and hole would be judged as standing on neither side, so on no side's limits."""
    return spot_of(place) == "nail" and _NAIL.fullmatch(place) is None


class _Entry(NamedTuple):
    """One field that a number becomes: its name and how it is reckoned."""

    field: str
    times: float
    of: str | None
    bound: float
    """How many standard uncertainties the entry is moved by."""


class _Plan(NamedTuple):
    """What becomes of a reading of one quantity at one kind of place."""

    words: frozenset[str] | None
    """The words that it may be; None for a number."""
    told: frozenset[str]
    """Of the words, those that any pattern names; no other can make a rule fire."""
    entries: tuple[_Entry, ...]


class FactShape:
    """Which fields a rulebook's rules look at, and how readings become facts with these fields.

    ``looked_at`` says for each kind of place which fields, and which words of a field, any pattern names there; a
    field or word that none names cannot make a rule fire and is left out.  Without it every field is told.
    """

    def __init__(self, book: Rulebook, looked_at: Mapping[str, Mapping[str, frozenset[str]]] | None = None) -> None:
        self._book = book
        self._looked_at = looked_at
        self._k = guard_factor(book.levels["guarded"].probability)
        self._terms: dict[str, set[Term]] = {}
        for rule in book.rules.values():
            self._note(rule.quantity, rule)
        for joined in book.joined.values():
            for clause in joined.when:
                if clause.reading is not None:
                    self._note(clause.reading, clause)
        self.dimensions = tuple(sorted({term.of for terms in self._terms.values() for term in terms if term.of}))
        """The dimensions that limits of this book follow."""
        self._plans: dict[tuple[str, str], _Plan] = {}
        self._frames: dict[tuple[Situation, str], Fact] = {}

    def _note(self, quantity: str, limited: Rule | Clause) -> None:
        terms = self._terms.setdefault(quantity, {Term(quantity, 0.0, None, "")})
        for end, limit in (("low", limited.low), ("high", limited.high)):
            if limit is not None and limited.fires is not None:
                terms.add(term_of(quantity, limit, limited.fires, end)[0])

    def facts(self, situation: Situation, readings: Iterable[Reading]) -> list[Fact]:
        """One fact for each place at which a reading is told.

        Raises EngineFault for a reading that the rulebook does not know, that is not finite or that stands twice: the
        caller must not send it, and it must not be dropped in silence.
        """
        readings = list(readings)
        table = {(item.quantity, item.place): item for item in readings}
        if len(table) < len(readings):
            raise _twice(readings)
        numbers = {name: table[name, "foot"] for name in self.dimensions if (name, "foot") in table}
        by_place: dict[str, Fact] = {}
        plans, infinite = self._plans, math.inf
        for key, reading in table.items():
            plan = plans.get(key)
            if plan is None:
                plan = plans[key] = self._plan(reading)
            value = reading.value
            if isinstance(value, str):
                if plan.words is None or value not in plan.words:
                    raise _unfit(reading)
                if value in plan.told:
                    self._fact(by_place, situation, reading.place, numbers)[reading.quantity] = value
            else:
                if plan.words is not None or not (-infinite < value < infinite and 0 <= reading.u < infinite):
                    raise _unfit(reading)
                if plan.entries:
                    fact = self._fact(by_place, situation, reading.place, numbers)
                    _tell(fact, plan.entries, value, reading.u, numbers)
        return list(by_place.values())

    def _fact(
        self, by_place: dict[str, Fact], situation: Situation, place: str, numbers: Mapping[str, Reading]
    ) -> Fact:
        fact = by_place.get(place)
        if fact is None:
            fact = by_place[place] = self._frame(situation, place, numbers)
        return fact

    def _plan(self, reading: Reading) -> _Plan:
        quantity, spot = self._book.quantities.get(reading.quantity), spot_of(reading.place)
        if quantity is None or spot not in quantity.places or _no_such_nail(reading.place):
            raise EngineFault(f"the rulebook knows no {reading.quantity} at {reading.place}")
        named = None if self._looked_at is None else self._looked_at.get(spot, {})
        if quantity.vocabulary:
            words = frozenset(quantity.vocabulary)
            return _Plan(words, words if named is None else words & named.get(reading.quantity, frozenset()), ())
        shifts = {"": 0.0, "low": -self._k, "high": self._k}
        terms = sorted(self._terms.get(reading.quantity, ()), key=lambda term: term.field)
        return _Plan(
            None,
            frozenset(),
            tuple(
                _Entry(term.field, term.times, term.of, shifts[term.bound])
                for term in terms
                if named is None or term.field in named
            ),
        )

    def _frame(self, situation: Situation, place: str, numbers: Mapping[str, Reading]) -> Fact:
        """The fact of a place before its readings: where it is, and what holds there that any pattern names."""
        key = (situation, place)
        frame = self._frames.get(key)
        if frame is None:
            frame = self._frames[key] = self._new_frame(situation, place)
        fact = dict(frame)
        named = None if self._looked_at is None else self._looked_at.get(spot_of(place), {})
        for name in self.dimensions:
            if named is None or known_field(name) in named:
                fact[known_field(name)] = "yes" if name in numbers else "no"
        return fact

    def _new_frame(self, situation: Situation, place: str) -> Fact:
        spot = spot_of(place)
        context: dict[str, str] = {
            "spot": spot,
            "side": side_of(place) or "none",
            "foot": situation.foot,
            "stage": situation.stage,
            "work": situation.work,
            "hoof_form": situation.hoof_form,
            "hot_fitted": situation.hot_fitted,
        }
        named = None if self._looked_at is None else self._looked_at.get(spot, {})
        told = {key: word for key, word in context.items() if named is None or word in named.get(key, frozenset())}
        return {"kind": "place", "place": place, **told}


def _tell(
    fact: Fact, entries: tuple[_Entry, ...], reading: float, reading_u: float, numbers: Mapping[str, Reading]
) -> None:
    """Put a number into a fact, in each of the ways in which rules look at it."""
    for entry in entries:
        value, u = reading, reading_u
        if entry.of is not None:
            dimension = numbers.get(entry.of)
            if dimension is None:
                continue
            value -= entry.times * float(dimension.value)
            u = math.hypot(u, entry.times * dimension.u)
        fact[entry.field] = millionths(value + entry.bound * u if entry.bound else value)


def _twice(readings: list[Reading]) -> EngineFault:
    seen: set[tuple[str, str]] = set()
    for reading in readings:
        if (reading.quantity, reading.place) in seen:
            return EngineFault(f"two readings of {reading.quantity} at {reading.place}")
        seen.add((reading.quantity, reading.place))
    raise ValueError("no reading stands twice")


def _unfit(reading: Reading) -> EngineFault:
    if not isinstance(reading.value, str) and not 0 <= reading.u < math.inf:
        return EngineFault(f"the uncertainty of {reading.quantity} is not a number from nought up")
    if not isinstance(reading.value, str) and not math.isfinite(reading.value):
        return EngineFault(f"a reading of {reading.quantity} is not finite")
    return EngineFault(f"a reading of {reading.quantity} is not one of its words or numbers")
