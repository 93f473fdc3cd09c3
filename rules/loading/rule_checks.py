"""Checks of single and joined rules against the rest of the book."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from typing import Final, NoReturn

from rules.loading.record_checks import check_limit, check_sourced, check_text, check_unit, fail, file_of, known
from rules.loading.satisfiability import can_be_passed, can_fire
from rules.loading.situation_sets import admitted
from rules.loading.stages import sides_of, stages_of_finding
from rules.model.records import RANK, Clause, Context, Remedy, Stage
from rules.rulebook import Rulebook

__all__ = ["JOINED_PLACEHOLDERS", "SINGLE_PLACEHOLDERS", "check_joined_rules", "check_single_rules"]

SINGLE_PLACEHOLDERS: Final = frozenset(
    {"place", "side", "value", "size", "percent", "range", "limit", "past", "amount", "about", "word"}
)
"""What the texts of a single rule may mention."""

JOINED_PLACEHOLDERS: Final = frozenset({"place", "side", "places"})
"""What the texts of a joined rule may mention."""

_NUMERIC: Final = frozenset({"value", "size", "percent", "range", "limit", "past", "amount", "about"})


def check_single_rules(book: Rulebook) -> None:
    """Each single rule by itself, then against the rules that silence it."""
    checks = [_SingleCheck(book, rule_id) for rule_id in book.rules]
    for check in checks:
        check.check_alone()
    for check in checks:
        check.check_silenced()


def check_joined_rules(book: Rulebook) -> None:
    """What each joined rule names, then whether it can come about; the single rules are right already."""
    checks = [_JoinedCheck(book, rule_id) for rule_id in book.joined]
    for check in checks:
        check.check_names()
    _check_cycles(book)
    for check in checks:
        check.check_stages()


def _check_cycles(book: Rulebook) -> None:
    """A joined rule may rest on joined ones, but never, through any of them, on itself."""
    rests: Mapping[str, set[str]] = {
        rule_id: {name for clause in joined.when for name in clause.findings or () if name in book.joined}
        for rule_id, joined in book.joined.items()
    }
    for start in rests:
        reached: set[str] = set()
        frontier = set(rests[start])
        while frontier:
            reached |= frontier
            frontier = {onward for name in frontier for onward in rests[name]} - reached
        if start in reached:
            fail("joined.toml", f"joined.{start}.when", "the rule rests on itself", "Break the circle")


class _Check:
    """What the checks of one rule share: the book, and the file and key that faults name."""

    def __init__(self, book: Rulebook, file: str, key: str) -> None:
        self.book = book
        self.file = file
        self.key = key

    def fail(self, key: str, problem: str, remedy: str) -> NoReturn:
        fail(self.file, f"{self.key}.{key}", problem, remedy)

    def known(self, key: str, what: str, name: str, choices: Collection[str]) -> None:
        known(self.file, f"{self.key}.{key}", what, name, choices)

    def check_contexts(self, contexts: tuple[Context, ...] | None) -> None:
        """Stages, forms and stances of contexts are such as the book judges."""
        judges = self.book.judges
        for number, context in enumerate(contexts or ()):
            for key, judged in (("stage", judges.stages), ("hoof_form", judges.hoof_forms), ("stance", judges.stances)):
                for word in getattr(context, key) or ():
                    self.known(f"applies.{number}.{key}", f"{key} that the book judges", word, judged)

    def check_remedy(self, remedy: Remedy, stages: Iterable[Stage], placeholders: frozenset[str]) -> None:
        """What single and joined rules share: sources, caution, place in the working order, actions and texts."""
        check_sourced(self.book, self.file, self.key, remedy)
        critical = remedy.grade == "critical"
        self.known("caution", "caution", remedy.caution, self.book.cautions)
        if critical and not self.book.cautions[remedy.caution].stops:
            self.fail("caution", "a critical finding needs a caution that says stop", "Name a caution with stops=true")
        if critical != (remedy.order == "welfare"):
            self.fail("order", "critical findings, and only they, come under welfare", "Change order or grade")
        for stage in stages:
            if stage not in remedy.action:
                self.fail(
                    f"action.{stage}", "the action for this stage is missing", f"Add {stage} to [{self.key}.action]"
                )
        check_text(self.file, f"{self.key}.finding", remedy.finding, placeholders)
        for stage, text in remedy.action.items():
            check_text(self.file, f"{self.key}.action.{stage}", text, placeholders)


class _SingleCheck(_Check):
    def __init__(self, book: Rulebook, rule_id: str) -> None:
        super().__init__(book, book.files[rule_id], f"rules.{rule_id}")
        self.rule_id = rule_id
        self.rule = book.rules[rule_id]
        self.known("quantity", "quantity", self.rule.quantity, book.quantities)
        self.quantity = book.quantities[self.rule.quantity]
        if file_of(book, self.rule.quantity) != self.file:
            self.fail("quantity", f"{self.rule.quantity!r} belongs to another file", "Put the rule into that file")

    def check_alone(self) -> None:
        rule = self.rule
        check_unit(self.file, f"{self.key}.unit", rule.unit, self.quantity)
        for place in rule.places or ():
            self.known("places", f"place of {rule.quantity}", place, self.quantity.places)
        self.check_contexts(rule.applies)
        for place in self.book.places_of(rule):
            if not self.quantity.judged_at(place):
                problem = f"the book says that it does not judge {rule.quantity} at {place}"
                self.fail("quantity", problem, f"Take the rule out, or change judged of {rule.quantity}")
        stages = stages_of_finding(self.book, self.rule_id)
        if not stages:
            self.fail(
                "applies",
                "the rule can never fire: it applies at none of its places at any stage of its criterion",
                "Correct applies",
            )
        self.check_remedy(rule, stages, self._placeholders())
        if self.quantity.kind == "number":
            self._check_number()
        else:
            self._check_words()
        self._check_with()
        self._check_without()
        if rule.gathered is not None:
            check_text(self.file, f"{self.key}.gathered", rule.gathered, frozenset({"count", "places"}))

    def check_silenced(self) -> None:
        for other in self.rule.unless:
            self._check_unless(other)
        if not can_fire(self.book, self.rule):
            silent = " and leaves the rules of 'unless' silent" if self.rule.unless else ""
            self.fail(
                "is" if self.rule.is_ else "low" if self.rule.low is not None else "high",
                f"the rule can never fire: no reading that is possible lies past its limit{silent}",
                "Correct the limit, or the quantity's range, or unless",
            )

    def _placeholders(self) -> frozenset[str]:
        allowed = SINGLE_PLACEHOLDERS - {"word"} if self.quantity.kind == "number" else SINGLE_PLACEHOLDERS - _NUMERIC
        if self.rule.amount is None:
            allowed -= {"amount", "about"}
        if not self.quantity.worst_case:
            allowed -= {"range"}
        sided = all(None not in sides_of(place) for place in self.book.places_of(self.rule))
        return allowed if sided else allowed - {"side"}

    def _check_number(self) -> None:
        rule = self.rule
        to = rule.amount.to if rule.amount else None
        for name, limit in (("low", rule.low), ("high", rule.high), ("amount.to", to)):
            check_limit(self.book, self.file, f"{self.key}.{name}", limit, self.quantity)
        if isinstance(rule.low, float) and isinstance(rule.high, float) and rule.low >= rule.high:
            self.fail("low", "low is not below high, so nothing would be let pass", "Write the smaller number as low")
        guarded = rule.fires == "guarded"
        # Of a range of worst cases a graver limit too may look at the end: there is no middle that is likelier.
        if guarded != (rule.grade == "critical") and not (guarded and self.quantity.worst_case):
            self.fail("fires", "limits that end in critical, and only they, are guarded", "Change fires or grade")

    def _check_words(self) -> None:
        for word in self.rule.is_ or ():
            self.known("is", f"word of {self.rule.quantity}", word, self.quantity.vocabulary)
        if self.rule.fires != "simple":
            self.fail("fires", "a word has no uncertainty to guard", 'Write fires = "simple"')

    def _check_with(self) -> None:
        for other_id, words in (self.rule.with_ or {}).items():
            self.known("with", "quantity", other_id, self.book.quantities)
            other = self.book.quantities[other_id]
            for word in words:
                self.known(f"with.{other_id}", f"word of {other_id}", word, other.vocabulary)
            if not set(self.book.places_of(self.rule)) <= set(other.places):
                self.fail(
                    f"with.{other_id}",
                    f"the rule looks at places where {other_id} is never read",
                    f"Give the rule places out of {', '.join(other.places)}",
                )

    def _check_without(self) -> None:
        for other_id, words in (self.rule.without or {}).items():
            self.known("without", "quantity", other_id, self.book.quantities)
            other = self.book.quantities[other_id]
            for word in words:
                self.known(f"without.{other_id}", f"word of {other_id}", word, other.vocabulary)
            if bool(words) != bool(other.vocabulary):
                self.fail(
                    f"without.{other_id}", "words name what of a word keeps it silent", "Name them, or [] of a number"
                )
            if not set(self.book.places_of(self.rule)) <= set(other.places) and "foot" not in other.places:
                self.fail(
                    f"without.{other_id}",
                    f"the rule looks at places where {other_id} is never read",
                    f"Give the rule places out of {', '.join(other.places)}",
                )

    def _check_unless(self, other_id: str) -> None:
        self.known("unless", "rule", other_id, self.book.rules)
        other = self.book.rules[other_id]
        if other.quantity != self.rule.quantity or other.with_ is not None:
            self.fail(
                "unless", f"{other_id!r} looks at something else", "Name rules of the same quantity without 'with'"
            )
        if RANK[other.grade] < RANK[self.rule.grade]:
            self.fail("unless", f"{other_id!r} is less grave", "Name rules that are as grave or graver")
        for graver in other.unless:
            if graver not in self.rule.unless:
                self.fail("unless", f"{graver!r} silences {other_id!r} and is not named here", f"Name {graver!r} too")
        places = self.book.places_of(other)
        for place in self.book.places_of(self.rule):
            for side in sides_of(place):
                judges = self.book.judges
                covered = admitted(other.applies, side, judges) if place in places else 0
                if admitted(self.rule.applies, side, judges) & ~covered:
                    self.fail(
                        "unless",
                        f"{other_id!r} does not apply everywhere that this rule does",
                        "Widen it or narrow this one",
                    )


class _JoinedCheck(_Check):
    def __init__(self, book: Rulebook, rule_id: str) -> None:
        super().__init__(book, book.files[rule_id], f"joined.{rule_id}")
        self.rule_id = rule_id
        self.joined = book.joined[rule_id]

    def check_names(self) -> None:
        joined = self.joined
        self.known("criterion", "criterion", joined.criterion, self.book.criteria)
        for rule_id in joined.replaces:
            self.known("replaces", "rule", rule_id, self.book.rules)
        for number, clause in enumerate(joined.when):
            if clause.findings is not None:
                self._check_findings(f"when.{number}", clause, clause.findings)
            else:
                self._check_reading(f"when.{number}", clause, clause.reading or "")
        self._check_apart()
        if joined.place == "of_first" and joined.when[0].findings is None:
            self.fail("place", "the first clause is not a finding", 'Put the finding first, or write place = "foot"')

    def _check_apart(self) -> None:
        """Each clause needs a fact of its own: the engine never lets one fact stand for two clauses."""
        for number, clause in enumerate(self.joined.when):
            for other in self.joined.when[:number]:
                same_place = clause.at is None or other.at is None or clause.at == other.at
                shared = set(clause.findings or ()) & set(other.findings or ())
                if same_place and (shared or (clause.reading is not None and other.reading is not None)):
                    self.fail(
                        f"when.{number}",
                        "an earlier clause looks at the same finding or place",
                        "Let each clause look at a place or at findings of its own",
                    )

    def check_stages(self) -> None:
        joined = self.joined
        self.check_contexts(joined.applies)
        stages = stages_of_finding(self.book, self.rule_id)
        if not stages:
            self.fail(
                "when",
                "the rule can never fire: its findings can never stand together at one stage",
                "Correct when or applies",
            )
        self.check_remedy(
            joined, stages, JOINED_PLACEHOLDERS if joined.place == "of_first" else JOINED_PLACEHOLDERS - {"side"}
        )

    def _check_findings(self, key: str, clause: Clause, rule_ids: tuple[str, ...]) -> None:
        for rule_id in rule_ids:
            self.known(f"{key}.findings", "rule", rule_id, [*self.book.rules, *self.book.joined])
        if clause.at is None:
            return
        self.known(f"{key}.at", "place", clause.at, self.book.places)
        single = [self.book.rules[rule_id] for rule_id in rule_ids if rule_id in self.book.rules]
        if len(single) == len(rule_ids) and not any(clause.at in self.book.places_of(rule) for rule in single):
            self.fail(
                f"{key}.at",
                f"the rule can never fire: none of its findings is ever made at {clause.at!r}",
                "Name a place at which they look",
            )

    def _check_reading(self, key: str, clause: Clause, reading: str) -> None:
        self.known(f"{key}.reading", "quantity", reading, self.book.quantities)
        quantity = self.book.quantities[reading]
        self.known(f"{key}.at", f"place of {reading}", clause.at or "", quantity.places)
        if not quantity.judged_at(clause.at or ""):
            problem = f"the book says that it does not judge {reading} at {clause.at}"
            self.fail(f"{key}.reading", problem, f"Rest it on something else, or change judged of {reading}")
        for rule_id in clause.clear_of or ():
            self.known(f"{key}.clear_of", "rule", rule_id, self.book.rules)
            rule = self.book.rules[rule_id]
            if rule.quantity != reading or clause.at not in self.book.places_of(rule) or rule.with_ is not None:
                self.fail(
                    f"{key}.clear_of",
                    f"{rule_id!r} does not judge this reading alone",
                    "Name rules of that reading and place",
                )
            for graver in rule.unless:
                if graver not in (clause.clear_of or ()):
                    self.fail(
                        f"{key}.clear_of",
                        f"{graver!r} silences {rule_id!r} and is not named here",
                        f"Name {graver!r} too",
                    )
        if clause.clear_of is None:
            self._check_limits(key, clause, reading)

    def _check_limits(self, key: str, clause: Clause, reading: str) -> None:
        quantity = self.book.quantities[reading]
        if quantity.kind != "number":
            self.fail(f"{key}.reading", "a word has no limit", "Use clear_of")
        check_unit(self.file, f"{self.key}.{key}.unit", clause.unit, quantity)
        for name, limit in (("low", clause.low), ("high", clause.high)):
            check_limit(self.book, self.file, f"{self.key}.{key}.{name}", limit, quantity)
        if not can_be_passed(self.book, quantity, clause.low, clause.high):
            self.fail(
                f"{key}.{'high' if clause.low is None else 'low'}",
                f"the rule can never fire: no {reading} that is possible lies past this limit",
                "Correct the limit, or the quantity's range",
            )
