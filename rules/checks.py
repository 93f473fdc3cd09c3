"""What must hold across the records of a rulebook; each fault names file and key."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from string import Formatter
from typing import Final, NoReturn

from rules.errors import RulebookError
from rules.model import Clause, JoinedRule, Limit, Quantity, Remedy, Rule, Scaled, Sourced
from rules.rulebook import Rulebook
from rules.situation import admits, every_situation, side_of, spot_of

__all__ = ["JOINED_PLACEHOLDERS", "SINGLE_PLACEHOLDERS", "check"]

SINGLE_PLACEHOLDERS: Final = frozenset({"place", "side", "value", "size", "limit", "past", "amount", "word"})
"""What the texts of a single rule may mention."""

JOINED_PLACEHOLDERS: Final = frozenset({"place", "side", "places"})
"""What the texts of a joined rule may mention."""

_NUMERIC: Final = frozenset({"value", "size", "limit", "past", "amount"})
_RANK: Final = {"minor": 0, "major": 1, "critical": 2}
_STAND_INS: Final = {"common practice": "trade", "from memory": "memory"}
_METHODS: Final = ("rule", "calliper", "feeler", "eye")
_EVERYWHERE: Final = tuple(every_situation())


def check(book: Rulebook) -> None:
    """Check the records against one another.

    Raises RulebookError for the first fault found.
    """
    _check_frame(book)
    for name, quantity in book.quantities.items():
        _check_quantity(book, name, quantity)
    for criterion_id, criterion in book.criteria.items():
        for number, need in enumerate(criterion.needs):
            for quantity_id in need.any_of:
                _check_need(book, f"{criterion_id}.toml", f"criterion.needs.{number}", quantity_id, need.at)
    for rule_id, rule in book.rules.items():
        _RuleCheck(book, rule_id, rule).run()
    for rule_id, joined in book.joined.items():
        _JoinedCheck(book, rule_id, joined).run()
    _check_cycles(book)


def _fail(file: str, key: str, problem: str, remedy: str) -> NoReturn:
    raise RulebookError(file, key, problem, remedy)


def _known(file: str, key: str, what: str, name: str, known: Iterable[str]) -> None:
    choices = sorted(known)
    if name not in choices:
        _fail(file, key, f"unknown {what} {name!r}", f"Known: {', '.join(choices)}")


def _check_sourced(book: Rulebook, file: str, key: str, record: Sourced) -> None:
    for source in record.sources:
        _known(file, f"{key}.sources", "source", source, book.sources)
    stand_in = _STAND_INS.get(record.status)
    if stand_in is not None and stand_in not in record.sources:
        _fail(
            file, f"{key}.sources", f"a figure that is {record.status} must say so", f"Add {stand_in!r} to the sources"
        )
    if stand_in is None and not set(record.sources) - set(_STAND_INS.values()):
        _fail(file, f"{key}.sources", "a published figure names no published source", "Name it, or change the status")


def _check_frame(book: Rulebook) -> None:
    for level in ("simple", "guarded"):
        if level not in book.levels:
            _fail("book.toml", f"levels.{level}", "this level is missing", f"Add [levels.{level}]")
    for name, level_record in book.levels.items():
        _check_sourced(book, "book.toml", f"levels.{name}", level_record)
    for stage, criteria in book.required.items():
        for criterion in criteria:
            _known("book.toml", f"required.{stage}", "criterion", criterion, book.criteria)
    for criterion in book.required_when_hot_fitted:
        _known("book.toml", "required.finished_when_hot_fitted", "criterion", criterion, book.criteria)
    for place in ("nail", "foot"):
        _known("book.toml", "places", "place", place, book.places)
    _known("book.toml", "steps", "step", "draw_nails", book.steps)
    for method in _METHODS:
        if method not in book.methods:
            _fail("readings.toml", f"methods.{method}", "this method is missing", f"Add [methods.{method}]")
    for table, records in (("methods", book.methods), ("instruments", book.instruments)):
        for name, record in records.items():
            _check_sourced(book, "readings.toml", f"{table}.{name}", record)
    for quantity, words in book.eye_words.items():
        _known("eye_words.toml", quantity, "quantity", quantity, book.quantities)
        for word, meaning in words.items():
            key = f"{quantity}.{word}"
            _check_sourced(book, "eye_words.toml", key, meaning)
            _same_unit("eye_words.toml", f"{key}.unit", meaning.unit, book.quantities[quantity])


def _same_unit(file: str, key: str, unit: str | None, quantity: Quantity) -> None:
    expected = quantity.unit if quantity.kind == "number" else "word"
    if unit != expected:
        _fail(file, key, f"unit {unit!r} is not the quantity's", f"Write {expected!r}")


def _check_quantity(book: Rulebook, name: str, quantity: Quantity) -> None:
    criterion = book.criterion_of.get(name)
    file = f"{criterion}.toml" if criterion else "dimensions.toml"
    for place in quantity.places:
        _known(file, f"quantities.{name}.places", "place", place, book.places)
    if criterion is None and quantity.kind != "number":
        _fail(file, f"quantities.{name}", "a dimension is a number", 'Write kind="number"')


def _check_need(book: Rulebook, file: str, key: str, quantity_id: str, at: str | tuple[str, ...]) -> None:
    _known(file, f"{key}.any_of", "quantity", quantity_id, book.quantities)
    places = book.quantities[quantity_id].places
    wanted = () if at == "anywhere" else ("nail",) if at == "every_nail" else tuple(at)
    for place in wanted:
        _known(file, f"{key}.at", f"place of {quantity_id}", place, places)


def _check_limit(book: Rulebook, file: str, key: str, limit: Limit | None, quantity: Quantity) -> None:
    if isinstance(limit, Scaled):
        dimensions = [
            name
            for name, record in book.quantities.items()
            if name not in book.criterion_of and "foot" in record.places
        ]
        _known(file, f"{key}.of", "dimension", limit.of, dimensions)
        if book.quantities[limit.of].unit != quantity.unit:
            _fail(file, f"{key}.of", f"{limit.of} is not in {quantity.unit}", "Follow a dimension of the same unit")


class _RemedyCheck:
    """Checks shared by single and joined rules."""

    placeholders: frozenset[str]

    def __init__(self, book: Rulebook, file: str, key: str, remedy: Remedy, stages: Iterable[str]) -> None:
        self.book = book
        self.file = file
        self.key = key
        self.remedy = remedy
        self.stages = stages

    def check_remedy(self) -> None:
        remedy = self.remedy
        _check_sourced(self.book, self.file, self.key, remedy)
        _known(self.file, f"{self.key}.caution", "caution", remedy.caution, self.book.cautions)
        if remedy.grade == "critical" and not self.book.cautions[remedy.caution].stops:
            _fail(
                self.file,
                f"{self.key}.caution",
                "a critical finding needs a caution that says stop",
                "Name a caution with stops=true",
            )
        if (remedy.grade == "critical") != (remedy.order == "welfare"):
            _fail(
                self.file,
                f"{self.key}.order",
                "critical findings, and only they, come under welfare",
                "Change order or grade",
            )
        for stage in self.stages:
            if stage not in remedy.action:
                _fail(
                    self.file,
                    f"{self.key}.action.{stage}",
                    "the action for this stage is missing",
                    f"Add {stage} to [{self.key}.action]",
                )
        for name, text in (
            ("finding", remedy.finding),
            *((f"action.{stage}", text) for stage, text in remedy.action.items()),
        ):
            for placeholder in _placeholders(self.file, f"{self.key}.{name}", text):
                _known(self.file, f"{self.key}.{name}", "placeholder", placeholder, self.placeholders)

    def fail(self, key: str, problem: str, remedy: str) -> NoReturn:
        _fail(self.file, f"{self.key}.{key}", problem, remedy)

    def known(self, key: str, what: str, name: str, known: Iterable[str]) -> None:
        _known(self.file, f"{self.key}.{key}", what, name, known)


def _placeholders(file: str, key: str, text: str) -> list[str]:
    try:
        return [name for _, name, _, _ in Formatter().parse(text) if name is not None]
    except ValueError as error:
        raise RulebookError(file, key, f"the text's braces do not pair: {error}", "Write {name}") from error


class _RuleCheck(_RemedyCheck):
    def __init__(self, book: Rulebook, rule_id: str, rule: Rule) -> None:
        file, key = book.files[rule_id], f"rules.{rule_id}"
        _known(file, f"{key}.quantity", "quantity", rule.quantity, book.quantities)
        self.rule = rule
        self.quantity = book.quantities[rule.quantity]
        if f"{book.criterion_of.get(rule.quantity)}.toml" != file:
            _fail(file, f"{key}.quantity", f"{rule.quantity!r} belongs to another file", "Put the rule into that file")
        stages = [
            stage for stage in book.criteria[book.criterion_of[rule.quantity]].stages if _reaches(book, rule, stage)
        ]
        super().__init__(book, file, key, rule, stages)
        numeric = self.quantity.kind == "number"
        allowed = SINGLE_PLACEHOLDERS if rule.amount else SINGLE_PLACEHOLDERS - {"amount"}
        self.placeholders = allowed - {"word"} if numeric else allowed - _NUMERIC

    def run(self) -> None:
        rule, quantity = self.rule, self.quantity
        self.check_remedy()
        _same_unit(self.file, f"{self.key}.unit", rule.unit, quantity)
        for name, limit in (("low", rule.low), ("high", rule.high), ("amount.to", rule.amount and rule.amount.to)):
            _check_limit(self.book, self.file, f"{self.key}.{name}", limit, quantity)
        for word in rule.is_ or ():
            self.known("is", f"word of {rule.quantity}", word, quantity.vocabulary)
        for place in rule.places or ():
            self.known("places", f"place of {rule.quantity}", place, quantity.places)
        for other, words in (rule.with_ or {}).items():
            self.known("with", "quantity", other, self.book.quantities)
            for word in words:
                self.known(f"with.{other}", f"word of {other}", word, self.book.quantities[other].vocabulary)
        if quantity.kind == "number" and (rule.grade == "critical") != (rule.fires == "guarded"):
            self.fail("fires", "limits that end in critical, and only they, are guarded", "Change fires or grade")
        if quantity.kind != "number" and rule.fires != "simple":
            self.fail("fires", "a word has no uncertainty to guard", "Write fires='simple'")
        if not self.stages:
            self.fail("applies", "the rule applies at no stage of its criterion", "Correct applies")
        for other in rule.unless:
            self._check_unless(other)

    def _check_unless(self, other_id: str) -> None:
        self.known("unless", "rule", other_id, self.book.rules)
        other = self.book.rules[other_id]
        if other.quantity != self.rule.quantity or other.with_ is not None:
            self.fail(
                "unless", f"{other_id!r} looks at something else", "Name rules of the same quantity without 'with'"
            )
        if _RANK[other.grade] <= _RANK[self.rule.grade]:
            self.fail("unless", f"{other_id!r} is not graver", "Name graver rules only")
        for place in self.book.places_of(self.rule):
            side = side_of(place)
            for situation in _EVERYWHERE:
                for each in ("medial", "lateral") if place == "nail" else (side,):
                    here = admits(self.rule.applies, situation, each)
                    if here and not (place in self.book.places_of(other) and admits(other.applies, situation, each)):
                        self.fail(
                            "unless",
                            f"{other_id!r} does not apply everywhere that this rule does",
                            "Widen it or narrow this one",
                        )


class _JoinedCheck(_RemedyCheck):
    placeholders = JOINED_PLACEHOLDERS

    def __init__(self, book: Rulebook, rule_id: str, joined: JoinedRule) -> None:
        file, key = book.files[rule_id], f"joined.{rule_id}"
        _known(file, f"{key}.criterion", "criterion", joined.criterion, book.criteria)
        self.joined = joined
        super().__init__(book, file, key, joined, _joined_stages(book, joined))

    def run(self) -> None:
        self.check_remedy()
        if not self.stages:
            self.fail("when", "its findings can never stand together at one stage", "Correct when or applies")
        if self.joined.place == "of_first" and self.joined.when[0].findings is None:
            self.fail("place", "the first clause is not a finding", "Put the finding first, or write place='foot'")
        for number, clause in enumerate(self.joined.when):
            self._check_clause(f"when.{number}", clause)

    def _check_clause(self, key: str, clause: Clause) -> None:
        for rule_id in clause.findings or ():
            self.known(f"{key}.findings", "rule", rule_id, [*self.book.rules, *self.book.joined])
        if clause.at is not None:
            self.known(f"{key}.at", "place", clause.at, self.book.places)
        if clause.reading is None:
            return
        self.known(f"{key}.reading", "quantity", clause.reading, self.book.quantities)
        quantity = self.book.quantities[clause.reading]
        self.known(f"{key}.at", f"place of {clause.reading}", clause.at or "", quantity.places)
        for rule_id in clause.clear_of or ():
            self.known(f"{key}.clear_of", "rule", rule_id, self.book.rules)
            rule = self.book.rules[rule_id]
            if rule.quantity != clause.reading or clause.at not in self.book.places_of(rule) or rule.with_ is not None:
                self.fail(
                    f"{key}.clear_of",
                    f"{rule_id!r} does not judge this reading alone",
                    "Name rules of that reading and place",
                )
        if clause.clear_of is None:
            if quantity.kind != "number":
                self.fail(f"{key}.reading", "a word has no limit", "Use clear_of")
            _same_unit(self.file, f"{self.key}.{key}.unit", clause.unit, quantity)
            for name, limit in (("low", clause.low), ("high", clause.high)):
                _check_limit(self.book, self.file, f"{self.key}.{key}.{name}", limit, quantity)


def _reaches(book: Rulebook, rule: Rule, stage: str) -> bool:
    """Whether the rule applies at ``stage`` in any situation, at any of its places."""
    sides = {
        side
        for place in book.places_of(rule)
        for side in (("medial", "lateral") if spot_of(place) == "nail" else (side_of(place),))
    }
    return any(
        situation.stage == stage and admits(rule.applies, situation, side)  # type: ignore[arg-type]
        for situation in _EVERYWHERE
        for side in sides
    )


def _joined_stages(book: Rulebook, joined: JoinedRule, seen: frozenset[str] = frozenset()) -> list[str]:
    """The stages at which every finding of a joined rule can be made (unknown names are reported elsewhere)."""
    possible = []
    for stage in ("hot_fit", "nailed", "finished"):

        def can(rule_id: str, stage: str = stage) -> bool:
            rule = book.rules.get(rule_id)
            if rule is not None and rule.quantity in book.criterion_of:
                return stage in book.criteria[book.criterion_of[rule.quantity]].stages and _reaches(book, rule, stage)
            inner = book.joined.get(rule_id)
            return inner is not None and rule_id not in seen and stage in _joined_stages(book, inner, seen | {rule_id})

        if all(any(can(rule_id) for rule_id in clause.findings) for clause in joined.when if clause.findings) and any(
            situation.stage == stage and admits(joined.applies, situation, None) for situation in _EVERYWHERE
        ):
            possible.append(stage)
    return possible


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
            _fail("joined.toml", f"joined.{start}.when", "the rule rests on itself", "Break the circle")
