"""Kept fittings assessed again under another rulebook, and what of the kept answers would change.

The report is lines of JSON: a head that says which store and which rulebook, a line for each record in the order of
numbers, and at the end what all of them come to. A report that was broken off is gone on with from its last whole line.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, BinaryIO, Final, NamedTuple

from fitcheck.assessment.assess import assess
from fitcheck.assessment.following import Following, completed_fitting
from fitcheck.assessment.models import Assessment
from fitcheck.errors import BadInput, FitcheckError
from fitcheck.fitting.strict_json import loads
from fitcheck.records.record import Record, RecordFilter
from fitcheck.records.store import Store
from fitcheck.report.comparison_text import case_document
from fitcheck.rulebooks.compare import CaseCompared, compare_answers
from fitcheck.rulebooks.selection import book_as_stored
from fitcheck.stored.assessment import Unreadable, assessment_of
from fitcheck.stored.cause import CAUSES, Cause, cause_of
from rules import EngineFault, Rulebook
from rules.analysis.difference import Difference

__all__ = ["Place", "Regraded", "Regrading", "ReportRefused", "Totals", "resumed"]

_LONGEST_LINE: Final = 64 * 1024 * 1024
_FORM: Final = 2
_HEAD, _RECORD, _SUMMARY = "regrade", "number", "summary"
_BEGIN: Final = b'{"regrade":'


class ReportRefused(FitcheckError):
    """The report is none, or it is of another store, another rulebook or other records."""


class Regraded(NamedTuple):
    """What came of one record: ``case``, or else why there is none."""

    record: Record
    case: CaseCompared | None
    erased: bool = False
    problem: str | None = None
    causes: Mapping[str, Cause] = MappingProxyType({})
    """Why each finding of the case is new, gone or another, by its id."""


@dataclass(slots=True)
class Totals:
    """What all records of a report come to; also from its lines, so that one that is gone on with counts all."""

    records: int = 0
    unchanged: int = 0
    erased: int = 0
    failed: int = 0
    decisions: Counter[str] = field(default_factory=Counter)
    """``release to put_right``, for each pair of decisions that are not the same."""
    rules: dict[str, Counter[str]] = field(default_factory=dict)
    """For each rule, how many findings of it are new, gone and changed."""
    causes: Counter[Cause] = field(default_factory=Counter)
    """How many findings differ by a reading that was not there, by how it is measured, by the book."""

    def add(self, line: Mapping[str, Any]) -> None:
        """Count a record's line in."""
        self.records += 1
        if line.get("erased"):
            self.erased += 1
        elif "problem" in line:
            self.failed += 1
        else:
            self.unchanged += not line["changes"]
            before, after = line["decision"]["before"], line["decision"]["after"]
            if before != after:
                self.decisions[f"{before} to {after}"] += 1
            for finding in line["findings"]:
                rule = finding["id"].partition("@")[0]
                self.rules.setdefault(rule, Counter())[finding["change"]] += 1
                self.causes[finding["cause"]] += 1

    def document(self) -> dict[str, Any]:
        """As JSON values."""
        return {
            "records": self.records,
            "unchanged": self.unchanged,
            "erased": self.erased,
            "failed": self.failed,
            "decisions": dict(sorted(self.decisions.items())),
            "causes": {cause: self.causes[cause] for cause in CAUSES},
            "rules": {
                rule: {how: counts[how] for how in ("new", "gone", "changed")}
                for rule, counts in sorted(self.rules.items())
            },
        }


class Regrading:
    """Assesses under ``book`` the fittings of the records of ``store`` that ``record_filter`` asks for."""

    def __init__(self, store: Store, book: Rulebook, record_filter: RecordFilter) -> None:
        self._store = store
        self.book: Final = book
        self._filter = record_filter
        self.difference: Final = Difference(book, book, ())
        """For the texts of what changes: the book that judges now names the places."""

    def head(self) -> dict[str, Any]:
        """The report's first line: it says of which store, under which book, and of which records it is."""
        first = self._store.following(0, 1)
        record_filter = {name: getattr(self._filter, name) for name in RecordFilter.__dataclass_fields__}
        return {
            _HEAD: _FORM,
            "store": first[0].digest if first else None,
            "rulebook": {"id": self.book.id, "version": self.book.version, "digest": self.book.digest},
            "wanted": {name: value for name, value in record_filter.items() if value is not None},
        }

    def each(self, *, after: int = 0, last: int | None = None) -> Iterator[Regraded]:
        """What comes of each record beyond number ``after`` and up to ``last``, one at a time in memory.

        Raises StoreError.
        """
        for record in self._store.each_record(self._filter, after=after, last=last):
            yield self._one(record)

    def last(self) -> int:
        """The number of the last record that there is."""
        return self._store.head().number

    def knows(self, number: object, digest: object) -> bool:
        """Whether the store has a record of that number and digest."""
        if not isinstance(number, int):
            return False
        found = self._store.following(number - 1, 1)
        return bool(found) and (found[0].number, found[0].digest) == (number, digest)

    def line(self, regraded: Regraded) -> dict[str, Any]:
        """The report's line on a record."""
        record = regraded.record
        line: dict[str, Any] = {
            _RECORD: record.number,
            "id": record.id,
            "digest": record.digest,
            "rulebook": {"version": record.rulebook_version, "digest": record.rulebook_digest},
        }
        if regraded.case is not None:
            document = case_document(regraded.case, self.difference)
            for finding in document["findings"]:
                finding["cause"] = regraded.causes[finding["id"]]
            return line | {key: value for key, value in document.items() if key not in {"case", "why"}}
        return line | ({"erased": True} if regraded.erased else {"problem": regraded.problem})

    def _one(self, record: Record) -> Regraded:
        if record.erased:
            return Regraded(record, None, erased=True)
        try:
            before = assessment_of(record)
        except Unreadable:
            return Regraded(record, None, problem="The kept answer is not one that this fitcheck can read.")
        after: Assessment | BadInput
        carried = before.carried
        try:
            fitting = completed_fitting(loads(record.received), carried or (), self.book.original or self.book)
            after = assess(
                fitting if carried is None else Following(fitting, carried, None),
                book_as_stored(self.book, before.language),
            )
        except BadInput as error:
            after = error
        except EngineFault as error:
            return Regraded(record, None, problem=f"This fitting could not be assessed: {error}.")
        case = compare_answers(record.id, before, after, self.book)
        if isinstance(after, BadInput):
            return Regraded(record, case)
        causes = {change.id: cause_of(change, before, after) for change in case.findings}
        return Regraded(record, case, causes=causes)


class Place(NamedTuple):
    """Where a report goes on: beyond the record of ``number``, after so many bytes of it, with what came before."""

    number: int
    size: int
    totals: Totals


def resumed(stream: BinaryIO, regrading: Regrading) -> Place:
    """The place where a report of ``regrading`` was broken off.

    A line that is not whole counts as not there, and so does a summary. Raises ReportRefused where the report is of
    something else, or has a line that is none of its own.
    """
    totals = Totals()
    size = 0
    last: dict[str, Any] = {}
    for number, raw in enumerate(iter(lambda: stream.readline(_LONGEST_LINE), b""), 1):
        if number == 1 and raw[: len(_BEGIN)] != _BEGIN[: len(raw)]:
            raise ReportRefused("This is no report of fitcheck regrade.")
        if not raw.endswith(b"\n"):
            break
        line = _line(raw, number)
        if number == 1:
            _require_same(line, regrading.head())
        elif _SUMMARY in line:
            break
        else:
            try:
                totals.add(line)
                last = {key: line[key] for key in (_RECORD, "digest")}
            except (KeyError, TypeError, AttributeError):
                raise ReportRefused(f"Line {number} of the report is none that fitcheck wrote.") from None
        size += len(raw)
    if last and not regrading.knows(last[_RECORD], last["digest"]):
        raise ReportRefused("The last record of the report is not in the store as it is now. Write a new report.")
    return Place(last.get(_RECORD, 0), size, totals)


def _line(raw: bytes, number: int) -> dict[str, Any]:
    try:
        line = json.loads(raw)
    except ValueError:
        line = None
    if not isinstance(line, dict):
        raise ReportRefused(f"Line {number} of the report is none that fitcheck wrote.")
    return line


def _require_same(found: Mapping[str, Any], head: Mapping[str, Any]) -> None:
    for key, what in (("store", "store"), ("rulebook", "rulebook"), ("wanted", "choice of records"), (_HEAD, "form")):
        if found.get(key) != head[key]:
            raise ReportRefused(f"The report was made with another {what}. Go on with the same, or write a new report.")
