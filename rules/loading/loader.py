"""Strict loading of a rulebook from its TOML files: each fault is an error that names file and key."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from rules.errors import RulebookError
from rules.lazy import lazily
from rules.loading.checked import CHECKED
from rules.loading.files import Table, digest_of, parsed, read_texts, tables_of
from rules.loading.records import check_keys, record_of, records_of, section_of
from rules.model.figures import EyeWord, Level, Parameter, Source, Uncertainty
from rules.model.identity import Book, Decisions, OwnBook, Required
from rules.model.records import (
    STAGES,
    Caution,
    Criterion,
    JoinedRule,
    Judges,
    NextStep,
    Place,
    Quantity,
    Rule,
    Stage,
    Standing,
    Step,
)
from rules.rulebook import Rulebook

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable

    from rules.loading.checks import check
    from rules.loading.gathering import all_faults
    from rules.loading.inheritance import Merged, merge
    from rules.loading.marking import marking_of
    from rules.loading.safeguards import check_safeguards
else:
    check = lazily("rules.loading.checks", "check")
    merge = lazily("rules.loading.inheritance", "merge")
    all_faults = lazily("rules.loading.gathering", "all_faults")
    marking_of = lazily("rules.loading.marking", "marking_of")
    check_safeguards = lazily("rules.loading.safeguards", "check_safeguards")

__all__ = ["first_rulebook", "load_rulebook", "shipped_rulebook"]

_COMMON: Final = {
    "book.toml": {"book", "judges", "decisions", "levels", "required", "places", "steps"},
    "sources.toml": {"sources"},
    "cautions.toml": {"cautions", "standing"},
    "readings.toml": {"methods", "instruments"},
    "dimensions.toml": {"quantities"},
    "parameters.toml": {"parameters", "remarks"},
    "cross_checks.toml": {"quantities", "rules"},
    "joined.toml": {"joined"},
    "marking.toml": {"scheme", "marks", "deductions", "bands", "progress", "says"},
}
_KEPT: Final = "kept.toml"
"""What is asked for and kept, and belongs to no criterion yet; a book may do without."""
_CRITERION_SECTIONS: Final = {"criterion", "quantities", "rules"}
_BOOK: Final = "book.toml"
_ROOM: Final = Path(__file__).parents[1]
"""Not by importlib.resources, which brings tempfile and zipfile: 3% of a cold start."""
_EYE_WORDS: Final = "eye_words.toml"


@cache
def shipped_rulebook() -> Rulebook:
    """The rulebook that comes with the tool; loaded once per process.

    Its marking scheme is looked at when it is first asked for: to assess a foot needs none.
    """
    return _loaded(_ROOM / "book", _ROOM / "languages")


@cache
def first_rulebook() -> Rulebook:
    """The rulebook of the first contract, version 1.3.0, whose files and digest never change; loaded once per process.

    It judges what the first contract could say just as it did; what came later it neither knows nor judges.
    """
    folder = _ROOM / "first_book"
    return _loaded(folder, folder / "languages")


def load_rulebook(folder: Traversable) -> Rulebook:
    """Read every ``*.toml`` in ``folder`` as one rulebook and check it as a whole.

    A folder whose ``[book]`` says ``inherits = "shipped"`` has only what differs from the shipped book: see
    :mod:`rules.loading.inheritance` and :mod:`rules.loading.safeguards`.

    Raises RulebookError, naming file and key, for the first fault: TOML that does not parse (a duplicate key is one),
    a missing file, an unknown or missing key, a wrong type, an unknown quantity, source, caution, rule or place, a
    unit that is not the quantity's, an action missing for a stage.
    """
    book = _loaded(folder, folder / "languages")
    _check_marking(book)
    return book


def _loaded(folder: Traversable, languages: Traversable) -> Rulebook:
    """The book in ``folder``, but for its marking scheme; its texts in other languages lie in ``languages``."""
    texts = read_texts(folder)
    tables, unread = parsed(texts)
    identity = tables.get(_BOOK, {}).get("book")
    if isinstance(identity, dict) and "inherits" in identity:
        return _inheriting(tables, texts, languages, unread)
    if unread:
        unread[0].others = tuple(unread[1:])
        raise unread[0]
    return _whole(tables, digest_of(texts), languages)


def _inheriting(
    own: Mapping[str, Table], texts: Mapping[str, str], languages: Traversable, found: list[RulebookError]
) -> Rulebook:
    """The shipped book with what ``own`` changes; its digest covers both.

    ``found`` are faults of files that do not parse.  Raises RulebookError for the first fault, with all others.
    """
    inherited = shipped_rulebook()
    identity: OwnBook | None = None
    try:
        identity = _own_identity(own[_BOOK]["book"], inherited)
    except RulebookError as error:
        found += error.all
    shipped = _shipped_tables()
    digest = digest_of({"inherits": inherited.digest, **texts})

    def load(tables: Mapping[str, Table]) -> Rulebook:
        merged: Merged = merge(tables, shipped)
        if identity is not None:
            merged.tables[_BOOK]["book"] |= {"id": identity.id, "title": identity.title, "version": identity.version}
        book = _whole(merged.tables, digest, languages, f"{inherited.id} {inherited.version}", merged.off)
        check_safeguards(book, inherited)
        _check_marking(book)  # a fault in it is told as one of the yard's book
        return book

    if found:
        raise all_faults(own, shipped, texts, load, found)
    try:
        return load(own)
    except RulebookError as error:
        raise all_faults(own, shipped, texts, load, []) from error


def _own_identity(raw: Table, inherited: Rulebook) -> OwnBook:
    identity = record_of(_BOOK, "book", raw, OwnBook)
    if identity.id == inherited.id:
        raise RulebookError(_BOOK, "book.id", "this is the inherited book's name", "Give the book a name of its own")
    if not f"{inherited.version}.".startswith(f"{identity.inherits_version}."):
        raise RulebookError(
            _BOOK,
            "book.inherits_version",
            f"written over version {identity.inherits_version}, and the shipped book is version {inherited.version}",
            "Read what has changed, put right what needs it, and write the new version",
        )
    return identity


def _shipped_tables() -> Mapping[str, Table]:
    return tables_of(read_texts(_ROOM / "book"))


def _whole(
    tables: Mapping[str, Table],
    digest: str,
    languages: Traversable,
    inherits: str | None = None,
    off: Mapping[str, str] | None = None,
) -> Rulebook:
    """The records of a whole book, checked against one another."""
    for name, sections in _COMMON.items():
        if name not in tables:
            raise RulebookError(name, "(file)", "this file is missing", f"Add {name} to the rulebook's folder")
        check_keys(name, tables[name], sections)
    book = record_of("book.toml", "book", section_of("book.toml", tables["book.toml"], "book"), Book)
    collected = _Collected()
    kept = (_KEPT,) if _KEPT in tables else ()
    for name in ("dimensions.toml", *_criterion_files(tables, book.criteria), *kept, "cross_checks.toml"):
        collected.add(name, tables[name])
    joined, joined_files = records_of("joined.toml", tables["joined.toml"], "joined", JoinedRule)
    for rule_id in joined:
        collected.claim("joined.toml", f"joined.{rule_id}", rule_id)
    required = record_of("book.toml", "required", section_of("book.toml", tables["book.toml"], "required"), Required)
    judges, decisions = _policy(tables["book.toml"])
    rulebook = Rulebook(
        id=book.id,
        title=book.title,
        version=book.version,
        digest=digest,
        inherits=inherits,
        off=MappingProxyType(dict(off or {})),
        levels=records_of("book.toml", tables["book.toml"], "levels", Level)[0],
        judges=judges,
        decisions=decisions,
        required=MappingProxyType({stage: getattr(required, stage) for stage in STAGES}),
        required_when_hot_fitted=required.finished_when_hot_fitted,
        places=records_of("book.toml", tables["book.toml"], "places", Place)[0],
        steps=records_of("book.toml", tables["book.toml"], "steps", Step)[0],
        sources=records_of("sources.toml", tables["sources.toml"], "sources", Source)[0],
        cautions=records_of("cautions.toml", tables["cautions.toml"], "cautions", Caution)[0],
        standing=records_of("cautions.toml", tables["cautions.toml"], "standing", Standing)[0],
        methods=records_of("readings.toml", tables["readings.toml"], "methods", Uncertainty)[0],
        instruments=records_of("readings.toml", tables["readings.toml"], "instruments", Uncertainty)[0],
        eye_words=MappingProxyType(
            {
                quantity: records_of(_EYE_WORDS, tables[_EYE_WORDS], quantity, EyeWord)[0]
                for quantity in tables.get(_EYE_WORDS, ())
            }
        ),
        parameters=records_of("parameters.toml", tables["parameters.toml"], "parameters", Parameter)[0],
        remarks=records_of("parameters.toml", tables["parameters.toml"], "remarks", Standing)[0],
        criteria=MappingProxyType(collected.criteria),
        quantities=MappingProxyType(collected.quantities),
        criterion_of=MappingProxyType(collected.criterion_of),
        rules=MappingProxyType(collected.rules),
        joined=joined,
        marking_table=tables["marking.toml"],
        files=MappingProxyType({**collected.files, **joined_files}),
        languages=languages,
    )
    # The shipped book is checked where it is made, and its digest says that it is the same: to check it anew at every
    # start took 6% of a cold one (85 of 1,357 million instructions).  Every other book is checked here.
    if digest != CHECKED:
        check(rulebook)
    return rulebook


def _policy(table: Table) -> tuple[Judges, Mapping[Stage, NextStep]]:
    """What the book judges and which step follows each stage; both may be left to what the first contract had."""
    judges = record_of(_BOOK, "judges", section_of(_BOOK, table, "judges"), Judges) if "judges" in table else Judges()
    if "decisions" not in table:
        return judges, MappingProxyType({})
    steps = record_of(_BOOK, "decisions", section_of(_BOOK, table, "decisions"), Decisions)
    return judges, MappingProxyType(steps.by_stage)


def _check_marking(book: Rulebook) -> None:
    """Fail for a fault of the marking scheme, which is otherwise read when it is first asked for."""
    marking_of(book)


def _criterion_files(tables: Mapping[str, Table], criteria: tuple[str, ...]) -> list[str]:
    """The files of the criteria in the book's order; every file that is no other part of a book is one of them."""
    names = [f"{criterion}.toml" for criterion in criteria]
    for name in names:
        if name not in tables or names.count(name) > 1:
            problem = f"{name.removesuffix('.toml')!r} has no file of its own"
            raise RulebookError("book.toml", "book.criteria", problem, f"Add {name}, or name each criterion once")
    others = sorted(set(tables) - set(_COMMON) - {_EYE_WORDS, _KEPT} - set(names))
    for name in others:
        if "criterion" in tables[name]:
            remedy = f"Add {name.removesuffix('.toml')!r} where it stands in the order of work"
            raise RulebookError("book.toml", "book.criteria", f"the criterion in {name} is not named", remedy)
    return names + others


class _Collected:
    """Criteria, quantities and rules gathered from several files, each id once in the whole book."""

    def __init__(self) -> None:
        self.criteria: dict[str, Criterion] = {}
        self.quantities: dict[str, Quantity] = {}
        self.criterion_of: dict[str, str] = {}
        self.rules: dict[str, Rule] = {}
        self.files: dict[str, str] = {}

    def add(self, name: str, table: Table) -> None:
        criterion = None
        if name == _KEPT:
            check_keys(name, table, {"quantities"})
        elif name not in _COMMON:
            if "criterion" not in table:
                raise RulebookError(
                    name,
                    "(file)",
                    "no file of a rulebook has this name, and it describes no criterion",
                    f"Take the file out of the folder, or add [criterion] with id = {name.removesuffix('.toml')!r}",
                )
            check_keys(name, table, _CRITERION_SECTIONS)
            criterion = record_of(name, "criterion", section_of(name, table, "criterion"), Criterion)
            if criterion.id != name.removesuffix(".toml"):
                raise RulebookError(name, "criterion.id", f"{criterion.id!r} is not the file's name", "Make them equal")
            self.criteria[criterion.id] = criterion
        quantities, _ = records_of(name, table, "quantities", Quantity)
        for quantity_id, quantity in quantities.items():
            self.claim(name, f"quantities.{quantity_id}", quantity_id)
            self.quantities[quantity_id] = quantity
            if criterion is not None:
                self.criterion_of[quantity_id] = criterion.id
        if "rules" in table:
            rules, _ = records_of(name, table, "rules", Rule)
            for rule_id, rule in rules.items():
                self.claim(name, f"rules.{rule_id}", rule_id)
                self.rules[rule_id] = rule

    def claim(self, name: str, key: str, record_id: str) -> None:
        if record_id in self.files:
            raise RulebookError(
                name, key, f"{record_id!r} already stands in {self.files[record_id]}", "Give each id once in the book"
            )
        self.files[record_id] = name
