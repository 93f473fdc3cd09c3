"""Sessions of practice in the store: kept once by the id that the telephone made, and erased with their person.

They stand beside the records: in no chain, in no list of assessments, and so in no mark, progress or agreement.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

import sqlalchemy as sa

from fitcheck.practice import ExerciseId, PracticeSession
from fitcheck.records.chain import new_salt
from fitcheck.records.errors import RequestErased, StoreError
from fitcheck.records.practice_erasure import erased_digest
from fitcheck.records.practice_table import practice_sessions
from fitcheck.records.store import Store
from fitcheck.records.tables import ERASED_REQUEST
from fitcheck.vocabulary import now

__all__ = ["PracticeReused", "PracticeSessions", "StoredPractice"]

_AT_ONCE: Final = 100


class PracticeReused(StoreError):
    """There is a session of that id already, of another person or with other content."""


@dataclass(frozen=True, slots=True)
class StoredPractice:
    """A session as it is kept."""

    person: str
    created: str
    """When it was kept, UTC."""
    session: PracticeSession


class PracticeSessions:
    """The sessions of practice of one store. Safe for many threads; every method raises StoreError."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def keep(self, person: str, session: PracticeSession, *, created: str | None = None) -> tuple[StoredPractice, bool]:
        """Keep a session of ``person``, and whether it is new: the very same one is there once.

        Raises PracticeReused where the id is of another session, RequestErased where that session was erased.
        """
        stored = StoredPractice(person, created or now(), session)
        row = {"id": session.id, "person": person, "exercise": session.exercise, "ended": session.ended}
        row |= {"created": stored.created, "salt": new_salt(), "session": session.model_dump_json()}
        with self._store.writing() as connection:
            there = connection.execute(sa.select(practice_sessions).where(practice_sessions.c.id == session.id)).first()
            if there is not None:
                found = _stored(there)
                if (found.person, found.session) != (person, session):
                    raise PracticeReused("There is another session of this id. Make a new id for each session.")
                return found, False
            if connection.execute(ERASED_REQUEST, {"wanted_digest": erased_digest(session.id)}).first() is not None:
                raise RequestErased("This session was erased. It is not kept anew.")
            connection.execute(practice_sessions.insert(), [row])
        return stored, True

    def one(self, person: str, id: str) -> StoredPractice | None:  # noqa: A002  (the field's name in the contract)
        """That session of ``person``."""
        found = self._rows(practice_sessions.c.person == person, practice_sessions.c.id == id, limit=1)
        return found[0] if found else None

    def of_person(
        self, person: str, *, exercise: ExerciseId | None = None, before: StoredPractice | None = None, limit: int
    ) -> list[StoredPractice]:
        """At most ``limit`` sessions of ``person``, the latest first; ``before``: those beyond that one."""
        column = practice_sessions.c
        conditions = [column.person == person]
        if exercise is not None:
            conditions.append(column.exercise == exercise)
        if before is not None:
            place = sa.tuple_(column.ended, column.id)
            conditions.append(place < sa.tuple_(sa.literal(before.session.ended), sa.literal(before.session.id)))
        return self._rows(*conditions, limit=limit)

    def count(self, person: str) -> int:
        """How many sessions of ``person`` there are."""
        counted = sa.select(sa.func.count()).select_from(practice_sessions).where(practice_sessions.c.person == person)
        if "\0" in person:
            return 0
        with self._store.reading() as connection:
            return int(connection.execute(counted).scalar_one())

    def every(self, person: str | None = None) -> Iterator[StoredPractice]:
        """All sessions, or those of ``person``, by their ids; a few at a time in memory."""
        column, after = practice_sessions.c, ""
        theirs = sa.true() if person is None else column.person == person
        while True:
            page = self._rows(theirs, column.id > after, order=(column.id,), limit=_AT_ONCE)
            yield from page
            if len(page) < _AT_ONCE:
                return
            after = page[-1].session.id

    def _rows(
        self, *conditions: sa.ColumnElement[bool], limit: int, order: tuple[sa.ColumnElement[Any], ...] = ()
    ) -> list[StoredPractice]:
        latest = (practice_sessions.c.ended.desc(), practice_sessions.c.id.desc())
        statement = sa.select(practice_sessions).where(*conditions).order_by(*(order or latest)).limit(limit)
        values = statement.compile().params.values()
        # PostgreSQL has no text with such a character, and does not even look for one.
        if any(isinstance(value, str) and "\0" in value for value in values):
            return []
        with self._store.reading() as connection:
            return [_stored(row) for row in connection.execute(statement)]


def _stored(row: sa.Row[Any]) -> StoredPractice:
    return StoredPractice(row.person, row.created, PracticeSession.model_validate_json(row.session))
