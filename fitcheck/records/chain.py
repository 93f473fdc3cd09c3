"""The seal of a record: its digest covers the digest of its content and that of the record before it.

A digest is "sha256:" and the SHA-256 of a JSON object in the canonical form of RFC 8785. Bytes stand in it as base64,
so that a body and an answer are sealed as they are and never rewritten.
"""

from __future__ import annotations

import base64
import hashlib
import secrets
from collections.abc import Mapping
from typing import Any, Final

import rfc8785

from fitcheck.records.record import Draft
from fitcheck.records.tables import LATER, PERSONAL

__all__ = ["SEALED", "canonical", "content_digest", "new_salt", "record_digest", "sealed"]

SEALED: Final = (
    "number",
    "id",
    "kind",
    "created",
    "about",
    "source",
    "rulebook_version",
    "rulebook_digest",
    "content_digest",
    "previous",
)
"""The columns under a record's digest. With the personal ones, under the content's digest, that is all but itself."""

_SALT_BYTES: Final = 16
_ENCODED: Final = ("answer", "received")
"""What stands in a content's canonical form as base64, in its order there. Base64 needs no escapes, so the form is made
without it, which takes a fraction of the time."""


def new_salt() -> str:
    """Random bytes for one content, hex: without them, erased content could be guessed and held against its digest."""
    return secrets.token_hex(_SALT_BYTES)


def canonical(document: Mapping[str, Any]) -> bytes:
    """The document's JSON by RFC 8785. Raises ValueError for what has no such form.

    >>> canonical({"b": 2, "a": "€"}).decode()
    '{"a":"€","b":2}'
    """
    return rfc8785.dumps(dict(document))


def _digest(document: Mapping[str, Any]) -> str:
    return "sha256:" + hashlib.sha256(canonical(document)).hexdigest()


def content_digest(salt: str, received: bytes, answer: bytes, personal: Mapping[str, Any]) -> str:
    """The digest of a content with what of ``personal`` is sealed with it. Raises ValueError, TypeError.

    What came later stands in it only where there is something, so that older records have the digest that they had.
    """
    form = canonical(
        {
            "salt": salt,
            **dict.fromkeys(_ENCODED, ""),
            **{name: personal[name] for name in PERSONAL if name not in LATER or personal[name] is not None},
        }
    )
    digest = hashlib.sha256()
    for name, content in zip(_ENCODED, (answer, received), strict=True):
        # No string has these bytes in it, where a quotation mark is escaped: they are the key alone.
        before, key, form = form.partition(b'"%s":"' % name.encode())
        digest.update(before + key)
        digest.update(base64.b64encode(content))
    digest.update(form)
    return "sha256:" + digest.hexdigest()


def record_digest(row: Mapping[str, Any]) -> str:
    """The digest of a record of these columns. Raises ValueError for what has no canonical form."""
    return _digest({name: row[name] for name in SEALED})


def sealed(draft: Draft, number: int, previous: str) -> dict[str, Any]:
    """The columns of the record and of its content, for a draft that comes after the record of digest ``previous``."""
    row: dict[str, Any] = {name: getattr(draft, name) for name in _DRAFTED}
    row["number"] = number
    row["previous"] = previous
    row["salt"] = new_salt()
    row["content_digest"] = content_digest(row["salt"], draft.received, draft.answer, row)
    row["digest"] = record_digest(row)
    return row


_DRAFTED: Final = (*Draft.__dataclass_fields__,)
