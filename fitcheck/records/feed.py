"""The feed: all records as events, in the order of their numbers, to be read on from any place.

Numbers are given while the head is held, and the head is let go with the commit. So a reader who sees a record sees all
before it, and none comes later with a lower number: reading on from the last number misses nothing.
"""

from __future__ import annotations

import json
import re
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final, Self

from pydantic_core import from_json

from fitcheck.errors import FitcheckError
from fitcheck.records.answer_shape import shape_of
from fitcheck.records.errors import StoreDamaged
from fitcheck.records.record import GENESIS, Kind, Record
from fitcheck.records.store import Store
from fitcheck.records.tables import PERSONAL

__all__ = [
    "BATCH_BYTES",
    "DATA_TYPE",
    "START",
    "TYPES",
    "Batch",
    "Cursor",
    "Notice",
    "UnknownCursor",
    "batch_after",
    "event_of",
    "latest",
    "notices_after",
    "sequence_of",
    "source_of",
]

_FORM: Final = re.compile(r"(0|[1-9][0-9]{0,17})-([0-9a-f]{16})", re.ASCII)
_MARK: Final = slice(len("sha256:"), len("sha256:") + 16)
_AT_ONCE: Final = 50

BATCH_BYTES: Final = 4 * 1024 * 1024
"""How much a batch may have where it has more than one event."""


class UnknownCursor(FitcheckError):
    """The store never gave this cursor: it is another store, or an older state of it that went on in another way."""


@dataclass(frozen=True, slots=True)
class Cursor:
    """A place in the feed: after the record of this number, whose digest begins with ``mark``."""

    number: int
    mark: str

    @classmethod
    def after(cls, number: int, digest: str) -> Self:
        """The place after the record of that number and digest."""
        return cls(number, digest[_MARK])

    @classmethod
    def read(cls, text: str) -> Self | None:
        """The cursor that ``text`` is; None where it has not the form of one.

        >>> str(Cursor.read("12-0123456789abcdef"))
        '12-0123456789abcdef'
        >>> Cursor.read("12") is None
        True
        """
        form = _FORM.fullmatch(text)
        return cls(int(form[1]), form[2]) if form else None

    def __str__(self) -> str:
        return f"{self.number}-{self.mark}"


START: Final = Cursor.after(0, GENESIS)
"""The place before the first record."""


@dataclass(frozen=True, slots=True)
class Batch:
    """Some events that follow one another."""

    body: bytes
    """A JSON list of events: CloudEvents' JSON batch format."""
    count: int
    next: Cursor
    """The place after the last of them."""


@dataclass(frozen=True, slots=True)
class Notice:
    """One event that names ids alone, for those who ask for the rest with a key."""

    id: str
    type: str
    body: bytes
    """A CloudEvent in JSON."""
    place: Cursor
    """The place after it."""


def notices_after(store: Store, after: Cursor, limit: int) -> list[Notice]:
    """At most ``limit`` notices from ``after`` on. Raises UnknownCursor, StoreError."""
    _check(store, after)
    found = list(_following(store, after.number, limit))
    source = source_of(store.following(0, 1)[0].digest) if found else ""
    return [_notice_of(record, source) for record in found]


def _notice_of(record: Record, source: str) -> Notice:
    attributes = _attributes(record, source, None if record.erased else _answer(record))
    data: dict[str, Any] = {"number": record.number, "kind": record.kind, "about": record.about}
    if record.kind == "erasure" and not record.erased:
        data["erased"] = _answer(record)["erased"]
    body = json.dumps(attributes | {"data": data}, separators=(",", ":")).encode()
    return Notice(record.id, attributes["type"], body, Cursor.after(record.number, record.digest))


def latest(store: Store) -> Cursor:
    """The place after the last record that there is. Raises StoreError."""
    head = store.head()
    return Cursor.after(head.number, head.digest)


def batch_after(store: Store, after: Cursor, limit: int, batch_bytes: int = BATCH_BYTES) -> Batch:
    """At most ``limit`` events from ``after`` on; fewer where they grow beyond ``batch_bytes``, but one if any.

    Raises UnknownCursor, StoreError.
    """
    _check(store, after)
    events: list[bytes] = []
    place, size, source = after, 0, ""
    for record in _following(store, after.number, limit):
        source = source or source_of(store.following(0, 1)[0].digest)
        event = event_of(record, source)
        size += len(event)
        if events and size > batch_bytes:
            break
        events.append(event)
        place = Cursor.after(record.number, record.digest)
    return Batch(b"[" + b",".join(events) + b"]", len(events), place)


def _check(store: Store, cursor: Cursor) -> None:
    if cursor.number == 0:
        known = cursor == START
    else:
        found = store.following(cursor.number - 1, 1)
        known = bool(found) and Cursor.after(found[0].number, found[0].digest) == cursor
    if not known:
        raise UnknownCursor(f"This store never gave the cursor {cursor}.")


def _following(store: Store, number: int, limit: int) -> Iterator[Record]:
    """At most ``limit`` records, a few at a time, so that large ones need not all lie in memory."""
    left = limit
    while left > 0 and (found := store.following(number, min(left, _AT_ONCE))):
        yield from found
        number, left = found[-1].number, left - len(found)


TYPES: Final[dict[Kind, tuple[str, ...]]] = {
    "assessment": ("fitcheck.assessment.kept.v1", "fitcheck.assessment.kept.v2"),
    "override": ("fitcheck.override.kept.v1",),
    "hand_marks": ("fitcheck.hand-marks.kept.v1",),
    "erasure": ("fitcheck.records.erased.v1",),
}
"""The types of event for each kind of record; what changes the meaning of ``data`` gets a new version.

That of an assessment is the shape of its answer; of one that was erased the first, since nothing is left of it.
"""
DATA_TYPE: Final = "application/json"

_EVENT_FIELDS: Final = (
    "number",
    "kind",
    "digest",
    "previous",
    "content_digest",
    "about",
    "source",
    "rulebook_version",
    "rulebook_digest",
    *PERSONAL,
)
"""With ``id`` and ``time``, all that a record's digest covers: a follower can check the chain."""
_DIGITS: Final = 19
"""As many as the largest number that a database takes has (64 bits)."""
_UUID_DIGITS: Final = 32
_VERSION: Final = 0xF << 76, 8 << 76
_VARIANT: Final = 0b11 << 62, 0b10 << 62


def source_of(first_digest: str) -> str:
    """The store whose first record has that digest: a URN of a UUID of version 8 (RFC 9562, appendix B.2).

    >>> source_of("sha256:" + "f" * 64)
    'urn:uuid:ffffffff-ffff-8fff-bfff-ffffffffffff'
    """
    value = int(first_digest.removeprefix("sha256:")[:_UUID_DIGITS], 16)
    for mask, bits in (_VERSION, _VARIANT):
        value = value & ~mask | bits
    return uuid.UUID(int=value).urn


def sequence_of(number: int) -> str:
    """The extension attribute ``sequence``: it orders as text just as numbers do.

    >>> sequence_of(7)
    '0000000000000000007'
    """
    return f"{number:0{_DIGITS}}"


def event_of(record: Record, source: str) -> bytes:
    """The event's JSON. What was answered stands in it byte for byte; of what was erased nothing does.

    Raises StoreDamaged where what was answered is not JSON.
    """
    answer = None if record.erased else _answer(record)
    attributes = _attributes(record, source, answer)
    fields = {name: getattr(record, name) for name in _EVENT_FIELDS}
    data = _open(json.dumps({"record": fields, "erased": record.erased}))
    if answer is not None:
        data += f",{json.dumps(record.kind)}:".encode() + record.answer
    return _open(json.dumps(attributes)) + b',"data":' + data + b"}}"


def _attributes(record: Record, source: str, answer: Any) -> dict[str, Any]:
    """All of an event but its data; ``answer``: what was answered, as parsed JSON."""
    attributes: dict[str, Any] = {
        "specversion": "1.0",
        "id": record.id,
        "source": source,
        "type": _type_of(record.kind, answer),
        "time": record.created,
        "datacontenttype": DATA_TYPE,
        "sequence": sequence_of(record.number),
    }
    subject = record.about if record.kind in {"override", "hand_marks"} else record.id
    if record.kind != "erasure" and subject:
        attributes["subject"] = subject
    return attributes


def _open(text: str) -> bytes:
    """A JSON object without its last brace, for more to come."""
    return text.removesuffix("}").encode()


def _type_of(kind: Kind, answer: Any) -> str:
    """The type of the event of a record; ``answer``: what was answered, as parsed JSON, None where it was erased."""
    types = TYPES[kind]
    return types[shape_of(answer) - 1] if kind == "assessment" and isinstance(answer, dict) else types[0]


def _answer(record: Record) -> Any:
    # Read only to be sure that it is one whole value: what is not could pass for a part of the event, or of another.
    try:
        return from_json(record.answer, allow_inf_nan=False)
    except ValueError as error:
        raise StoreDamaged(f"What was answered in record {record.number} is not JSON: check the store.") from error
