"""The same fittings under two rulebooks: which decisions, findings and actions change, and why."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Final, Literal, NamedTuple

from fitcheck.assessment.assess import assess
from fitcheck.assessment.models import Assessment, Decision, Finding, Measurement
from fitcheck.assessment.next_due import INTERVAL_RULE
from fitcheck.errors import BadInput, Problem
from fitcheck.fitting.validation import parse_fitting
from rules import Rulebook
from rules.analysis.difference import Change, Difference, difference
from rules.model.records import Rule, Scaled

__all__ = ["CaseCompared", "Comparing", "FindingChange", "GoneNew", "Outcome", "compare_answers"]

Outcome = Decision | Literal["refused"]
"""What comes of a fitting under one book; refused: it is no valid fitting there, such as for want of an eye word."""

How = Literal["new", "gone", "changed"]

_SEEN: Final = (
    "grade",
    "measured",
    "limit",
    "confidence",
    "finding",
    "action",
    "amount",
    "caution",
    "status",
    "sources",
)
"""What of a finding is looked at; its reason (``why``) is the rulebook's."""

_DECIDE: Final = frozenset(
    {"low", "high", "is", "edge", "fires", "applies", "places", "with", "unless", "when", "grade"}
)
"""Keys of a rule that decide whether it fires, or what comes of it."""

_ORDER: Final = frozenset({"order", "shoe_off", "replaces", "replaces_actions", "grade"})
"""Keys of a rule that decide which actions are told, and in which order."""


class GoneNew(NamedTuple):
    """What was told under the first book only, and what under the second only."""

    gone: tuple[str, ...]
    new: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FindingChange:
    """One finding that is new, gone or not the same; ``why`` names the changes of the book that bear on it."""

    id: str
    how: How
    before: Finding | None
    after: Finding | None
    differs: tuple[str, ...]
    why: tuple[Change, ...]


@dataclass(frozen=True, slots=True)
class CaseCompared:
    """One fitting under both books.

    ``refused`` says why one of the books does not take it; ``order`` has the actions in their new order where that is
    all that changes of them; ``needed`` are fields of the fitting, ``next_due`` the sentence on the next visit;
    ``why`` are the changes of the book that bear on any of it, each once.
    """

    name: str
    before: Outcome
    after: Outcome
    refused: tuple[Problem, ...]
    findings: tuple[FindingChange, ...]
    actions: GoneNew
    order: tuple[str, ...]
    needed: GoneNew
    cautions: GoneNew
    next_due: GoneNew
    why: tuple[Change, ...]

    @property
    def decision_changes(self) -> bool:
        """Whether the two books come to different decisions."""
        return self.before != self.after

    @property
    def changes(self) -> bool:
        """Whether anything that is reported of the foot changes."""
        differences = (*self.actions, self.order, *self.needed, *self.cautions, *self.next_due)
        return self.decision_changes or bool(self.findings) or any(differences)


class Comparing:
    """Compares fittings under ``before`` and ``after``."""

    def __init__(self, before: Rulebook, after: Rulebook) -> None:
        self.difference: Difference = difference(before, after)
        self._before = before
        self._after = after

    def compare(self, name: str, raw: object) -> CaseCompared:
        """Assess the fitting in the parsed JSON document ``raw`` under both.

        Raises BadInput where neither book takes it, and rules.EngineFault where the rules did not run to their end.
        """
        old, new = _assessed(raw, self._before), _assessed(raw, self._after)
        if isinstance(old, BadInput) and isinstance(new, BadInput):
            raise old
        return _compared(name, self.difference, old, new, frozenset(_words(raw)))


def compare_answers(name: str, old: Assessment, new: Assessment | BadInput, book: Rulebook) -> CaseCompared:
    """What changes from an assessment to one of the same fitting under ``book``, or to why that does not take it.

    The earlier book need not be known, so nothing is said of what of the books it hangs on.
    """
    return _compared(name, Difference(book, book, ()), old, new, frozenset())


def _compared(
    name: str,
    change: Difference,
    old: Assessment | BadInput,
    new: Assessment | BadInput,
    words: frozenset[str],
) -> CaseCompared:
    pair = _Pair(change, old, new, words)
    findings = tuple(pair.findings())
    bearing = [*(change for finding in findings for change in finding.why), *pair.of_the_whole()]
    return CaseCompared(
        name=name,
        before="refused" if isinstance(old, BadInput) else old.decision,
        after="refused" if isinstance(new, BadInput) else new.decision,
        refused=tuple(problem for each in (old, new) if isinstance(each, BadInput) for problem in each.problems),
        findings=findings,
        actions=pair.lists(lambda each: each.actions),
        order=pair.order(),
        needed=pair.lists(_needed),
        cautions=pair.lists(lambda each: each.cautions),
        next_due=pair.lists(_due),
        why=tuple({(change.part, change.name): change for change in bearing}.values()),
    )


class _Pair:
    """The two answers to one fitting, and what of the books bears on where they differ."""

    def __init__(
        self, change: Difference, old: Assessment | BadInput, new: Assessment | BadInput, words: frozenset[str]
    ) -> None:
        self._changes = change.changes
        self._rulebooks = (change.before, change.after)
        self._refused = isinstance(old, BadInput) or isinstance(new, BadInput)
        self._answers = tuple(None if isinstance(each, BadInput) else each for each in (old, new))
        self._words = words
        self._fired = {finding.rule for each in self._answers if each for finding in each.findings}
        self._moved = _unlike(self._answers, lambda one: (one.value, one.u))
        """Quantities that are not read or computed alike."""
        self._elsewhere = _unlike(self._answers, lambda one: one.value)
        """Those of them that have another value, not only another uncertainty."""

    def lists(self, pick: Callable[[Assessment], Iterable[str]]) -> GoneNew:
        """What ``pick`` gives for one answer only; nothing where either book refuses the fitting."""
        if self._refused:
            return GoneNew((), ())
        old, new = (list(pick(each)) if each else [] for each in self._answers)
        return GoneNew(tuple(each for each in old if each not in new), tuple(each for each in new if each not in old))

    def order(self) -> tuple[str, ...]:
        """The actions in their new order, where they are the same in another order."""
        old, new = (each.actions if each else () for each in self._answers)
        return new if old != new and sorted(old) == sorted(new) else ()

    def findings(self) -> Iterator[FindingChange]:
        """Every finding that is new, gone or not the same; none where either book refuses the fitting."""
        if self._refused:
            return
        old, new = ({one.id: one for one in each.findings} if each else {} for each in self._answers)
        for name in (*old, *(name for name in new if name not in old)):
            before, after = old.get(name), new.get(name)
            found = before or after
            differs = tuple(key for key in _SEEN if before and after and getattr(before, key) != getattr(after, key))
            if found and (differs or not (before and after)):
                how: How = "changed" if differs else "gone" if before else "new"
                yield FindingChange(name, how, before, after, differs, tuple(self._why(found, how, differs)))

    def _why(self, finding: Finding, how: How, differs: tuple[str, ...]) -> Iterator[Change]:
        """The changes that bear on a finding: its rule and those that it hangs on, then how it was read."""
        rules, quantities = self._hangs_on(finding.rule)
        remedies = [
            book.remedy(rule) for book in self._rulebooks for rule in rules if rule in {*book.rules, *book.joined}
        ]
        levels = {remedy.fires for remedy in remedies if isinstance(remedy, Rule)}
        cautions = {remedy.caution for remedy in remedies}
        for change in self._changes:
            match change.part:
                case "rules" | "joined":
                    own = change.name == finding.rule and how == "changed"
                    decides = change.how != "changed" or bool(_DECIDE & set(change.changed))
                    bears = change.name in rules and (own or decides)
                case "levels":
                    bears = change.name in levels
                case "cautions":
                    bears = how == "changed" and "caution" in differs and change.name in cautions
                case _:
                    bears = self._read_by(change, quantities)
            if bears:
                yield change

    def _hangs_on(self, rule_id: str) -> tuple[set[str], set[str]]:
        """This rule, those that fired on the foot and decide whether it fires, and the quantities that they look at."""
        rules, frontier, quantities = set[str](), {rule_id}, set[str]()
        while frontier:
            rules |= frontier
            onward = set[str]()
            for book in self._rulebooks:
                for name in frontier:
                    if name in book.rules:
                        rule = book.rules[name]
                        onward.update(rule.unless)
                        quantities |= {rule.quantity, *(rule.with_ or {}), *(rule.without or {}), *_followed(rule)}
                    for clause in book.joined[name].when if name in book.joined else ():
                        onward.update(clause.findings or (), clause.clear_of or ())
                        quantities |= {clause.reading} if clause.reading else set()
            frontier = onward & self._fired - rules
        return rules, quantities

    def _read_by(self, change: Change, quantities: set[str]) -> bool:
        """Whether a change bears on how any of ``quantities``, which is not read alike, was read or computed."""
        moved = quantities & self._moved
        units = {self._rulebooks[1].quantities[name].unit for name in moved}
        match change.part:
            case "eye_words":
                quantity, word = change.name.split(".", 1)
                return quantity in moved and word in self._words
            case "quantities":
                return change.name in moved and "method" in change.changed
            case "methods":
                return "mm" in units
            case "instruments":
                return change.name in units
            case "parameters":
                # Another uncertainty alone mostly comes of the way of reading.
                return bool(quantities & self._elsewhere) or (bool(moved) and not self._surer)
            case _:
                return False

    @property
    def _surer(self) -> bool:
        return any(change.part in {"methods", "instruments", "eye_words"} for change in self._changes)

    def of_the_whole(self) -> Iterator[Change]:
        """The changes that bear on what is reported of the foot as a whole: needs, refusals, texts."""
        if self._refused:
            parts = {"eye_words", "quantities"}
        else:
            differences: tuple[tuple[Callable[[Assessment], Iterable[str]], set[str]], ...] = (
                (_needed, {"required", "criteria", "quantities"}),
                (lambda each: each.cautions, {"standing"}),
                (lambda each: each.actions, {"steps"}),
                (_due, {"parameters", "remarks"}),
            )
            parts = {part for pick, parts in differences if any(self.lists(pick)) for part in parts}
        acted = any(self.lists(lambda each: each.actions)) or bool(self.order())
        due = any(self.lists(_due))
        for change in self._changes:
            if change.part == "eye_words":
                bears = "eye_words" in parts and change.name.split(".", 1)[1] in self._words
            elif change.part in {"rules", "joined"}:
                orders = acted and change.name in self._fired and bool(_ORDER & set(change.changed))
                bears = orders or (due and change.name == INTERVAL_RULE)
            else:
                bears = change.part in parts
            if bears:
                yield change


def _unlike(answers: Iterable[Assessment | None], pick: Callable[[Measurement], object]) -> set[str]:
    """The quantities of which ``pick`` gives something else in one answer than in the other."""
    taken = [{(one.quantity, one.place, pick(one)) for one in each.measurements} for each in answers if each]
    return {quantity for quantity, _, _ in taken[0] ^ taken[-1]}


def _assessed(raw: object, book: Rulebook) -> Assessment | BadInput:
    try:
        return assess(parse_fitting(raw, book.original or book), book)
    except BadInput as error:
        return error


def _words(raw: object) -> Iterator[str]:
    """Every text in a JSON document."""
    if isinstance(raw, str):
        yield raw
    elif isinstance(raw, dict | list):
        for part in raw.values() if isinstance(raw, dict) else raw:
            yield from _words(part)


def _followed(rule: Rule) -> set[str]:
    return {limit.of for limit in (rule.low, rule.high) if isinstance(limit, Scaled)}


def _needed(assessment: Assessment) -> list[str]:
    return [needed.field for needed in assessment.still_needed]


def _due(assessment: Assessment) -> list[str]:
    return [assessment.next_due.say] if assessment.next_due else []
