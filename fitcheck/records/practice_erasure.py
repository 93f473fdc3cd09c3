"""Erasing what a person practised, in the transaction that erases the person."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import sqlalchemy as sa

from fitcheck.records.practice_table import practice_sessions
from fitcheck.records.tables import erased_requests, request_digest

__all__ = ["erase_practice", "erased_digest"]

_AT_ONCE: Final = 500
_BODY: Final = "practice"
"""In the place of a body's digest in that of an erased session: its id alone names it."""


def erased_digest(id_: str) -> str:
    """The digest by which an erased session is known again."""
    return request_digest("", id_, _BODY)


def erase_practice(connection: sa.Connection, person: str) -> list[str]:
    """Erase the sessions of ``person``; their salts, none where there was none.

    Digests of their ids stay, so that a telephone that still has one keeps nothing anew.
    """
    theirs = practice_sessions.c.person == person
    found = connection.execute(sa.select(practice_sessions.c.id, practice_sessions.c.salt).where(theirs)).all()
    for part in _parts(sorted(erased_digest(row.id) for row in found)):
        statement = sa.select(erased_requests.c.digest).where(erased_requests.c.digest.in_(part))
        there = set(connection.execute(statement).scalars())
        if new := [digest for digest in part if digest not in there]:
            connection.execute(erased_requests.insert(), [{"digest": digest} for digest in new])
    connection.execute(practice_sessions.delete().where(theirs))
    return [row.salt for row in found]


def _parts(digests: Sequence[str]) -> Iterator[Sequence[str]]:
    for start in range(0, len(digests), _AT_ONCE):
        yield digests[start : start + _AT_ONCE]
