"""What the engine is told: one fact for each place of the foot, holding all that was read there."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist
from typing import Final

from rules.engine import Fact, millionths
from rules.errors import EngineFault
from rules.model import Clause, Fires, Limit, Rule, Scaled
from rules.rulebook import Rulebook
from rules.situation import Situation, side_of, spot_of

__all__ = ["KNOWN_PREFIX", "FactShape", "Reading", "Term", "guard_factor", "known_field", "term_of"]

KNOWN_PREFIX: Final = "known_"
_NAIL: Final = re.compile(r"nail:(medial|lateral):[1-9][0-9]?")


@dataclass(frozen=True, slots=True)
class Reading:
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


class FactShape:
    """Which fields a rulebook's rules look at, and how readings become facts with these fields."""

    def __init__(self, book: Rulebook) -> None:
        self._book = book
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

    def _note(self, quantity: str, limited: Rule | Clause) -> None:
        terms = self._terms.setdefault(quantity, {Term(quantity, 0.0, None, "")})
        for end, limit in (("low", limited.low), ("high", limited.high)):
            if limit is not None and limited.fires is not None:
                terms.add(term_of(quantity, limit, limited.fires, end)[0])

    def facts(self, situation: Situation, readings: Iterable[Reading]) -> list[Fact]:
        """One fact for each place that has a reading.

        Raises EngineFault for a reading that the rulebook does not know, that is not finite or that stands twice: the
        caller must not send it, and it must not be dropped in silence.
        """
        readings = list(readings)
        numbers = {item.quantity: item for item in readings if item.place == "foot" and not isinstance(item.value, str)}
        known: dict[str, int | str] = {
            known_field(name): "yes" if name in numbers else "no" for name in self.dimensions
        }
        by_place: dict[str, Fact] = {}
        seen: set[tuple[str, str]] = set()
        for reading in readings:
            self._refuse_unknown(reading, seen)
            fact = by_place.get(reading.place)
            if fact is None:
                fact = by_place[reading.place] = self._frame(situation, reading.place) | known
            if isinstance(reading.value, str):
                fact[reading.quantity] = reading.value
            else:
                for term in self._terms.get(reading.quantity, ()):
                    entry = self._entry(term, reading.value, reading.u, numbers)
                    if entry is not None:
                        fact[term.field] = entry
        return list(by_place.values())

    def _refuse_unknown(self, reading: Reading, seen: set[tuple[str, str]]) -> None:
        quantity = self._book.quantities.get(reading.quantity)
        if quantity is None or spot_of(reading.place) not in quantity.places or _no_such_nail(reading.place):
            raise EngineFault(f"the rulebook knows no {reading.quantity} at {reading.place}")
        if (reading.quantity, reading.place) in seen:
            raise EngineFault(f"two readings of {reading.quantity} at {reading.place}")
        seen.add((reading.quantity, reading.place))
        words = quantity.vocabulary
        if isinstance(reading.value, str) != bool(words) or (words and reading.value not in words):
            raise EngineFault(f"a reading of {reading.quantity} is not one of its words or numbers")
        if not 0 <= reading.u < math.inf:
            raise EngineFault(f"the uncertainty of {reading.quantity} is not a number from nought up")

    def _entry(self, term: Term, value: float, u: float, numbers: Mapping[str, Reading]) -> int | None:
        if term.of is not None:
            dimension = numbers.get(term.of)
            if dimension is None:
                return None
            value -= term.times * float(dimension.value)
            u = math.hypot(u, term.times * dimension.u)
        shift = {"": 0.0, "low": -self._k * u, "high": self._k * u}[term.bound]
        return millionths(value + shift)

    def _frame(self, situation: Situation, place: str) -> Fact:
        return {
            "kind": "place",
            "place": place,
            "spot": spot_of(place),
            "side": side_of(place) or "none",
            "foot": situation.foot,
            "stage": situation.stage,
            "work": situation.work,
            "hoof_form": situation.hoof_form,
            "hot_fitted": situation.hot_fitted,
        }
