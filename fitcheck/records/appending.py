"""Appending records to the chain, inside a transaction that holds the head."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, Final

import sqlalchemy as sa

from fitcheck.records.chain import sealed
from fitcheck.records.conflicts import Conflicts
from fitcheck.records.errors import KeyReused, RequestErased, StoreDamaged, StoreError, UnknownRecord
from fitcheck.records.record import Draft, Head, Idempotency, Record, StoredRecord
from fitcheck.records.tables import (
    BY_KEY,
    BY_UUID,
    ERASED_REQUEST,
    HEAD,
    KNOWN_IDS,
    LOCKED_HEAD,
    contents,
    head,
    idempotency,
    is_uuid,
    key_of,
    origins,
    parts_of,
    records,
    records_of,
    request_digest,
    request_seal,
)

__all__ = ["append", "append_each", "earlier", "held_head", "note_origins", "plain_head"]

_KEEP_RECORD: Final = records.insert()
_KEEP_CONTENT: Final = contents.insert()
_NOTE_KEY: Final = idempotency.insert()
_MOVE_HEAD: Final = head.update().values(number=sa.bindparam("now_number"), digest=sa.bindparam("now_digest"))
_HAS_CONTENT: Final = sa.select(records.c.number).join(contents).where(records.c.id == sa.bindparam("wanted_id"))


def held_head(connection: sa.Connection) -> Head:
    """The head, which no other transaction can move until this one ends. Raises StoreDamaged where there is none."""
    return _head(connection, LOCKED_HEAD)


def plain_head(connection: sa.Connection) -> Head:
    """The head as it stands just now. Raises StoreDamaged where there is none."""
    return _head(connection, HEAD)


def _head(connection: sa.Connection, statement: sa.Select[Any]) -> Head:
    row = connection.execute(statement).one_or_none()
    if row is None:
        raise StoreDamaged("The record store has lost the head of its chain: check it.")
    return Head(row[0], row[1])


def append(connection: sa.Connection, head_before: Head, drafts: Sequence[Draft]) -> list[Record]:
    """Append the drafts, in their order, and move the head.

    Raises UnknownRecord where one is about a record that is not there and not before it in ``drafts``, and
    AlreadyCorrected or VisitOfAnotherHorse where one contradicts what is kept.
    """
    _require_abouts(connection, drafts)
    conflicts = Conflicts(connection)
    for draft in drafts:
        conflicts.check(draft)
    return _append(connection, head_before, drafts)


def append_each(
    connection: sa.Connection, head_before: Head, requests: Sequence[tuple[Draft, Idempotency | None]]
) -> list[StoredRecord | StoreError]:
    """Append the drafts of all ``requests`` that nothing stands against, in their order; what came of each.

    A request whose key came before, here or in an earlier transaction, has the record that was kept then. One that is
    refused has a KeyReused, UnknownRecord, AlreadyCorrected or VisitOfAnotherHorse.
    """
    conflicts = Conflicts(connection)
    outcomes: dict[int, StoredRecord | StoreError] = {}
    to_keep: dict[int, Draft] = {}
    first_of_key: dict[tuple[str, str], int] = {}
    repeats: dict[int, int] = {}
    bodies = ["" if key is None else key.body_digest for _, key in requests]
    for place, (draft, key) in enumerate(requests):
        try:
            if key is not None and (first := first_of_key.setdefault((key.scope, key.key), place)) != place:
                repeats[place] = first
                _require_same_body(key, bodies[first])
            elif key is not None and (found := earlier(connection, key)) is not None:
                outcomes[place] = StoredRecord(found, fresh=False)
            else:
                _require_about(connection, draft)
                conflicts.check(draft)
                to_keep[place] = draft
        except StoreError as error:
            outcomes[place] = error
    for place, record in zip(to_keep, _append(connection, head_before, list(to_keep.values())), strict=True):
        outcomes[place] = StoredRecord(record, fresh=True)
        if (key := requests[place][1]) is not None:
            _note_key(connection, key, record)
    for place, first in repeats.items():
        one = outcomes[first]
        outcomes.setdefault(place, replace(one, fresh=False) if isinstance(one, StoredRecord) else one)
    return [outcomes[place] for place in range(len(requests))]


def _append(connection: sa.Connection, head_before: Head, drafts: Sequence[Draft]) -> list[Record]:
    number, previous = head_before.number, head_before.digest
    rows: list[dict[str, Any]] = []
    for draft in drafts:
        number += 1
        row = sealed(draft, number, previous)
        previous = row["digest"]
        rows.append(row)
    if rows:
        connection.execute(_KEEP_RECORD, [{name: row[name] for name in _RECORD_COLUMNS} for row in rows])
        connection.execute(_KEEP_CONTENT, [{name: row[name] for name in _CONTENT_COLUMNS} for row in rows])
        connection.execute(_MOVE_HEAD, {"now_number": number, "now_digest": previous})
    return [Record(**row, erased=False) for row in rows]


def _require_abouts(connection: sa.Connection, drafts: Sequence[Draft]) -> None:
    coming: set[str] = set()
    needed: dict[str, None] = {}
    for draft in drafts:
        if draft.about is not None and draft.about not in coming:
            needed[draft.about] = None
        coming.add(draft.id)
    for part in parts_of(needed):
        there = set(connection.execute(KNOWN_IDS, {"ids": part}).scalars())
        for id_ in part:
            if id_ not in there:
                raise UnknownRecord(id_)


def _require_about(connection: sa.Connection, draft: Draft) -> None:
    """Raise UnknownRecord unless what ``draft`` is about is there; and, if that gives its names, was not erased."""
    if draft.kind not in {"override", "hand_marks"}:
        _require_abouts(connection, [draft])
    elif draft.about is not None and connection.execute(_HAS_CONTENT, {"wanted_id": draft.about}).first() is None:
        # It bears that one's names, which must not come back after an erasure.
        raise UnknownRecord(draft.about)


def earlier(connection: sa.Connection, key: Idempotency) -> Record | None:
    """The record that an earlier request of this key kept.

    A key that is a UUID is known again with its body from any key, since access keys are changed. Raises
    KeyReused where its body was another, RequestErased where that record was erased.
    """
    row = connection.execute(BY_KEY, key_of(key)).one_or_none()
    if row is None and is_uuid(key.key):
        row = connection.execute(BY_UUID, {"wanted_key": key.key, "wanted_body": key.body_digest}).one_or_none()
    if row is None:
        digest = request_digest(key.scope, key.key, key.body_digest)
        if connection.execute(ERASED_REQUEST, {"wanted_digest": digest}).first() is not None:
            raise RequestErased("What this request kept was erased. It is not kept anew.")
        return None
    _require_same_body(key, row.body_digest)
    return records_of([row])[0]


def _require_same_body(key: Idempotency, body_digest: str) -> None:
    if body_digest != key.body_digest:
        raise KeyReused("This idempotency key was used before, with another body. Use a new key for a new request.")


def _note_key(connection: sa.Connection, key: Idempotency, record: Record) -> None:
    """Note that this request kept ``record``."""
    connection.execute(
        _NOTE_KEY,
        {
            "scope": key.scope,
            "key": key.key,
            "body_digest": key.body_digest,
            "number": record.number,
            "created": record.created,
            "seal": request_seal(key.scope, key.key, key.body_digest, record.digest),
        },
    )


def note_origins(connection: sa.Connection, appended: Sequence[Record], names: Sequence[str]) -> None:
    """Note where imported records come from: ``names`` has an origin for each of ``appended``, or is empty."""
    if names:
        rows = [{"number": record.number, "origin": name} for record, name in zip(appended, names, strict=True)]
        connection.execute(origins.insert(), rows)


_RECORD_COLUMNS: Final = tuple(records.c.keys())
_CONTENT_COLUMNS: Final = tuple(contents.c.keys())
