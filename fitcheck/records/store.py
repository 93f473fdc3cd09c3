"""The store of records: what is once kept stays, numbered and chained, and can be proved unchanged."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import astuple
from itertools import islice
from pathlib import Path
from types import TracebackType
from typing import Any, Final, NamedTuple, Self, TypeVar

import sqlalchemy as sa

from fitcheck.records.appending import append, append_each, earlier, held_head, note_origins, plain_head
from fitcheck.records.databases import (
    address_of,
    engine_for,
    file_of,
    reading_at_once,
    shown,
    try_writing,
    writing,
)
from fitcheck.records.erasure import erase_person, mentions_of
from fitcheck.records.errors import MayBeRepeatedError, StoreError, StoreUnavailable, TooManyRecords, translated
from fitcheck.records.listing import count, listed
from fitcheck.records.opened_file import OpenedFile, count_transaction
from fitcheck.records.record import Draft, Head, Idempotency, Record, RecordFilter, StoredRecord
from fitcheck.records.schema import prepare
from fitcheck.records.sweeping import sweep
from fitcheck.records.tables import (
    BY_ID,
    BY_IDS,
    CORRECTIONS,
    FOLLOWING,
    HAND_MARKS,
    KNOWN_IDS,
    ORIGINS,
    OVERRIDES,
    parts_of,
    records_of,
)

__all__ = ["Erasure", "Store", "open_store"]

_Result = TypeVar("_Result")
_TURN_SECONDS: Final = 30
_TRIES: Final = 5
_RECORDS_AT_ONCE: Final = 100


def open_store(url: str, *, create: bool = True) -> Store:
    """The store at ``url``, its tables made or brought up to date.

    ``url`` is ``sqlite:////folder/file``, ``sqlite:///file`` or ``postgresql://user@server/database``. With ``create``
    False there must be a store. Raises StoreError.
    """
    address = address_of(url)
    file = file_of(address)
    if file is not None:
        address = address.set(database=str(file))
    engine = engine_for(address)
    opened = None if file is None else OpenedFile(engine, file)
    try:
        with translated():
            prepare(engine, file, create=create)
    except BaseException:
        engine.dispose()
        raise
    return Store(engine, shown(address), file, opened)


class Erasure(NamedTuple):
    """What came of erasing a person."""

    record: Record
    """It names the numbers that were erased, and the reason."""
    left: tuple[str, ...]
    """What still lies on the disk and how it goes, in sentences; none where nothing was found."""
    mentions: tuple[str, ...]
    """Where the id still stands in what is of others, in sentences."""


class Store:
    """Records in a database. Safe for many threads; every method raises StoreError."""

    def __init__(self, engine: sa.Engine, url: str, file: Path | None, opened: OpenedFile | None) -> None:
        self.url: Final = url
        """Where the records lie, without the password."""
        self.file: Final = file
        """The file of SQLite; None for PostgreSQL."""
        self._engine = engine
        self._opened = opened
        self._writer = writing(engine)
        self._turn = threading.Lock()

    def keep(self, draft: Draft, idempotency: Idempotency | None = None) -> StoredRecord:
        """Keep one record; it is on disk when this returns.

        With ``idempotency``, a request that came before is not kept twice: its record comes back, not fresh. Raises
        KeyReused, UnknownRecord (``draft.about``; for an override also where that was erased), AlreadyCorrected,
        VisitOfAnotherHorse, AlreadyStored.
        """
        [outcome] = self.keep_each([(draft, idempotency)])
        if isinstance(outcome, StoreError):
            raise outcome
        return outcome

    def keep_each(self, requests: Sequence[tuple[Draft, Idempotency | None]]) -> list[StoredRecord | StoreError]:
        """Keep all of them, in one transaction, but for those that something stands against: what came of each.

        That is what ``keep`` returns or raises for it; AlreadyStored is raised, and then none was kept.
        """
        return self._write(lambda connection: append_each(connection, held_head(connection), requests))

    def keep_many(self, drafts: Sequence[Draft], *, origins: Sequence[str] = ()) -> list[Record]:
        """Keep all of them in their order, or none. Raises what ``keep`` does.

        ``origins``, one for each of the ``drafts`` where they are imported, says which of them come from one store.
        """

        def work(connection: sa.Connection) -> list[Record]:
            appended = append(connection, held_head(connection), drafts)
            note_origins(connection, appended, origins)
            return appended

        return self._write(work)

    def answered(self, idempotency: Idempotency) -> Record | None:
        """What an earlier request of this key kept, to be looked up before assessing. Raises KeyReused."""
        with self.reading() as connection:
            return earlier(connection, idempotency)

    def record(self, id: str) -> Record | None:  # noqa: A002  (the field's name in the contract)
        """The record of that id."""
        found = self._rows(BY_ID, {"wanted_id": id})
        return found[0] if found else None

    def records(
        self, record_filter: RecordFilter, *, after: int | None = None, newest_first: bool = True, limit: int
    ) -> list[Record]:
        """At most ``limit`` of the records wanted, in the order of numbers; ``after``: beyond that number."""
        if _cannot_be_found(astuple(record_filter)):
            return []
        with self.reading() as connection:
            return listed(connection, record_filter, after=after, newest_first=newest_first, limit=limit)

    def count(self, record_filter: RecordFilter) -> int:
        """How many records are wanted."""
        if _cannot_be_found(astuple(record_filter)):
            return 0
        with self.reading() as connection:
            return count(connection, record_filter)

    def each_record(
        self, record_filter: RecordFilter, *, after: int = 0, last: int | None = None, most: int | None = None
    ) -> Iterator[Record]:
        """The records wanted beyond number ``after``, oldest first, up to ``last``: without it, all that there are.

        Only a few of them are in memory at a time. Raises TooManyRecords once there are more than ``most``.
        """
        found = self._each(record_filter, after, self.head().number if last is None else last)
        yield from islice(found, most)
        if next(found, None) is not None:
            raise TooManyRecords(most or 0)

    def _each(self, record_filter: RecordFilter, number: int, last: int) -> Iterator[Record]:
        while page := self.records(record_filter, after=number, newest_first=False, limit=_RECORDS_AT_ONCE):
            for record in page:
                if record.number > last:
                    return
                yield record
            number = page[-1].number

    def records_named(self, ids: Iterable[str]) -> Iterator[Record]:
        """The records of these ids, a few at a time in memory; what is not there is left out."""
        for part in parts_of(ids, _RECORDS_AT_ONCE):
            yield from self._rows(BY_IDS, {"ids": part})

    def known_ids(self, ids: Iterable[str]) -> set[str]:
        """Those of the ``ids`` that are of a record here, erased ones too."""
        with self.reading() as connection:
            return {id_ for part in parts_of(ids) for id_ in connection.execute(KNOWN_IDS, {"ids": part}).scalars()}

    def origins_of(self, ids: Iterable[str]) -> dict[str, str]:
        """Where the imported ones of the ``ids`` come from: those of one store have one origin."""
        with self.reading() as connection:
            return {id_: origin for part in parts_of(ids) for id_, origin in connection.execute(ORIGINS, {"ids": part})}

    def corrections_of(self, ids: Iterable[str]) -> dict[str, list[str]]:
        """For each of the ``ids`` that was corrected, the ids of the assessments that do so, in their order."""
        found: dict[str, list[str]] = {}
        with self.reading() as connection:
            for part in parts_of(ids):
                for about, id_ in connection.execute(CORRECTIONS, {"ids": part}):
                    found.setdefault(about, []).append(id_)
        return found

    def overrides_about(self, ids: Iterable[str]) -> list[Record]:
        """Every override of the assessments of these ids, erased ones too, in the order of keeping."""
        return self._each_about(OVERRIDES, ids)

    def hand_marks_about(self, ids: Iterable[str]) -> list[Record]:
        """All marks by hand of the assessments of these ids, erased ones too, in the order of keeping."""
        return self._each_about(HAND_MARKS, ids)

    def _each_about(self, statement: sa.Select[Any], ids: Iterable[str]) -> list[Record]:
        with self.reading() as connection:
            found = [
                record for part in parts_of(ids) for record in records_of(connection.execute(statement, {"ids": part}))
            ]
        return sorted(found, key=lambda record: record.number)

    def following(self, number: int, limit: int) -> list[Record]:
        """At most ``limit`` records after ``number``, in their order: none that comes later has a lower number."""
        return self._rows(FOLLOWING, {"after": number, "most": limit})

    def head(self) -> Head:
        """The last record's number and digest; number 0 and GENESIS without any."""
        with self.reading() as connection:
            return plain_head(connection)

    def try_writing(self) -> None:
        """Learn whether a record could be kept just now; nothing that is kept changes, and it waits about a second.

        Raises StoreUnavailable where the database does not answer or another program holds it locked, StoreReadOnly,
        StoreFull, StoreReplaced.
        """
        self.require_same_file()
        with translated():
            try_writing(self._engine)

    def erase(self, person: str, *, reason: str, created: str) -> Erasure | None:
        """Erase a person's name, and the contents of all records where they fitted or assessed or that are about these.

        None where there was nothing to erase. Waits some seconds for readers to let go of what is on the disk. Raises
        ErasureRefused where ``reason`` names the person.
        """
        erased = self._write(lambda connection: erase_person(connection, person, reason=reason, created=created))
        if erased is None:
            return None
        left = sweep(self._engine, self.file, erased.salts)
        with self.snapshot() as connection:
            return Erasure(erased.record, tuple(left), tuple(mentions_of(connection, person)))

    def sweep(self) -> list[str]:
        """Take off the disk whatever was erased, writing the database anew; what is left, in sentences."""
        return sweep(self._engine, self.file, set(), thorough=True)

    @property
    def address(self) -> str:
        """Where another process can open it: with the password, and so never to be shown."""
        return self._engine.url.render_as_string(hide_password=False)

    @contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """A connection to read from."""
        with translated(), self._engine.connect() as connection:
            yield connection

    @contextmanager
    def snapshot(self) -> Iterator[sa.Connection]:
        """A connection to read much from, all of it as it stands at the first reading."""
        with translated(), reading_at_once(self._engine) as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[sa.Connection]:
        """A connection to write to, in one transaction: nothing of it stays where the block raises.

        Raises StoreReplaced where it went, or would go, into a file that nobody finds any more.
        """
        with translated(), self._writer.connect() as connection:
            with connection.begin():
                yield connection
                if self._opened is not None:
                    count_transaction(connection)
                self.require_same_file()
            self.require_same_file()

    def require_same_file(self) -> None:
        """Raise StoreReplaced where what was opened is no longer what lies at its path; only SQLite has a file."""
        if self._opened is not None:
            self._opened.require_same_store()

    def close(self) -> None:
        """Let go of the database."""
        self._engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    def _rows(self, statement: sa.Select[Any], parameters: dict[str, Any]) -> list[Record]:
        if _cannot_be_found(parameters.values()):
            return []
        with self.reading() as connection:
            return records_of(connection.execute(statement, parameters))

    def _write(self, work: Callable[[sa.Connection], _Result]) -> _Result:
        """Run ``work`` in one transaction, one at a time; once more where the database asks for it."""
        if not self._turn.acquire(timeout=_TURN_SECONDS):
            raise StoreUnavailable("The record store is busy.")
        try:
            for _ in range(_TRIES - 1):
                try:
                    return self._written(work)
                except MayBeRepeatedError:
                    continue
            return self._written(work)
        finally:
            self._turn.release()

    def _written(self, work: Callable[[sa.Connection], _Result]) -> _Result:
        with self.writing() as connection:
            return work(connection)


def _cannot_be_found(values: Iterable[object]) -> bool:
    """Whether a text is among them that PostgreSQL cannot have, and would not even look for."""
    return any(isinstance(value, str) and "\0" in value for value in values)
