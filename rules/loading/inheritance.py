"""A book that inherits another: what it writes, laid over the inherited TOML tables before they become records.

So the merged book is read and checked as strictly as one that was written out whole.  A record of the inherited book
keeps every key that is not overwritten; a figure that is changed needs a source of its own.
"""

from __future__ import annotations

import copy
import difflib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final, NoReturn

from rules.errors import RulebookError

__all__ = ["Merged", "Written", "merge"]

Table = dict[str, Any]
Tables = Mapping[str, Table]
Written = tuple[str, str]
"""The file and the dotted key of a record that a book writes itself."""

_RESTATED: Final = ("status", "sources", "basis")
_OFF: Final = "off"
_NOT_OF_OWN: Final = frozenset({"computed_from", "by_limit_of", "eye_of", "worst_case", "own_way"})
_NAMED_IN: Final = ("findings", "clear_of")


@dataclass(frozen=True, slots=True)
class _Kind:
    """What may be done with the records of one section.

    ``figures``: keys that need ``restated`` when they change; ``fixed``: keys that stay; ``marks``: keys by which a
    record that is added is told from a misspelt name, none where nothing can be added; ``parted``: keys of which each
    part stands by itself.
    """

    figures: frozenset[str] = frozenset()
    restated: tuple[str, ...] = _RESTATED
    fixed: frozenset[str] = frozenset()
    marks: tuple[str, ...] = ()
    parted: frozenset[str] = frozenset()
    changes: bool = True
    switched: bool = False


_KINDS: Final[Mapping[str, _Kind]] = {
    "levels": _Kind(figures=frozenset({"probability"})),
    "places": _Kind(),
    "steps": _Kind(),
    "sources": _Kind(marks=("title",), changes=False),
    "cautions": _Kind(marks=("stops", "text"), fixed=frozenset({"stops"})),
    "standing": _Kind(marks=("text",)),
    "methods": _Kind(figures=frozenset({"u"}), fixed=frozenset({"unit"})),
    "instruments": _Kind(figures=frozenset({"u"}), fixed=frozenset({"unit"})),
    "quantities": _Kind(
        figures=frozenset({"range"}),
        restated=("range_status", "range_basis"),
        marks=("title", "kind", "places", "how"),
        fixed=frozenset(
            {
                "kind",
                "unit",
                "places",
                "words",
                "once",
                "computed_from",
                "by_limit_of",
                "eye_of",
                "own_way",
                "by_eye",
                "also_at",
                "instead_of",
                "worst_case",
                "judged",
            }
        ),
    ),
    "parameters": _Kind(figures=frozenset({"low", "high", "value"}), fixed=frozenset({"unit"})),
    "remarks": _Kind(),
    "marks": _Kind(figures=frozenset({"marks"})),
    "deductions": _Kind(figures=frozenset({"percent"})),
    "bands": _Kind(figures=frozenset({"from", "worst"}), marks=("title", "from", "worst", "meaning")),
    "progress": _Kind(figures=frozenset({"value"})),
    "says": _Kind(),
    "rules": _Kind(
        figures=frozenset(
            {"low", "high", "is", "edge", "fires", "grade", "amount", "blocks", "without", "supersedes", "move"}
        ),
        fixed=frozenset({"quantity", "unit"}),
        marks=("quantity", "grade", "finding", "action"),
        parted=frozenset({"action"}),
        switched=True,
    ),
    "joined": _Kind(
        figures=frozenset({"grade", "when", "blocks", "supersedes", "move"}),
        fixed=frozenset({"criterion"}),
        marks=("criterion", "grade", "when", "finding", "action"),
        parted=frozenset({"action"}),
        switched=True,
    ),
}
_SINGLE: Final[Mapping[str, _Kind]] = {
    "judges": _Kind(fixed=frozenset({"stages", "hoof_forms", "stances", "by_chance"})),
    "decisions": _Kind(fixed=frozenset({"dressed", "hot_fit", "nailed"})),
    "required": _Kind(),
    "criterion": _Kind(fixed=frozenset({"id", "of", "stages"})),
    "scheme": _Kind(figures=frozenset({"total"})),
}
"""Sections that are one record."""

_EYE_WORDS: Final = "eye_words.toml"
_PRINTED: Final = frozenset({"low", "high", "value"})
"""Figures that ``printed`` gives as their source prints them."""


@dataclass(frozen=True, slots=True)
class Merged:
    """The tables of the whole book; ``off`` gives each rule that was switched off with the reason."""

    tables: Mapping[str, Table]
    off: Mapping[str, str]
    written: tuple[Written, ...]


def merge(own: Tables, inherited: Tables) -> Merged:
    """``own`` (without its identity in ``[book]``) over the whole book ``inherited``; neither is changed.

    Raises RulebookError, naming file and key of the own book: a file, section, record or key that is not there to be
    changed, a figure without a source of its own, a critical rule switched off.
    """
    off = dict(_switched_off(own, inherited))
    tables = _without(inherited, off)
    written: list[Written] = []
    for file, table in own.items():
        if file == _EYE_WORDS:
            remedy = "Take the file out; set the grade of the word's rule instead, such as [rules.heel-seen-wide]"
            _fail(file, "(file)", "words of the eye are judged as words since rulebook 2, not as numbers", remedy)
        if file not in inherited:
            remedy = f"Write what changes into one of {', '.join(sorted(inherited))}"
            _fail(file, "(file)", "no file of the inherited book has this name", remedy)
        for section, records in table.items():
            if (file, section) == ("book.toml", "book"):
                continue
            if section not in inherited[file]:
                _fail(file, section, "unknown key", f"Allowed here: {', '.join(sorted(inherited[file]))}")
            _need_table(file, section, records)
            over = tables[file].setdefault(section, {})
            if section in _SINGLE:
                _Record(file, section, _SINGLE[section]).lay(records, over)
                written.append((file, section))
            else:
                _lay_records(file, section, records, over, off)
                written += ((file, f"{section}.{name}") for name in records)
    return Merged(tables, off, tuple(written))


def _lay_records(file: str, section: str, records: Table, over: Table, off: Mapping[str, str]) -> None:
    kind = _KINDS[section]
    for name, record in records.items():
        key = f"{section}.{name}"
        _need_table(file, key, record)
        if kind.switched and name in off:
            continue
        if name not in over:
            _check_added(file, key, kind, record, over)
            over[name] = copy.deepcopy(record)
        elif kind.changes:
            _Record(file, key, kind).lay(record, over[name])
        else:
            problem = "a source of the inherited book stays as it is"
            _fail(file, key, problem, "Give yours a name that is not taken")


class _Record:
    """One record of the inherited book that is written over."""

    def __init__(self, file: str, key: str, kind: _Kind) -> None:
        self._file = file
        self._key = key
        self._kind = kind

    def lay(self, own: Table, over: Table) -> None:
        """Put the keys of ``own`` over those of ``over``."""
        changed = [name for name, value in own.items() if over.get(name) != value]
        for name in changed:
            if name in self._kind.fixed:
                remedy = "Take this key out"
                if self._kind.switched:
                    remedy = "Switch the rule off and add one of your own"
                self._fail(name, "this key stays as the inherited book has it", remedy)
        figures = [name for name in changed if name in self._kind.figures]
        for name in self._kind.restated if figures else ():
            if name not in own:
                self._fail(
                    name,
                    f"{figures[0]} is changed, and the inherited {name} would stand beside your figure",
                    f"State {', '.join(self._kind.restated)} for your figure in [{self._key}]",
                )
        if _PRINTED.intersection(changed) and "printed" not in own:
            over.pop("printed", None)
        for name, value in own.items():
            if name in self._kind.parted and isinstance(value, dict) and isinstance(over.get(name), dict):
                over[name] |= value
            else:
                over[name] = copy.deepcopy(value)

    def _fail(self, name: str, problem: str, remedy: str) -> NoReturn:
        _fail(self._file, f"{self._key}.{name}", problem, remedy)


def _check_added(file: str, key: str, kind: _Kind, record: Table, present: Iterable[str]) -> None:
    """A record that the inherited book does not have is one that may be added, and is meant to be."""
    lacking = [mark for mark in kind.marks if mark not in record]
    if kind.marks and not lacking:
        if kind is _KINDS["quantities"]:
            _check_own_quantity(file, key, record)
        return
    hint = _meant(key.partition(".")[2], present)
    more = f" To add it, give {', '.join(lacking)} and what else it needs" if kind.marks else " Nothing is added here"
    _fail(file, key, "the inherited book has no record of this name", hint + more)


def _check_own_quantity(file: str, key: str, record: Table) -> None:
    """A quantity of a book's own is observed as it stands, on foot, places or nails: nothing computes it."""
    for name in record:
        if name in _NOT_OF_OWN:
            _fail(file, f"{key}.{name}", "a quantity of your own is observed as it stands", "Take this key out")


def _meant(name: str, present: Iterable[str]) -> str:
    names = sorted(present)
    near = difflib.get_close_matches(name, names, n=1)
    return f"Did you mean {near[0]!r}?" if near else f"Known: {', '.join(names) or 'none'}."


def _switched_off(own: Tables, inherited: Tables) -> Iterator[tuple[str, str]]:
    """Each rule that ``own`` switches off, with its reason."""
    for file, table in own.items():
        for section in ("rules", "joined"):
            records = table.get(section)
            for name, record in records.items() if isinstance(records, dict) else ():
                if isinstance(record, dict) and _OFF in record:
                    _check_off(file, section, name, record, inherited.get(file, {}).get(section, {}))
                    yield name, record["basis"]


def _check_off(file: str, section: str, name: str, record: Table, inherited: Tables) -> None:
    key = f"{section}.{name}"
    if name not in inherited:
        problem = "the inherited book has no such rule to switch off in this file"
        _fail(file, key, problem, _meant(name, inherited).rstrip("."))
    if record[_OFF] is not True:
        _fail(file, f"{key}.{_OFF}", "a rule is switched off or left alone", "Write off = true, or take the line out")
    if inherited[name].get("grade") == "critical":
        _fail(
            file,
            f"{key}.{_OFF}",
            "a critical rule is never switched off: the horse would be hurt",
            "Take this table out",
        )
    basis = record.get("basis")
    if not isinstance(basis, str) or not basis.strip():
        _fail(file, f"{key}.basis", "nothing says why the rule is switched off", "Add basis, in one sentence")
    for other in record:
        if other not in {_OFF, "basis"}:
            _fail(file, f"{key}.{other}", "a rule that is switched off has nothing else", "Keep only off and basis")


def _without(inherited: Tables, off: Mapping[str, str]) -> dict[str, Table]:
    """A copy of the inherited tables without the rules in ``off``, and without their names in other rules.

    A rule that was silent where one of them fired speaks there now.
    """
    tables = {file: copy.deepcopy(table) for file, table in inherited.items()}
    where: dict[str, Written] = {}
    for file, section, records in _rules(tables):
        where |= {name: (file, f"{section}.{name}.{_OFF}") for name in off if records.pop(name, None) is not None}
    for quantity in (each for table in tables.values() for each in table.get("quantities", {}).values()):
        if quantity.get("by_limit_of") in off:
            del quantity["by_limit_of"]
    for _, section, records in _rules(tables):
        for rule_id, record in records.items():
            for key in record.keys() & {"unless", "replaces"}:
                record[key] = [name for name in record[key] if name not in off]
            for clause in record["when"] if section == "joined" else ():
                for key in _NAMED_IN:
                    _prune(rule_id, record["grade"], clause, key, where)
    return tables


def _rules(tables: Tables) -> Iterator[tuple[str, str, Table]]:
    """File, section and records of every section that holds rules."""
    for file, table in tables.items():
        for section in ("rules", "joined"):
            if section in table:
                yield file, section, table[section]


def _prune(rule_id: str, grade: str, clause: Table, key: str, where: Mapping[str, Written]) -> None:
    """Take the rules that are off out of what a joined rule rests on."""
    gone = [name for name in clause.get(key, ()) if name in where]
    if not gone:
        return
    clause[key] = [name for name in clause[key] if name not in where]
    if grade == "critical" and key == "findings":
        _fail(*where[gone[0]], f"the critical rule {rule_id!r} rests on it", "Take this table out")
    if not clause[key]:
        _fail(
            *where[gone[0]],
            f"nothing is left of what {rule_id!r} rests on",
            f"Switch {rule_id!r} off too, with the reason",
        )


def _need_table(file: str, key: str, value: object) -> None:
    if not isinstance(value, dict):
        _fail(file, key, "not a table", f"Write [{key}]")


def _fail(file: str, key: str, problem: str, remedy: str) -> NoReturn:
    raise RulebookError(file, key, problem, remedy)
