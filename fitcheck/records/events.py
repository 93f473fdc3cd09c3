"""A kept record as an event: CloudEvents 1.0 (https://cloudevents.io), in its JSON format.

``source`` and ``id`` together name an event for good. ``source`` is made from the digest of the store's first record,
in which random bytes are sealed: it needs no place of its own, stays the same wherever the store is moved to, and is
another for every other store, one with the same records imported among them. ``id`` is the record's.

The specification would have a type begin with the domain of whoever defines it. There is no domain of this project, and
to write another's would say that its owner had defined the type; so types begin with the project's name, which is no
top-level domain.
"""

from __future__ import annotations

import json
import uuid
from typing import Any, Final

from pydantic_core import from_json

from fitcheck.records.errors import StoreDamaged
from fitcheck.records.record import Kind, Record
from fitcheck.records.tables import PERSONAL

__all__ = ["DATA_TYPE", "TYPES", "event_of", "sequence_of", "source_of"]

TYPES: Final[dict[Kind, str]] = {
    "assessment": "fitcheck.assessment.kept.v1",
    "override": "fitcheck.override.kept.v1",
    "erasure": "fitcheck.records.erased.v1",
}
"""The type of event for each kind of record; what changes the meaning of ``data`` gets a new version."""
DATA_TYPE: Final = "application/json"

_TOLD: Final = (
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
"""With ``id`` and ``time``, all that a record's digest covers: whoever follows can check the chain."""
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
    attributes: dict[str, Any] = {
        "specversion": "1.0",
        "id": record.id,
        "source": source,
        "type": TYPES[record.kind],
        "time": record.created,
        "datacontenttype": DATA_TYPE,
        "sequence": sequence_of(record.number),
    }
    subject = record.about if record.kind == "override" else record.id
    if record.kind != "erasure" and subject:
        attributes["subject"] = subject
    told = {name: getattr(record, name) for name in _TOLD}
    data = _open(json.dumps({"record": told, "erased": record.erased}))
    if not record.erased:
        data += f",{json.dumps(record.kind)}:".encode() + _answer(record)
    return _open(json.dumps(attributes)) + b',"data":' + data + b"}}"


def _open(text: str) -> bytes:
    """A JSON object without its last brace, for more to come."""
    return text.removesuffix("}").encode()


def _answer(record: Record) -> bytes:
    # Read only to be sure that it is one whole value: what is not could pass for a part of the event, or of another.
    try:
        from_json(record.answer, allow_inf_nan=False)
    except ValueError as error:
        raise StoreDamaged(f"What was answered in record {record.number} is not JSON: check the store.") from error
    return record.answer
