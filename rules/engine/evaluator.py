"""Both layers of a rulebook run over one foot: single limits first, then the findings that join others."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from threading import Lock
from typing import Any, NamedTuple

from rules.engine.compiler import KINDS, PatternFields, joined_patterns, pattern_fields, single_pattern
from rules.engine.durable import Action, Engine, Fact, Match
from rules.engine.facts import FactShape, groups_of
from rules.engine.reading import Reading, Table
from rules.rulebook import Rulebook
from rules.situation import Situation, side_of, spot_of

__all__ = ["Evaluator", "Firing", "Found", "evaluator_for"]

_JOINED = None
"""Where the engine of the joined rules stands among those of the groups."""
_CONTEXT = ("foot", "stage", "work", "hoof_form", "hot_fitted", "stance")


class Found(NamedTuple):
    """What a joined finding rests on: a finding (``rule`` at ``place``) or a reading (``quantity`` at ``place``)."""

    name: str
    place: str

    def __str__(self) -> str:
        return f"{self.name}@{self.place}"


class Firing(NamedTuple):
    """One rule that fired at one place; ``bases`` are the sets of things that each firing of it rested on."""

    rule: str
    place: str
    bases: tuple[tuple[Found, ...], ...] = ()

    @property
    def rests_on(self) -> tuple[Found, ...]:
        """All that the firing rests on, each once, in the order found."""
        return tuple(dict.fromkeys(found for basis in self.bases for found in basis))


class Evaluator:
    """A rulebook compiled for the engine.  Compile once per process: see :func:`evaluator_for`."""

    def __init__(self, book: Rulebook) -> None:
        self.book = book
        self._fired: dict[tuple[str, str], list[tuple[Found, ...]]] = {}
        self._joined_rules = {
            name for joined in book.joined.values() for clause in joined.when for name in clause.findings or ()
        }
        single = {rule_id: single_pattern(book, rule_id) for rule_id in book.rules}
        joined_ones = {rule_id: joined_patterns(book, rule_id) for rule_id in book.joined}
        self.shape = FactShape(book, _fields_in_use(book, single, joined_ones))
        self._of_findings = pattern_fields(
            pattern for patterns in joined_ones.values() for one in patterns for pattern in one.values()
        )
        self._situation: Situation | None = None
        self._single = _by_group(book, single, self._of_single)
        self._joined = {rule_id: (patterns, self._of_joined(rule_id)) for rule_id, patterns in joined_ones.items()}
        self._engines: dict[str | None, Engine] = {}
        self._order = {rule_id: number for number, rule_id in enumerate((*single, *joined_ones))}
        self._lock = Lock()

    def compile(self) -> None:
        """Register every group of rules now; else each is when it is first told of anything.

        Raises EngineFault where the engine refuses one.
        """
        with self._lock:
            for group in (*self._single, _JOINED):
                self._engine(group)

    def evaluate(self, situation: Situation, readings: Iterable[Reading] | Table) -> list[Firing]:
        """Every rule that fires on ``readings`` in ``situation``, in the rulebook's order, single rules first.

        None does at a stage that the book does not judge.

        Raises EngineFault when the engine did not finish properly; there is no partial result.
        """
        if situation.stage not in self.book.judges.stages:
            return []
        place_facts = self.shape.place_facts(situation, readings)
        with self._lock:
            self._fired, self._situation = {}, situation
            for group in self._single:
                heard = [each.fact for each in place_facts if group in each.stirs]
                if heard:
                    self._engine(group).run(heard)
            # Joined rules run for a good foot too, so that an engine that fails is seen to.
            findings = [self._finding(rule, place) for rule, place in self._fired if rule in self._joined_rules]
            self._engine(_JOINED).run([*(each.fact for each in place_facts), *findings])
            fired = [Firing(rule, place, tuple(bases)) for (rule, place), bases in self._fired.items()]
        return sorted(fired, key=lambda firing: (self._order[firing.rule], firing.place))

    def _engine(self, group: str | None) -> Engine:
        """The engine of one group of single rules, or of the joined ones.

        The library makes room for every rule of a ruleset in every run: 305 rules in one took 170 µs for each foot, the
        joined ones alone take 20 µs, and a group 22 µs where it is told of anything.
        """
        engine = self._engines.get(group)
        if engine is None:
            definitions, kinds = (self._joined, KINDS) if group is _JOINED else (self._single[group], KINDS[:1])
            engine = self._engines[group] = Engine(definitions, kinds)
        return engine

    def _of_single(self, rule_id: str) -> Action:
        def act(match: Match) -> Iterable[Fact]:
            self._keep(rule_id, str(match["here"]["place"]), ())
            return ()

        return act

    def _of_joined(self, rule_id: str) -> Action:
        joined = self.book.joined[rule_id]
        readings: list[str | None] = [clause.reading for clause in joined.when]
        of_first = joined.place == "of_first"

        def act(match: Match) -> Iterable[Fact]:
            basis = []
            for number, reading in enumerate(readings):
                fact = match[f"c{number}"]
                basis.append(Found(reading or str(fact["rule"]), str(fact["place"])))
            place = basis[0].place if of_first else "foot"
            new = self._keep(rule_id, place, tuple(basis))
            return [self._finding(rule_id, place)] if new and rule_id in self._joined_rules else ()

        return act

    def _keep(self, rule_id: str, place: str, basis: tuple[Found, ...]) -> bool:
        """Keep a firing; whether it is the rule's first there."""
        known = self._fired.get((rule_id, place))
        if known is None:
            self._fired[rule_id, place] = [basis] if basis else []
            return True
        # The engine fires once for each part of an 'or' that holds, on the same things.
        if basis and basis not in known:
            known.append(basis)
        return False

    def _finding(self, rule_id: str, place: str) -> Fact:
        """What joined rules are told of a finding."""
        context = {"spot": spot_of(place), "side": side_of(place) or "none"}
        for key in _CONTEXT:
            context[key] = getattr(self._situation, key)
        fact_words = {key: word for key, word in context.items() if word in self._of_findings.get(key, ())}
        return {"kind": "finding", "rule": rule_id, "place": place, **fact_words}


_Definitions = dict[str, tuple[list[dict[str, Any]], Action]]


def _by_group(
    book: Rulebook, single: Mapping[str, dict[str, Any]], action_of: Callable[[str], Action]
) -> dict[str, _Definitions]:
    """The single rules as the engine takes them, group by group."""
    group_of = groups_of(book)
    groups: dict[str, _Definitions] = {}
    for rule_id, pattern in single.items():
        group = groups.setdefault(group_of[book.rules[rule_id].quantity], {})
        group[rule_id] = ([{"here": pattern}], action_of(rule_id))
    return groups


def _fields_in_use(
    book: Rulebook, single: Mapping[str, dict[str, Any]], joined: Mapping[str, list[dict[str, Any]]]
) -> dict[str, PatternFields]:
    """For each kind of place what the patterns on its facts name."""
    patterns: dict[str, list[dict[str, Any]]] = {}
    for rule_id, pattern in single.items():
        for spot in book.places_of(book.rules[rule_id]):
            patterns.setdefault(spot, []).append(pattern)
    for rule_id, clauses in joined.items():
        for clause, aliased in zip(book.joined[rule_id].when, clauses, strict=True):
            if clause.reading is not None:
                patterns.setdefault(clause.at or "", []).extend(aliased.values())
    return {spot: pattern_fields(named) for spot, named in patterns.items()}


_evaluators: dict[str, Evaluator] = {}
_compiling = Lock()


def evaluator_for(book: Rulebook) -> Evaluator:
    """The one evaluator of ``book`` (by its digest) in this process: registering never gives memory back."""
    with _compiling:
        if book.digest not in _evaluators:
            _evaluators[book.digest] = Evaluator(book)
        return _evaluators[book.digest]
