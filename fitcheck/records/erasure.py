"""Erasing a person: the names and contents of their records go, the records stay in the chain, and a record says so.

What the record of the erasure says holds nothing of the person, not even a digest: names are so short that they could
be guessed from one.
"""

from __future__ import annotations

import re
import uuid
from typing import Final

import sqlalchemy as sa

from fitcheck.records.appending import append, held_head
from fitcheck.records.chain import canonical
from fitcheck.records.errors import ErasureRefused
from fitcheck.records.record import Draft, Record
from fitcheck.records.tables import PERSONAL, contents, idempotency, records

__all__ = ["erase_person"]

_NUMBERS_AT_ONCE: Final = 500


def erase_person(connection: sa.Connection, person: str, *, reason: str, created: str) -> Record | None:
    """Erase ``person`` wherever they fitted or assessed; the record of it, or None where nothing was to erase.

    Raises ErasureRefused where ``reason``, which is kept, names the person.
    """
    if re.search(rf"(?<!\w){re.escape(person)}(?!\w)", reason, re.IGNORECASE):
        raise ErasureRefused("The reason is kept, so it must not name the person. Write it without the name.")
    head = held_head(connection)
    theirs = sa.or_(records.c.person == person, records.c.assessor == person)
    numbers = list(connection.execute(sa.select(records.c.number).where(theirs).order_by(records.c.number)).scalars())
    if not numbers:
        return None
    connection.execute(records.update().where(theirs).values(dict.fromkeys(PERSONAL)))
    for start in range(0, len(numbers), _NUMBERS_AT_ONCE):
        part = numbers[start : start + _NUMBERS_AT_ONCE]
        connection.execute(contents.delete().where(contents.c.number.in_(part)))
        # A client may have put a name into its key.
        connection.execute(idempotency.delete().where(idempotency.c.number.in_(part)))
    draft = Draft(
        kind="erasure",
        received=b"",
        answer=canonical({"erased": numbers, "reason": reason}),
        id=str(uuid.uuid4()),
        created=created,
        rulebook_version="",
        rulebook_digest="",
    )
    return append(connection, head, [draft])[0]
