"""Proves that a store's records are those that were kept, or says which are not.

Anyone who can write to the database can also rewrite the whole chain, with its head. Only a head that was noted
elsewhere shows that: hand it in as ``expected``.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Generator, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Final, Literal

import sqlalchemy as sa

from fitcheck.records.chain import content_digest, record_digest
from fitcheck.records.guards import faulty_guards
from fitcheck.records.record import GENESIS, Head
from fitcheck.records.store import Store
from fitcheck.records.tables import PERSONAL, beside_content, contents, idempotency, records, request_seal
from fitcheck.records.tables import head as head_table

__all__ = ["Fault", "FaultKind", "Walk", "at_the_end", "faults_in", "faults_of_range", "verify"]

FaultKind = Literal[
    "missing",
    "edited",
    "content",
    "content-missing",
    "not-erased",
    "link",
    "inserted",
    "head",
    "expected",
    "damaged",
    "guard",
    "request",
    "key",
]


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong: with the record of which ``number`` (0: with the store), of what ``kind``, and in words."""

    number: int
    kind: FaultKind
    detail: str

    def __str__(self) -> str:
        return f"{self.number}: {self.detail}"


_AT_ONCE: Final = 200
_BEFORE_ALL: Final = -(2**63)
_AFTER_ALL: Final = 2**63 - 1
# Without the types' own reading of values, which a value of another type would break off.
_RAW: Final = sa.types.NullType()
_AFTER: Final[sa.BindParameter[int]] = sa.bindparam("after")
_LAST: Final[sa.BindParameter[int]] = sa.bindparam("last")


def _every(*bounds: sa.ColumnElement[bool]) -> sa.Select[Any]:
    columns: list[sa.ColumnElement[Any]] = [
        *(sa.type_coerce(column, _RAW).label(column.name) for column in records.c),
        contents.c.number.label("content_number"),
        *(sa.type_coerce(contents.c[name], _RAW).label(name) for name in ("salt", "received", "answer")),
    ]
    return sa.select(*columns).outerjoin_from(records, contents, beside_content(*bounds))


_PAGE: Final = (
    _every(contents.c.number > _AFTER, contents.c.number <= _LAST)
    .where(records.c.number > _AFTER, records.c.number <= _LAST)
    .order_by(records.c.number)
    .limit(_AT_ONCE)
)
_BEFORE: Final = (
    _every(contents.c.number <= _AFTER)
    .where(records.c.number > 0, records.c.number <= _AFTER)
    .order_by(records.c.number.desc())
    .limit(1)
)
_ERASURES: Final = (
    sa.select(records.c.number, sa.type_coerce(contents.c.answer, _RAW))
    .join_from(records, contents)
    .where(records.c.kind == "erasure")
    .order_by(records.c.number)
)
_HEAD: Final = sa.select(head_table.c.number, head_table.c.digest)
_CHECK_FILE: Final = "PRAGMA integrity_check(1)"
_REQUESTS: Final = (
    sa.select(
        idempotency.c.number,
        *(sa.type_coerce(idempotency.c[name], _RAW) for name in ("scope", "key", "body_digest")),
        sa.type_coerce(records.c.digest, _RAW),
        sa.type_coerce(idempotency.c.seal, _RAW),
    )
    .join_from(idempotency, records)
    .where(idempotency.c.seal.is_not(None))
    .order_by(idempotency.c.number)
)
"""Those that were noted since there is a seal."""
_REQUESTS_OF_NOTHING: Final = (
    sa.select(idempotency.c.number)
    .where(~sa.exists().where(contents.c.number == idempotency.c.number))
    .order_by(idempotency.c.number)
)
_LOOSE: Final = (
    sa.select(contents.c.number)
    .where(~sa.exists().where(records.c.number == contents.c.number))
    .order_by(contents.c.number)
)


def verify(
    store: Store, *, expected: Head | None = None, on_progress: Callable[[int, int], None] = lambda _done, _total: None
) -> Iterator[Fault]:
    """Every fault of the store, as it stands at the beginning, in the order of numbers; none if all is as it was kept.

    ``expected`` is a head noted earlier; ``on_progress`` is told how many records were looked at, and of how many.

    Raises StoreError. Costs the reading of every record, a few hundred at a time.
    """
    with store.snapshot() as connection:
        yield from faults_in(connection, expected=expected, on_progress=on_progress)


def faults_in(
    connection: sa.Connection,
    *,
    expected: Head | None = None,
    on_progress: Callable[[int, int], None] = lambda _done, _total: None,
) -> Iterator[Fault]:
    """The same of what the connection sees."""
    head = _head(connection)
    total = 0 if head is None else head.number
    walk = yield from faults_of_range(
        connection, expected=expected, on_record=lambda done: on_progress(done, max(done, total))
    )
    yield from at_the_end(connection, walk)


def faults_of_range(
    connection: sa.Connection,
    *,
    after: int = _BEFORE_ALL,
    last: int = _AFTER_ALL,
    expected: Head | None = None,
    on_record: Callable[[int], None] = lambda _done: None,
) -> Generator[Fault, None, Walk]:
    """The faults of the records with numbers beyond ``after`` and up to ``last``; returns where the walk came to.

    The first is held against the record before it, so that ranges which meet have all faults, each once.  ``on_record``
    is told how many were looked at.
    """
    walk = Walk(_erasures(connection), expected)
    if after > 0 and (before := connection.execute(_BEFORE, {"after": after}).one_or_none()) is not None:
        walk.pass_over(before._asdict())
    done = 0
    while rows := connection.execute(_PAGE, {"after": after, "last": last}).all():
        for row in rows:
            yield from walk.faults_of(row._asdict())
            done += 1
            on_record(done)
        after = rows[-1].number
    return walk


def at_the_end(connection: sa.Connection, walk: Walk) -> Iterator[Fault]:
    """What is wrong with the end that a walk came to, and with what stands beside the records."""
    yield from walk.faults_at_the_end(_head(connection))
    for number in connection.execute(_LOOSE).scalars():
        yield Fault(number, "inserted", "There is a content of that number, and no record.")
    for number in connection.execute(_REQUESTS_OF_NOTHING).scalars():
        yield Fault(number, "request", "An idempotency key names it, and it has no content.")
    for number, *sealed, seal in connection.execute(_REQUESTS):
        if request_seal(*sealed) != seal:
            yield Fault(number, "request", "Its idempotency key is not as it was noted: its seal is another.")
    for name in faulty_guards(connection):
        yield Fault(0, "guard", f"The trigger {name} is missing, off, or another: records can be changed unnoticed.")
    if connection.dialect.name == "sqlite" and connection.exec_driver_sql(_CHECK_FILE).scalar_one() != "ok":
        yield Fault(0, "damaged", "The file is damaged where records are looked up: restore it from a backup.")


def _head(connection: sa.Connection) -> Head | None:
    row = connection.execute(_HEAD).one_or_none()
    return None if row is None else Head(row[0], row[1])


def _erasures(connection: sa.Connection) -> dict[int, int]:
    """The number of each record that was erased, with that of the erasure."""
    erased: dict[int, int] = {}
    for number, answer in connection.execute(_ERASURES):
        try:
            named = json.loads(answer)["erased"]
            erased.update((one, number) for one in named if isinstance(one, int) and one < number)
        except (ValueError, TypeError, KeyError):
            # It names nothing; that it was edited comes to light with its own digest.
            continue
    return erased


@dataclass(slots=True)
class Walk:
    """Goes through the records in order and holds each against the one before it."""

    erased: Mapping[int, int]
    expected: Head | None
    last: int = 0
    last_digests: frozenset[str] = frozenset({GENESIS})
    """The digest that the last record has, and the one that it should have."""
    expected_met: bool = field(default=False)

    def pass_over(self, row: Mapping[str, Any]) -> None:
        """Go on beyond this record, whose own faults are told elsewhere."""
        self._follow(row, _attempted(lambda: record_digest(row)))

    def _follow(self, row: Mapping[str, Any], proper: str | None) -> None:
        self.last = row["number"]
        self.last_digests = frozenset({row["digest"], proper or row["digest"]})

    def faults_of(self, row: Mapping[str, Any]) -> Iterator[Fault]:
        """The faults of the next record."""
        number = row["number"]
        if number < 1:
            yield Fault(number, "inserted", "Numbers begin at 1.")
            return
        gap = number - self.last - 1
        if gap:
            yield self._missing(number - 1)
        elif row["previous"] not in self.last_digests:
            before = f"number {self.last}" if self.last else "the beginning"
            yield Fault(number, "link", f"It does not follow {before}: one of them was put in another's place.")
        proper = _attempted(lambda: record_digest(row))
        if proper != row["digest"]:
            yield Fault(number, "edited", "The record is not the one that was kept: its digest is another.")
        yield from self._content_faults(number, row)
        self._follow(row, proper)
        yield from self._expected_faults(number)

    def _missing(self, to: int) -> Fault:
        first = self.last + 1
        which = f"Record {first} is" if first == to else f"Records {first} to {to} are"
        return Fault(first, "missing", f"{which} missing.")

    def _content_faults(self, number: int, row: Mapping[str, Any]) -> Iterator[Fault]:
        by = self.erased.get(number)
        if row["content_number"] is None:
            if by is None:
                yield Fault(number, "content-missing", "Its content is gone, and no erasure names it.")
            elif any(row[name] is not None for name in PERSONAL):
                yield Fault(number, "edited", f"Erasure {by} names it, yet something stands again in what was cleared.")
            return
        if by is not None:
            yield Fault(number, "not-erased", f"Erasure {by} names it, yet its content is there.")
        found = _attempted(lambda: content_digest(row["salt"], row["received"], row["answer"], row))
        if found != row["content_digest"]:
            what = f"body, answer, {', '.join(PERSONAL[:-1])} or {PERSONAL[-1]}"
            yield Fault(number, "content", f"Its {what} is not what was kept: the content's digest is another.")

    def _expected_faults(self, number: int) -> Iterator[Fault]:
        if self.expected is not None and number == self.expected.number:
            self.expected_met = True
            if self.expected.digest not in self.last_digests:
                yield Fault(number, "expected", "Its digest is not the one that was noted: the chain was written anew.")

    def faults_at_the_end(self, head: Head | None) -> Iterator[Fault]:
        """What is wrong with the head, and with the one that was noted."""
        if head is None:
            yield Fault(0, "head", "The head of the chain is lost.")
        elif head.number > self.last:
            yield self._missing(head.number)
        elif head.number < self.last:
            yield Fault(head.number + 1, "inserted", f"The head is {head.number}, yet records go on to {self.last}.")
        elif head.digest not in self.last_digests:
            yield Fault(self.last, "head", "The head's digest is not that of the last record.")
        if self.expected is not None and self.expected.number > 0 and not self.expected_met:
            gone = "This head was noted, and there is no such record now: the end was cut off."
            yield Fault(self.expected.number, "expected", gone)


def _attempted(digest: Callable[[], str]) -> str | None:
    """The digest; None where a column holds what can have none."""
    try:
        return digest()
    except (ValueError, TypeError):
        return None
