"""The work in parts: what a worker is sent, and what it answers.

A part says by which rulebook it is judged, by name and digest: a worker that has another one under that name refuses
the part, so that one answer never mixes two rulebooks.
"""

from __future__ import annotations

import hashlib
import json
import uuid
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import islice
from typing import TYPE_CHECKING, Any, Final, TypeVar

from fitcheck.assessment.assess import assess
from fitcheck.bulk.errors import OtherRulebook
from fitcheck.errors import BadInput
from fitcheck.fitting.strict_json import loads
from fitcheck.fitting.validation import parse_fitting
from fitcheck.records.record import RecordFilter
from fitcheck.records.store import open_store
from fitcheck.rulebooks.selection import book_named, localized_book
from fitcheck.stored.regrade import Regrading
from rules import EngineFault, Rulebook

if TYPE_CHECKING:
    from fitcheck.bulk.cluster import Cluster

__all__ = [
    "BookName",
    "LinePart",
    "RecordPart",
    "assess_part",
    "in_order",
    "line_parts",
    "record_parts",
    "regrade_part",
]

_Part = TypeVar("_Part")
_Answer = TypeVar("_Answer")

LINES: Final = 200
"""Fittings of a part: some 0.3 s of work, so that sending it costs little and a lost one is soon done again."""
RECORDS: Final = 500
"""Numbers of a part of a store."""
_IDS: Final = uuid.UUID("6f1a4be8-6d0b-5f0e-9a53-3b8f5f3c2d10")


@dataclass(frozen=True, slots=True)
class BookName:
    """A rulebook as every worker can find it: its name or folder, its digest, and the language that is told in."""

    name: str
    digest: str
    language: str | None = None

    def book(self) -> Rulebook:
        """The rulebook. Raises OtherRulebook, and rules.RulebookError where it does not load."""
        book = _book(self.name, self.language)
        if book.digest != self.digest:
            raise OtherRulebook(
                f"The rulebook {self.name} of this worker is {book.digest}, not {self.digest}. Put the "
                "same rulebook and the same fitcheck on every machine."
            )
        return book


@lru_cache(maxsize=8)
def _book(name: str, language: str | None) -> Rulebook:
    return localized_book(book_named(name), language)


@dataclass(frozen=True, slots=True)
class LinePart:
    """Fittings as lines of JSON, the first being number ``first`` (from 1); ``created`` is that of all answers."""

    first: int
    lines: tuple[bytes, ...]
    book: BookName
    created: str


@dataclass(frozen=True, slots=True)
class RecordPart:
    """The kept assessments of a store with numbers beyond ``after`` and up to ``last``."""

    after: int
    last: int
    store: str
    record_filter: RecordFilter
    book: BookName


def line_parts(lines: Iterable[bytes], book: BookName, created: str, *, done: int = 0) -> Iterator[LinePart]:
    """All ``lines`` in parts; ``done``: so many of them are answered already."""
    first = 1
    source = iter(lines)
    while part := tuple(islice(source, LINES)):
        left = part[max(0, done + 1 - first) :]
        if left:
            yield LinePart(first + len(part) - len(left), left, book, created)
        first += len(part)


def record_parts(
    last: int, store: str, record_filter: RecordFilter, book: BookName, *, after: int = 0
) -> Iterator[RecordPart]:
    """The records beyond ``after`` and up to number ``last`` in parts."""
    for number in range(after, last, RECORDS):
        yield RecordPart(number, min(number + RECORDS, last), store, record_filter, book)


def assess_part(part: LinePart) -> list[bytes]:
    """One line of JSON for each fitting: its ``line`` and its ``assessment``, or the ``problem`` with it.

    The id of an assessment follows from line, number and rulebook, so that the same work has the same answer wherever
    it is done.  A blank line has no answer but its number.  Raises OtherRulebook.
    """
    book = part.book.book()
    return [_line(number, raw, part, book) for number, raw in enumerate(part.lines, part.first)]


def _line(number: int, raw: bytes, part: LinePart, book: Rulebook) -> bytes:
    if not raw.strip():
        return b'{"line":%d}' % number
    try:
        assessment = assess(parse_fitting(loads(raw), book.original or book), book)
    except BadInput as error:
        return _problem(number, "bad-input", [problem.as_dict() for problem in error.problems])
    except EngineFault as error:
        return _problem(number, "not-assessed", [{"detail": f"This fitting could not be assessed: {error}."}])
    digest = hashlib.sha256(b"%s %d " % (part.book.digest.encode(), number) + raw.strip()).hexdigest()
    named = assessment.model_copy(update={"id": str(uuid.uuid5(_IDS, digest)), "created": part.created})
    return b'{"line":%d,"assessment":%s}' % (number, named.model_dump_json().encode())


def _problem(number: int, kind: str, errors: list[dict[str, Any]]) -> bytes:
    line = {"line": number, "problem": {"type": kind, "errors": errors}}
    return json.dumps(line, ensure_ascii=True, separators=(",", ":")).encode()


def regrade_part(part: RecordPart) -> list[bytes]:
    """The lines of a report of regrading on these records. Raises OtherRulebook and StoreError."""
    with open_store(part.store, create=False) as store:
        regrading = Regrading(store, part.book.book(), part.record_filter)
        return [
            json.dumps(regrading.line(each), ensure_ascii=False, separators=(",", ":")).encode()
            for each in regrading.each(after=part.after, last=part.last)
        ]


def in_order(
    function: Callable[[_Part], _Answer], parts: Iterable[_Part], cluster: Cluster | None = None
) -> Iterator[_Answer]:
    """What ``function`` answers to each of ``parts``, in their order: by ``cluster`` (entered), or here.

    Raises what ``function`` does, and ClusterLost.
    """
    return map(function, parts) if cluster is None else cluster.map(function, parts)
