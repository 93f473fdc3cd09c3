"""What the engine is told: one fact for each place of the foot, holding all that was read there."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from typing import Final, NamedTuple

from rules.engine.durable import Fact
from rules.engine.in_force import intern
from rules.engine.prefilter import Prefilter
from rules.engine.reading import Reading, Table, table_of
from rules.errors import EngineFault
from rules.limits import (
    EVEN_CHANCE,
    MICRO,
    Outside,
    Term,
    bar_field,
    guard_factor,
    known_field,
    millionths,
    outside_of,
    term_of,
)
from rules.model.records import Clause, Rule
from rules.rulebook import Rulebook
from rules.situation import Situation, side_of, spot_of

__all__ = ["FactShape", "PlaceFact", "groups_of"]

_NAIL: Final = re.compile(r"nail:(medial|lateral):[1-9][0-9]?")


def _no_such_nail(place: str) -> bool:
    """A nail without branch and hole would be judged as standing on neither side, so on no side's limits."""
    return spot_of(place) == "nail" and _NAIL.fullmatch(place) is None


class _Entry(NamedTuple):
    """One field that a number becomes: its name and how it is computed."""

    field: str
    times: float
    of: str | None
    bound: float
    """How many standard uncertainties the entry is moved by."""
    low: float
    high: float
    """Strictly between these, in whole millionths, the entry passes no limit."""


_Quiet = tuple[frozenset[str], float, float, float, float, float]
"""Where a reading stirs no rule, told at a glance: words that are silent, or a range, and then one for guarded bounds.

``(silent, low, high, reach, guarded_low, guarded_high)``: a number is quiet strictly between ``low`` and ``high``, in
its own unit, while it lies ``reach`` standard uncertainties and more inside the other two.  Plain tuples, here and in
:mod:`rules.engine.in_force`, since Python takes apart no other as quickly, and this is done for every reading.
"""


_Sizes = Mapping[str, tuple[float, float]]
"""Each dimension that limits follow and that is known, with its standard uncertainty."""


class _Plan(NamedTuple):
    """What becomes of a reading of one quantity at one place in one situation."""

    words: frozenset[str] | None
    """The words that it may be; None for a number."""
    fact_words: frozenset[str]
    """Of the words, those that any pattern names; no other can make a rule fire."""
    stirring: frozenset[str]
    """Of these, those that a rule may fire on; the rest only accompany other facts of the place."""
    entries: tuple[_Entry, ...]
    outside: tuple[Outside, ...]
    """For a book that judges by chance: the ranges that the number may lie outside of."""
    quiet: _Quiet
    beside: bool
    """Whether joined rules read it, so that it is told wherever anything stirs a rule."""
    group: str
    """The group of the rules that judge it."""

    def fields(self, reading: Reading, sizes: _Sizes) -> tuple[Fact, bool]:
        """What the engine gets of a reading, and whether it can fire a rule by itself."""
        value = reading.value
        if isinstance(value, str):
            return {reading.quantity: value} if value in self.fact_words else {}, value in self.stirring
        fact: Fact = {}
        stirs = False
        for field, times, of, bound, low, high in self.entries:
            shifted, u = value, reading.u
            if of is not None:
                if of not in sizes:
                    continue
                size, its_u = sizes[of]
                shifted -= times * size
                u = math.hypot(u, times * its_u)
            plain = fact[field] = millionths(shifted + bound * u if bound else shifted)
            stirs = stirs or not low < plain < high
        for each in self.outside:
            chance = each.chance(value, reading.u, sizes)
            if chance is not None:
                fact[each.field] = chance
                stirs = stirs or chance > EVEN_CHANCE
        return fact, stirs


_Glance = tuple[frozenset[str], float, float, float, float, float, _Plan]
"""What is looked at for every reading: its :data:`_Quiet`, and its :class:`_Plan` for one that is not quiet."""


class PlaceFact(NamedTuple):
    """What the engine is told of one place, and who is to hear it."""

    fact: Fact
    stirs: set[str]
    """The groups of single rules, by :func:`groups_of`, of which any may fire on it."""


def groups_of(book: Rulebook) -> Mapping[str, str]:
    """For each quantity the group of rules that judges it.

    Rules of one criterion are one group, and so are criteria where a rule of one looks at words of the other: what is
    found in a group rests on that group's readings alone, at one place.
    """
    group = {name: book.criterion_of.get(name, "") for name in book.quantities}
    for rule in book.rules.values():
        for companion in rule.with_ or ():
            one, other = group[rule.quantity], group[companion]
            if one != other:
                group = {name: one if owner == other else owner for name, owner in group.items()}
    return group


class FactShape:
    """Which fields a rulebook's rules look at, and how readings become facts with these fields.

    ``looked_at`` says for each kind of place which fields, and which words of a field, any pattern names there; a
    field or word that none names cannot make a rule fire and is left out, and so is a reading that can stir no rule
    (see :mod:`rules.engine.facts`).  Without it everything is told.
    """

    def __init__(self, book: Rulebook, looked_at: Mapping[str, Mapping[str, frozenset[str]]] | None = None) -> None:
        self._book = book
        self._looked_at = looked_at
        self._prefilter = None if looked_at is None else Prefilter(book)
        self._k = guard_factor(book.levels["guarded"].probability)
        self._terms: dict[str, set[Term]] = {}
        self._outside: dict[str, list[Outside]] = {}
        for rule_id, rule in book.rules.items():
            self._note(rule.quantity, rule)
            outside = outside_of(rule_id, rule) if book.judges.by_chance else None
            if outside is not None:
                self._outside.setdefault(rule.quantity, []).append(outside)
        for joined in book.joined.values():
            for clause in joined.when:
                if clause.reading is not None:
                    self._note(clause.reading, clause)
        self.dimensions = tuple(sorted({term.of for terms in self._terms.values() for term in terms if term.of}))
        """The dimensions that limits of this book follow."""
        self._group_of = groups_of(book)
        bars = dict.fromkeys(bar for rule in book.rules.values() for bar in (rule.without or {}).items())
        self._bars = tuple((bar_field(*bar), *bar) for bar in bars)
        self._known = tuple((name, known_field(name)) for name in self.dimensions)
        self._plans: dict[Situation, dict[tuple[str, str], _Glance]] = {}
        self._companions: dict[Situation, dict[tuple[str, str], _Plan]] = {}
        self._frames: dict[tuple[Situation, str], Fact] = {}

    def _note(self, quantity: str, limited: Rule | Clause) -> None:
        terms = self._terms.setdefault(quantity, {Term(quantity, 0.0, None, "")})
        for end, limit in (("low", limited.low), ("high", limited.high)):
            if limit is not None and limited.fires is not None:
                terms.add(term_of(quantity, limit, limited.fires, end)[0])

    def facts(self, situation: Situation, readings: Iterable[Reading] | Table) -> list[Fact]:
        """The facts of :meth:`place_facts` alone."""
        return [each.fact for each in self.place_facts(situation, readings)]

    def place_facts(self, situation: Situation, readings: Iterable[Reading] | Table) -> list[PlaceFact]:
        """One fact for each place at which a reading is told.

        Raises EngineFault for a reading that the rulebook does not know, that is not finite or that stands twice: the
        caller must not send it, and it must not be dropped in silence.
        """
        table = readings if isinstance(readings, dict) else table_of(readings)
        loud = self._loud(situation, table)
        if not loud:
            return []
        sizes = {
            name: (float(table[name, "foot"].value), table[name, "foot"].u)
            for name in self.dimensions
            if (name, "foot") in table
        }
        by_place: dict[str, PlaceFact] = {}
        for plan, reading in loud:
            _refuse_unfit(reading, plan)
            fields, stirs = plan.fields(reading, sizes)
            if stirs:
                heard = self._place_fact(by_place, situation, reading.place, sizes)
                heard.fact.update(fields)
                heard.stirs.add(plan.group)
        if by_place:
            self._tell_companions(by_place, situation, table, sizes)
            for place, heard in by_place.items():
                self._tell_bars(heard.fact, place, table)
        return list(by_place.values())

    def _tell_companions(
        self, by_place: dict[str, PlaceFact], situation: Situation, table: Table, sizes: _Sizes
    ) -> None:
        """What stirs nothing by itself matters beside what does: joined rules look at it, or limits at that place."""
        for (quantity, place), plan in self._companions[situation].items():
            reading = table.get((quantity, place))
            if reading is not None and (plan.beside or place in by_place):
                fields, _ = plan.fields(reading, sizes)
                if fields:
                    self._place_fact(by_place, situation, place, sizes).fact.update(fields)

    def _tell_bars(self, fact: Fact, place: str, table: Table) -> None:
        """Say in the fact of ``place`` what was read that keeps rules silent there, as far as any pattern asks."""
        named = self._named(place)
        for field, quantity, words in self._bars:
            if named is None or field in named:
                read = table.get((quantity, place)) or table.get((quantity, "foot"))
                fact[field] = "yes" if read is not None and (not words or read.value in words) else "no"

    def _loud(self, situation: Situation, table: Table) -> list[tuple[_Plan, Reading]]:
        """The readings that may stir a rule, with what becomes of them.

        Most lie well within every limit and are done with at a glance, so the loop calls nothing that it need not:
        that saves a tenth of an assessment (benchmark simplicity).
        """
        known, infinite = self._plans.setdefault(situation, {}), math.inf
        companions = self._companions.setdefault(situation, {})
        loud = []
        for key, reading in table.items():
            glance = known.get(key)
            if glance is None:
                plan = self._plan(situation, reading)
                glance = known[intern(self._book, key)] = intern(self._book, (*plan.quiet, plan))
                if plan.beside or plan.fact_words:
                    companions[key] = plan
            silent, low, high, reach, guarded_low, guarded_high, plan = glance
            _, _, value, u, _, _ = reading
            if isinstance(value, str):
                if value in silent:
                    continue
            elif (
                low < value < high
                and 0 <= u < infinite
                and (not reach or (guarded_low < value - reach * u and value + reach * u < guarded_high))
            ):
                continue
            loud.append((plan, reading))
        return loud

    def _place_fact(self, by_place: dict[str, PlaceFact], situation: Situation, place: str, sizes: _Sizes) -> PlaceFact:
        known = by_place.get(place)
        if known is None:
            known = by_place[place] = PlaceFact(self._frame(situation, place, sizes), set())
        return known

    def _plan(self, situation: Situation, reading: Reading) -> _Plan:
        quantity, spot = self._book.quantities.get(reading.quantity), spot_of(reading.place)
        if quantity is None or spot not in quantity.places or _no_such_nail(reading.place):
            raise EngineFault(f"the rulebook knows no {reading.quantity} at {reading.place}")
        named, group = self._named(reading.place), self._group_of[reading.quantity]
        window = None if self._prefilter is None else self._prefilter.window(situation, reading.quantity, reading.place)
        always = window is None or window.always
        beside = window is not None and window.beside
        if quantity.vocabulary:
            words = frozenset(quantity.vocabulary)
            fact_words = words if named is None else words & named.get(reading.quantity, frozenset())
            stirring = fact_words if window is None or always else fact_words & window.words
            return _Plan(words, fact_words, stirring, (), (), _never_quiet(words - stirring), beside, group)
        shifts = {"": 0.0, "low": -self._k, "high": self._k}
        ends = {} if window is None else window.ends
        # Nothing lies above infinity: what is always told is told wherever it lies.
        within = (math.inf, math.inf) if always else (-math.inf, math.inf)
        entries = tuple(
            _Entry(
                term.field,
                term.times,
                term.of,
                shifts[term.bound],
                *(within if always else ends.get(term.field, within)),
            )
            for term in sorted(self._terms.get(reading.quantity, ()), key=lambda term: term.field)
            if named is None or term.field in named
        )
        outside = tuple(
            each for each in self._outside.get(reading.quantity, ()) if named is None or each.field in named
        )
        return _Plan(None, frozenset(), frozenset(), entries, outside, _quiet(entries, outside), beside, group)

    def _named(self, place: str) -> Mapping[str, frozenset[str]] | None:
        """The fields, and words of them, that patterns on facts of ``place`` name; None where all is told."""
        return None if self._looked_at is None else self._looked_at.get(spot_of(place), {})

    def _frame(self, situation: Situation, place: str, sizes: _Sizes) -> Fact:
        """The fact of a place before its readings: where it is, and what holds there that any pattern names."""
        key = (situation, place)
        frame = self._frames.get(key)
        if frame is None:
            frame = self._frames[key] = self._new_frame(situation, place)
        fact = dict(frame)
        named = self._named(place)
        for name, field in self._known:
            if named is None or field in named:
                fact[field] = "yes" if name in sizes else "no"
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
            "stance": situation.stance,
        }
        named = self._named(place)
        fact_words = {
            key: word for key, word in context.items() if named is None or word in named.get(key, frozenset())
        }
        return {"kind": "place", "place": place, **fact_words}


def _quiet(entries: tuple[_Entry, ...], outside: tuple[Outside, ...]) -> _Quiet:
    if any(entry.of is not None and (entry.low > -math.inf or entry.high < math.inf) for entry in entries):
        return _never_quiet()
    plain = _narrowest([entry for entry in entries if not entry.bound])
    reach = max((abs(entry.bound) for entry in entries), default=0.0)
    if not outside:
        return (frozenset(), *plain, reach, *_narrowest([entry for entry in entries if entry.bound]))
    # One standard uncertainty inside both ends the chance of lying outside is under a third.
    return (frozenset(), *plain, max(reach, 1.0), *_narrowest(list(entries)))


def _never_quiet(silent: frozenset[str] = frozenset()) -> _Quiet:
    """No number is quiet, and no word but the ``silent`` ones."""
    return (silent, math.inf, -math.inf, 0.0, math.inf, -math.inf)


def _narrowest(entries: list[_Entry]) -> tuple[float, float]:
    """The range that all entries leave quiet, narrower by one millionth more than any rounding."""
    low = max((entry.low for entry in entries), default=-math.inf)
    high = min((entry.high for entry in entries), default=math.inf)
    return (low + 1) / MICRO, (high - 1) / MICRO


def _refuse_unfit(reading: Reading, plan: _Plan) -> None:
    value = reading.value
    fit = (
        plan.words is not None and value in plan.words
        if isinstance(value, str)
        else plan.words is None and -math.inf < value < math.inf and 0 <= reading.u < math.inf
    )
    if not fit:
        raise _unfit(reading)


def _unfit(reading: Reading) -> EngineFault:
    if not isinstance(reading.value, str) and not 0 <= reading.u < math.inf:
        return EngineFault(f"the uncertainty of {reading.quantity} is not a number from nought up")
    if not isinstance(reading.value, str) and not math.isfinite(reading.value):
        return EngineFault(f"a reading of {reading.quantity} is not finite")
    return EngineFault(f"a reading of {reading.quantity} is not one of its words or numbers")
