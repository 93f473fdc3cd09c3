"""What must hold across the records of a rulebook; each fault names file and key."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator
from typing import Final

from rules.limits import KNOWN_PREFIX
from rules.loading.parameter_checks import check_parameters
from rules.loading.record_checks import check_sourced, check_text, check_unit, fail, file_of, known
from rules.loading.rule_checks import JOINED_PLACEHOLDERS, SINGLE_PLACEHOLDERS, check_joined_rules, check_single_rules
from rules.model.records import Clause, Need, Quantity, Scaled, Stage
from rules.rulebook import Rulebook
from rules.situation import VOCABULARY

__all__ = ["JOINED_PLACEHOLDERS", "SINGLE_PLACEHOLDERS", "check", "check_pairs"]

_LEVELS: Final = ("simple", "guarded")
_EVEN_CHANCE: Final = 0.5
_PLACES: Final = ("nail", "foot")
_KEPT: Final = "kept.toml"
_STEPS: Final = ("draw_nails", "after_stop")
_METHODS: Final = ("rule", "calliper", "feeler", "eye")
_RULE_NAME: Final = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
_FIELD_NAME: Final = re.compile(r"[a-z][a-z0-9_]*")
_FRAME: Final = frozenset({"id", "sid", "kind", "place", "spot", "rule", *VOCABULARY})
"""Fields that every fact has of itself, so no quantity may bear their names."""


def check(book: Rulebook) -> None:
    """Check the records against one another.

    Raises RulebookError for the first fault found.
    """
    _check_levels(book)
    _check_required(book)
    _check_places(book)
    _check_names(book)
    for name, quantity in book.quantities.items():
        _check_quantity(book, name, quantity)
    _check_uncertainties(book)
    _check_eye_words(book)
    check_parameters(book)
    for criterion_id, criterion in book.criteria.items():
        for number, need in enumerate(criterion.needs):
            _check_need(book, f"{criterion_id}.toml", f"criterion.needs.{number}", need)
    check_single_rules(book)
    check_joined_rules(book)
    check_pairs(book)


def _check_levels(book: Rulebook) -> None:
    _exactly("book.toml", "levels", book.levels, _LEVELS)
    for name, level in book.levels.items():
        check_sourced(book, "book.toml", f"levels.{name}", level)
    if book.levels["simple"].probability != _EVEN_CHANCE:
        fail(
            "book.toml",
            "levels.simple.probability",
            "a simple limit takes the reading at its face, which is an even chance",
            f"Write {_EVEN_CHANCE}, or make rules guarded",
        )
    if book.levels["guarded"].probability >= _EVEN_CHANCE:
        fail(
            "book.toml",
            "levels.guarded.probability",
            "a guarded limit fires before an even chance",
            f"Write less than {_EVEN_CHANCE}",
        )


def _exactly(file: str, table: str, present: Iterable[str], expected: Collection[str]) -> None:
    """A table holds just the expected records: others would have no effect."""
    names = list(present)
    _at_least(file, table, names, expected)
    for name in names:
        known(file, f"{table}.{name}", f"name in {table}", name, expected)


def _at_least(file: str, table: str, present: Iterable[str], expected: Iterable[str]) -> None:
    names = list(present)
    for name in expected:
        if name not in names:
            fail(file, f"{table}.{name}", "this table is missing", f"Add [{table}.{name}]")


def _check_required(book: Rulebook) -> None:
    required: list[tuple[str, Stage, tuple[str, ...]]] = [
        ("finished_when_hot_fitted", "finished", book.required_when_hot_fitted),
        *((stage, stage, criteria) for stage, criteria in book.required.items()),
    ]
    for key, stage, criteria in required:
        for criterion in criteria:
            known("book.toml", f"required.{key}", "criterion", criterion, book.criteria)
            if stage not in book.criteria[criterion].stages:
                fail(
                    "book.toml",
                    f"required.{key}",
                    f"{criterion!r} cannot be observed at the stage {stage}, so no foot could ever be released",
                    f"Take it out, or add {stage} to the stages in {criterion}.toml",
                )


def _check_places(book: Rulebook) -> None:
    _at_least("book.toml", "places", book.places, _PLACES)
    _at_least("book.toml", "steps", book.steps, _STEPS)
    for name, place in book.places.items():
        placeholders = ("side", "hole") if name == "nail" else ()
        check_text("book.toml", f"places.{name}.title", place.title, placeholders)


def _check_names(book: Rulebook) -> None:
    for rule_id in (*book.rules, *book.joined):
        if _RULE_NAME.fullmatch(rule_id) is None:
            key = f"{'joined' if rule_id in book.joined else 'rules'}.{rule_id}"
            fail(book.files[rule_id], key, "a rule's name is not plain", "Write small letters and digits with hyphens")
    for name in book.places:
        if _FIELD_NAME.fullmatch(name) is None:
            fail("book.toml", f"places.{name}", "a place's name is not plain", "Write small letters with underscores")
    for name in book.quantities:
        key, file = f"quantities.{name}", file_of(book, name)
        if _FIELD_NAME.fullmatch(name) is None:
            fail(file, key, "a quantity's name is not plain", "Write small letters and digits with underscores")
        if name in _FRAME or name.startswith(KNOWN_PREFIX):
            fail(file, key, "this name is taken: facts use it for something else", "Choose another name")
        for other in _whose_field(name):
            if other in book.quantities:
                fail(file, key, f"this name is taken: it is how facts call a bound of {other}", "Choose another name")


def _whose_field(name: str) -> Iterator[str]:
    """The quantities that would call a field ``name``: for a bound of theirs, or less a multiple of a dimension."""
    for bound in ("_low", "_high"):
        if name.endswith(bound):
            yield name.removesuffix(bound)
    parts = name.split("_less_")
    for number in range(1, len(parts)):
        yield "_less_".join(parts[:number])


def _check_quantity(book: Rulebook, name: str, quantity: Quantity) -> None:
    file = file_of(book, name)
    for place in quantity.places:
        known(file, f"quantities.{name}.places", "place", place, book.places)
    for key, others in (("computed_from", quantity.computed_from), ("instead_of", (quantity.instead_of or name,))):
        for other in others:
            known(file, f"quantities.{name}.{key}", "quantity", other, book.quantities)
    if quantity.by_limit_of is not None:
        known(file, f"quantities.{name}.by_limit_of", "rule", quantity.by_limit_of, book.rules)
    if file == _KEPT and quantity.judged is not False:
        fail(file, f"quantities.{name}.judged", "what is kept here belongs to no criterion", "Write judged = false")
    if name not in book.criterion_of and quantity.kind != "number" and file != _KEPT:
        fail(file, f"quantities.{name}.kind", "a dimension is a number", 'Write kind = "number"')


def _check_uncertainties(book: Rulebook) -> None:
    _exactly("readings.toml", "methods", book.methods, _METHODS)
    for table, records in (("methods", book.methods), ("instruments", book.instruments)):
        for name, record in records.items():
            check_sourced(book, "readings.toml", f"{table}.{name}", record)
            expected = "mm" if table == "methods" else name
            if record.unit != expected:
                fail(
                    "readings.toml",
                    f"{table}.{name}.unit",
                    f"unit {record.unit!r} is not what this is read in",
                    f"Write {expected!r}",
                )


def _check_eye_words(book: Rulebook) -> None:
    for quantity_id, words in book.eye_words.items():
        known("eye_words.toml", quantity_id, "quantity", quantity_id, book.quantities)
        quantity = book.quantities[quantity_id]
        for word, meaning in words.items():
            key = f"{quantity_id}.{word}"
            check_sourced(book, "eye_words.toml", key, meaning)
            check_unit("eye_words.toml", f"{key}.unit", meaning.unit, quantity)
            if quantity.range is not None and not quantity.range[0] <= meaning.value <= quantity.range[1]:
                fail("eye_words.toml", f"{key}.value", "outside what is possible", "Keep within the quantity's range")


def _check_need(book: Rulebook, file: str, key: str, need: Need) -> None:
    for quantity_id in need.any_of:
        known(file, f"{key}.any_of", "quantity", quantity_id, book.quantities)
        expected = need.at
        if isinstance(expected, str):
            expected = ("nail",) if expected in {"every_nail", "each_branch"} else ()
        quantity = book.quantities[quantity_id]
        for place in expected:
            known(file, f"{key}.at", f"place of {quantity_id}", place, quantity.places)
        if not any(map(quantity.judged_at, expected or quantity.places)):
            problem = f"the book says that it does not judge {quantity_id}, so nothing would come of it"
            fail(file, f"{key}.any_of", problem, f"Take it out, or change judged of {quantity_id}")


def check_pairs(book: Rulebook) -> None:
    """A pair is never asked of one foot, and its rules look at nothing that belongs to one foot.

    Raises RulebookError for the first fault found.
    """
    pairs = {name for name, criterion in book.criteria.items() if criterion.of == "pair"}
    for stage, required in (*book.required.items(), ("finished_when_hot_fitted", book.required_when_hot_fitted)):
        for criterion in required:
            if criterion in pairs:
                problem = f"{criterion!r} is judged of two feet, so no foot alone could ever be released"
                fail("book.toml", f"required.{stage}", problem, "Take it out")
    for rule_id, rule in book.rules.items():
        if book.criterion_for(rule_id) not in pairs:
            continue
        to = rule.amount.to if rule.amount else None
        for key, limit in (("low", rule.low), ("high", rule.high), ("amount.to", to)):
            if isinstance(limit, Scaled):
                problem = f"{limit.of} is a size of one foot, and this is judged of two"
                fail(book.files[rule_id], f"rules.{rule_id}.{key}.of", problem, "Write a plain number")
    for rule_id in book.joined:
        _check_joined(book, rule_id, pairs)


def _check_joined(book: Rulebook, rule_id: str, pairs: set[str]) -> None:
    joined = book.joined[rule_id]
    of_pair = joined.criterion in pairs
    for number, clause in enumerate(joined.when):
        for name in _looked_at(clause):
            criterion = book.criterion_for(name) if clause.findings is not None else book.criterion_of.get(name)
            if (criterion in pairs) != of_pair:
                fail(
                    book.files[rule_id],
                    f"joined.{rule_id}.when.{number}",
                    f"{name!r} and the rule's criterion are not both of one foot, or both of two",
                    "Join what is judged of one foot, or what is judged of a pair",
                )
    if of_pair and joined.place == "foot":
        fail(
            book.files[rule_id],
            f"joined.{rule_id}.place",
            "what is judged of two feet is not found at one of them",
            'Write place = "of_first"',
        )


def _looked_at(clause: Clause) -> tuple[str, ...]:
    return clause.findings or (clause.reading or "",)
