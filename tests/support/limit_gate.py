"""The gate over the table of cases: what of a rulebook's limits no case tries."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from rules import Rulebook
from rules.model.records import Clause, Context, Rule, Scaled
from rules.situation import VOCABULARY, admits, side_of
from tests.support.limit_cases import Case, beyond, ends_of, limit_at, read_by

__all__ = ["gaps", "gaps_of"]


def gaps(book: Rulebook, cases: Sequence[Case]) -> list[str]:
    """Everything about the book's rules that no case tries, as ``rule: gap``; empty when all is tried.

    A rule must fire and be silent; at every place; below, at and above each end of its limit; inside every word of its
    contexts and outside each key of them; with and without what it looks at as well; and yield to each graver rule.
    A joined rule must fire on each finding that it may rest on, and be silent for want of each clause.
    """
    return [f"{rule_id}: {gap}" for rule_id in (*book.rules, *book.joined) for gap in gaps_of(rule_id, book, cases)]


def gaps_of(rule_id: str, book: Rulebook, cases: Sequence[Case]) -> list[str]:
    """What no case tries of one rule."""
    tried = _Tried(book, rule_id, cases)
    return [*(tried.single() if rule_id in book.rules else tried.joined())]


class _Tried:
    """What the cases try of one rule."""

    def __init__(self, book: Rulebook, rule_id: str, cases: Sequence[Case]) -> None:
        self.book = book
        self.id = rule_id
        self.cases = cases
        self.own = [case for case in cases if case.rule == rule_id]
        self.firing = [case for case in cases if case.fires(rule_id)]
        self.elsewhere = [case for case in self.own if case.where == "elsewhere"]

    def single(self) -> Iterator[str]:
        """What is untried of a single rule."""
        rule = self.book.rules[self.id]
        places = self.book.places_of(rule)
        if not any(case.reads(rule.quantity) and not case.fires(self.id) for case in self.cases):
            yield "never silent"
        for place in places:
            if not any(case.fires(self.id, place) for case in self.firing):
                yield f"never fires at {place}"
        quantity = self.book.quantities[rule.quantity]
        for place in filter(quantity.judged_at, quantity.places):
            if place not in places and not any((rule.quantity, place) in case.table for case in self.elsewhere):
                yield f"never tried at {place}"
        for word in rule.is_ or ():
            if not any(case.reads(rule.quantity, word) for case in self.firing):
                yield f"never fires on {word}"
        for graver in rule.unless:
            if not any(self._yields(case, rule, graver) for case in self.own):
                yield f"never yields to {graver}"
        yield from self._limit(rule, None)
        yield from self._contexts(rule.applies)
        yield from self._companions(rule)
        yield from self._bars(rule)

    def _yields(self, case: Case, rule: Rule, graver: str) -> bool:
        past = [beyond(self.book, case, rule, reading) for reading in read_by(self.book, case, self.id)]
        return self.id in case.silent and case.fires(graver) and all(past)

    def _limit(self, limited: Rule | Clause, clause: int | None) -> Iterator[str]:
        edge = "guarded" if limited.fires == "guarded" else None
        for end in ends_of(limited):
            at_end = [case for case in self.own if case.end in {None, end} and case.clause == clause]
            name = f"{end} limit" if clause is None else f"{end} limit of clause {clause}"
            for where in ("below", "at", "above"):
                if not any((case.where, case.edge) == (where, edge) for case in at_end):
                    yield f"no case {where} the {name}"
            if edge is not None and not any((case.where, case.edge) == ("at", "bare") for case in at_end):
                yield f"no case at the bare {name}"
            limit = limit_at(limited, end)
            if isinstance(limit, Scaled):
                sizes = [case.table.get((limit.of, "foot")) for case in at_end]
                if len({size.value for size in sizes if size is not None}) < 2:
                    yield f"tried with one {limit.of} only"
                if None not in sizes:
                    yield f"never tried without {limit.of}"

    def _contexts(self, contexts: tuple[Context, ...] | None) -> Iterator[str]:
        """Each word of each context has a case inside; each key has one outside by that key alone."""
        for context in contexts or ():
            for key, words in context.model_dump(exclude_none=True).items():
                for word in words:
                    if not any(self._inside(case, context, key, word) for case in self.firing):
                        yield f"never fires with {key} {word} of {context.model_dump(exclude_none=True)}"
                if not any(self._outside(case, contexts, key) for case in self.elsewhere):
                    yield f"never tried outside its {key}"

    def _inside(self, case: Case, context: Context, key: str, word: str) -> bool:
        places = [place for rule, _, place in (found.partition("@") for found in case.expect) if rule == self.id]
        return any(
            admits((context,), case.situation, side) and (case.situation._asdict() | {"side": side})[key] == word
            for side in map(side_of, places)
        )

    def _outside(self, case: Case, contexts: tuple[Context, ...] | None, key: str) -> bool:
        side = side_of(read_by(self.book, case, self.id)[0].place)
        if admits(contexts, case.situation, side):
            return False
        if key == "side":
            return admits(contexts, case.situation, "medial") or admits(contexts, case.situation, "lateral")
        others: list[dict[str, Any]] = [{key: word} for word in VOCABULARY[key]]
        return any(admits(contexts, case.situation._replace(**other), side) for other in others)

    def _companions(self, rule: Rule) -> Iterator[str]:
        for other, words in (rule.with_ or {}).items():
            for word in self.book.quantities[other].vocabulary:
                cases = self.firing if word in words else self.elsewhere
                if not any(case.reads(other, word) for case in cases):
                    yield f"never tried with {other} {word}"
            if all(case.reads(other) for case in self.elsewhere):
                yield f"never tried without {other}"

    def _bars(self, rule: Rule) -> Iterator[str]:
        for other, words in (rule.without or {}).items():
            for word in words or (None,):
                if not any(case.reads(other, word) and self._past(case, rule) for case in self.elsewhere):
                    yield f"never kept silent by {other}{f' {word}' if word else ''}"

    def _past(self, case: Case, rule: Rule) -> bool:
        return all(beyond(self.book, case, rule, reading) for reading in read_by(self.book, case, self.id))

    def joined(self) -> Iterator[str]:
        """What is untried of a joined rule."""
        joined = self.book.joined[self.id]
        if not self.firing:
            yield "never fires"
        if joined.applies is not None:
            yield "has contexts of its own, which this gate does not look into yet"
        for number, clause in enumerate(joined.when):
            missing = [case for case in self.own if (case.where, case.clause) == ("missing", number)]
            if not missing:
                yield f"never silent for want of clause {number}"
            yield from self._findings(clause)
            for rule_id in clause.clear_of or ():
                if not any(case.fires(rule_id, clause.at) for case in missing):
                    yield f"never silenced by {rule_id}"
            if clause.reading is not None:
                if all((clause.reading, clause.at) in case.table for case in missing):
                    yield f"never silent without {clause.reading}"
                yield from self._limit(clause, number)

    def _findings(self, clause: Clause) -> Iterator[str]:
        names = clause.findings or ()
        for name in names:
            rest = [other for other in names if other != name]
            alone = (
                case.fires(name, clause.at) and not any(case.fires(r, clause.at) for r in rest) for case in self.firing
            )
            if not any(alone):
                yield f"never fires on {name} alone"
