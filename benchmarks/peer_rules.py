"""The rulebook as expressions that any engine without rules on several facts can take, and the facts that they look at.

rule-engine and json-logic evaluate one expression on one fact.  What they leave to the caller is done here for all in
the way that favours them: a fact for each place of the foot; only the rules that look at a quantity are asked where it
was read; the limit, which most often says no, stands first; a second-layer rule is asked only where something that it
names was found.  Numbers are whole millionths, as the rulebook compares them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from statistics import NormalDist
from typing import Any, Final, NamedTuple

from rules import Reading, Rulebook
from rules.model.records import Clause, Context, Limit, Rule, Scaled
from rules.situation import side_of, spot_of

__all__ = ["MILLION", "All", "AnyOf", "Expression", "Fact", "Findings", "Has", "Layers", "Past", "Word", "negated"]

Fact = dict[str, Any]
Findings = set[tuple[str, str]]
"""What was found: (rule, place)."""

MILLION: Final = 1_000_000
_OPPOSITE: Final = {"<": ">=", ">=": "<", ">": "<=", "<=": ">"}


@dataclass(frozen=True, slots=True)
class Past:
    """A number field against a constant; ``operator`` is <, <=, > or >=."""

    field: str
    operator: str
    constant: int


@dataclass(frozen=True, slots=True)
class Word:
    """A word field is (or is not) one of ``words``."""

    field: str
    words: tuple[str, ...]
    is_one: bool = True


@dataclass(frozen=True, slots=True)
class Has:
    """A field that is a set has (or has not) ``name``."""

    field: str
    name: str
    has: bool = True


@dataclass(frozen=True, slots=True)
class All:
    """Every part holds."""

    parts: tuple[Expression, ...]


@dataclass(frozen=True, slots=True)
class AnyOf:
    """Some part holds."""

    parts: tuple[Expression, ...]


Expression = Past | Word | Has | All | AnyOf


def negated(expression: Expression) -> Expression:
    """The expression that holds where ``expression`` does not."""
    match expression:
        case Past(field, operator, constant):
            return Past(field, _OPPOSITE[operator], constant)
        case Word(field, words, is_one):
            return Word(field, words, not is_one)
        case Has(field, name, has):
            return Has(field, name, not has)
        case All(parts):
            return AnyOf(tuple(negated(part) for part in parts))
        case AnyOf(parts):
            return All(tuple(negated(part) for part in parts))


class _Term(NamedTuple):
    """A field made of a reading: its value less ``times`` the dimension ``of``, moved by ``shift`` uncertainties."""

    field: str
    times: float
    of: str | None
    shift: float


class _Second(NamedTuple):
    """A second-layer rule: asked where any of ``names`` was found, of the foot or of each place of the ``first``."""

    rule_id: str
    form: Any
    names: frozenset[str]
    first: frozenset[str] | None
    at: str | None


class Layers:
    """Both layers of ``book`` for an engine that compiles an expression and says whether it holds on a fact.

    What such an engine takes for a collection of names is ``gathered``.
    """

    def __init__(
        self,
        book: Rulebook,
        compile_: Callable[[Expression], Any],
        holds: Callable[[Any, Fact], bool],
        gathered: type[set[str] | list[str]],
    ) -> None:
        self._gathered = gathered
        self._book = book
        self._holds = holds
        self._k = NormalDist().inv_cdf(1 - book.levels["guarded"].probability)
        self._terms: dict[str, list[_Term]] = {}
        self._dimensions: set[str] = set()
        self._asked: dict[tuple[str, str], list[tuple[str, Any]]] = {}
        self._read: dict[tuple[str, str], str] = {}
        self._bars: dict[str, tuple[str, tuple[str, ...]]] = {}
        """What keeps rules silent at a place: field, quantity and its words, all where there are none."""
        for rule_id, rule in book.rules.items():
            form = compile_(self._single(rule))
            for spot in book.places_of(rule):
                self._asked.setdefault((rule.quantity, spot), []).append((rule_id, form))
        self._second = [self._compiled(rule_id, compile_) for rule_id in sorted(book.joined, key=self._depth)]

    def evaluate(self, situation: Mapping[str, str], readings: Iterable[Reading]) -> Findings:
        """Every (rule, place) that is found."""
        readings = list(readings)
        facts = self._facts(situation, readings)
        holds = self._holds
        found: Findings = set()
        for place, (fact, quantities) in facts.items():
            spot = spot_of(place)
            for quantity in quantities:
                for rule_id, form in self._asked.get((quantity, spot), ()):
                    if holds(form, fact):
                        found.add((rule_id, place))
        self._join(situation, readings, found)
        return found

    def _join(self, situation: Mapping[str, str], readings: list[Reading], found: Findings) -> None:
        """Add to ``found`` what the second layer finds."""
        rules = {rule for rule, _ in found}
        whole: Fact | None = None
        for second in self._second:
            if not second.names & rules:
                continue
            whole = whole or self._whole(situation, readings)
            whole["found"] = self._gathered(rules | {f"{rule}@{spot_of(place)}" for rule, place in found})
            if second.first is None:
                places = ["foot"]
            else:
                places = list(
                    {place for rule, place in found if rule in second.first and second.at in {None, spot_of(place)}}
                )
            for place in places:
                whole["here"] = self._gathered(rule for rule, at in found if at == place)
                if self._holds(second.form, whole):
                    found.add((second.rule_id, place))
                    rules.add(second.rule_id)

    def _facts(self, situation: Mapping[str, str], readings: list[Reading]) -> dict[str, tuple[Fact, list[str]]]:
        """A fact for each place, with the quantities read there."""
        sizes = self._sizes(readings)
        frame = self._frame(situation, sizes)
        facts: dict[str, tuple[Fact, list[str]]] = {}
        for reading in readings:
            here = facts.get(reading.place)
            if here is None:
                here = facts[reading.place] = (dict(frame, side=side_of(reading.place) or "none"), [])
            fact, quantities = here
            quantities.append(reading.quantity)
            self._put(fact, reading, sizes)
        if self._bars:
            read = {(reading.quantity, reading.place): reading.value for reading in readings}
            for place, (fact, _) in facts.items():
                for field, (quantity, words) in self._bars.items():
                    value = read.get((quantity, place), read.get((quantity, "foot")))
                    fact[field] = "yes" if value is not None and (not words or value in words) else "no"
        return facts

    def _whole(self, situation: Mapping[str, str], readings: list[Reading]) -> Fact:
        """A fact for the whole foot, with what the second layer looks at."""
        sizes = self._sizes(readings)
        whole = dict(self._frame(situation, sizes), **dict.fromkeys(self._read.values(), "no"))
        for reading in readings:
            known = self._read.get((reading.quantity, reading.place))
            if known is not None:
                whole[known] = "yes"
                self._put(whole, reading, sizes)
        return whole

    def _sizes(self, readings: list[Reading]) -> dict[str, Reading]:
        """The dimensions of the shoe that limits follow."""
        return {
            reading.quantity: reading
            for reading in readings
            if reading.place == "foot" and reading.quantity in self._dimensions
        }

    def _frame(self, situation: Mapping[str, str], sizes: Mapping[str, Reading]) -> Fact:
        return {**situation, **{f"known_{name}": "yes" if name in sizes else "no" for name in self._dimensions}}

    def _put(self, fact: Fact, reading: Reading, sizes: Mapping[str, Reading]) -> None:
        if isinstance(reading.value, str):
            fact[reading.quantity] = reading.value
            return
        for field, times, of, shift in self._terms.get(reading.quantity, ()):
            value, u = reading.value, reading.u
            if of is not None:
                size = sizes.get(of)
                if size is None:
                    continue
                value -= times * float(size.value)
                u = math.hypot(u, times * size.u)
            fact[field] = round((value + shift * u) * MILLION)

    def _single(self, rule: Rule) -> Expression:
        parts = [self._past(rule.quantity, rule), *self._unbarred(rule)]
        parts += [Word(quantity, words) for quantity, words in (rule.with_ or {}).items()]
        parts += _contexts(rule.applies)
        for other in rule.unless:
            graver = self._book.rules[other]
            parts.append(negated(_all([self._past(graver.quantity, graver), *self._unbarred(graver)])))
        return _all(parts)

    def _unbarred(self, rule: Rule) -> list[Expression]:
        """That nothing was read which keeps the rule silent."""
        fields = []
        for quantity, words in (rule.without or {}).items():
            fields.append("_".join(("barred_by", quantity, *words)))
            self._bars[fields[-1]] = quantity, words
        return [Word(field, ("no",)) for field in fields]

    def _past(self, quantity: str, limited: Rule | Clause) -> Expression:
        if isinstance(limited, Rule) and limited.is_ is not None:
            return Word(quantity, limited.is_)
        edge = "=" if isinstance(limited, Rule) and limited.edge else ""
        ends: list[Expression] = []
        for limit, operator, sign in ((limited.low, "<", -1), (limited.high, ">", 1)):
            if limit is not None:
                shift = sign * self._k if limited.fires == "guarded" else 0.0
                ends.append(self._compared(quantity, limit, operator + edge, shift))
        return ends[0] if len(ends) == 1 else AnyOf(tuple(ends))

    def _compared(self, quantity: str, limit: Limit, operator: str, shift: float) -> Expression:
        times, of, plus = (limit.times, limit.of, limit.plus) if isinstance(limit, Scaled) else (0.0, None, limit)
        known = self._terms.setdefault(quantity, [])
        term = next((each for each in known if each[1:] == (times, of, shift)), None)
        if term is None:
            term = _Term(quantity if not known else f"{quantity}_{len(known)}", times, of, shift)
            known.append(term)
        past = Past(term.field, operator, round(plus * MILLION))
        if of is None:
            return past
        self._dimensions.add(of)
        return All((Word(f"known_{of}", ("yes",)), past))

    def _compiled(self, rule_id: str, compile_: Callable[[Expression], Any]) -> _Second:
        joined = self._book.joined[rule_id]
        at_first = joined.place == "of_first"
        parts = [
            self._clause(clause, here=at_first and number == 0) for number, clause in enumerate(joined.when)
        ] + _contexts(joined.applies)
        names = frozenset(name for clause in joined.when for name in clause.findings or ())
        first = frozenset(joined.when[0].findings or ()) if at_first else None
        return _Second(rule_id, compile_(_all(parts)), names, first, joined.when[0].at)

    def _clause(self, clause: Clause, *, here: bool) -> Expression:
        if clause.findings is not None:
            at = f"@{clause.at}" if clause.at and not here else ""
            field = "here" if here else "found"
            return _any(Has(field, f"{name}{at}") for name in clause.findings)
        quantity, place = clause.reading or "", clause.at or ""
        known = self._read.setdefault((quantity, place), f"read_{quantity}_{place}")
        parts: list[Expression] = [Word(known, ("yes",))]
        if clause.clear_of is None:
            parts.append(self._past(quantity, clause))
        else:
            parts += [Has("found", f"{name}@{place}", has=False) for name in clause.clear_of]
        return _all(parts)

    def _depth(self, rule_id: str) -> int:
        names = (name for clause in self._book.joined[rule_id].when for name in clause.findings or ())
        return max((1 + self._depth(name) for name in names if name in self._book.joined), default=0)


def _all(parts: list[Expression]) -> Expression:
    return parts[0] if len(parts) == 1 else All(tuple(parts))


def _any(parts: Iterable[Expression]) -> Expression:
    kept = tuple(parts)
    return kept[0] if len(kept) == 1 else AnyOf(kept)


def _contexts(contexts: tuple[Context, ...] | None) -> list[Expression]:
    if contexts is None:
        return []
    return [
        _any(
            _all([Word(key, words) for key, words in context.model_dump(exclude_none=True).items()])
            for context in contexts
        )
    ]
