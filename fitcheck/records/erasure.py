"""Erasing a person: content and names go, digests stay, a record says that it was done; and where the id still stands.

With an assessment go its overrides and marks by hand: reasons and comments are about the person who fitted or assessed.
Sessions of practice go whole, but for a digest of each id.
Of a request that kept what is erased a digest stays, of its key together with its body, so that sending it again keeps
nothing anew.
"""

from __future__ import annotations

import json
import re
import uuid
from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple

import sqlalchemy as sa

from fitcheck.records.appending import append, held_head
from fitcheck.records.chain import canonical
from fitcheck.records.errors import ErasureRefused
from fitcheck.records.practice_erasure import erase_practice
from fitcheck.records.record import Draft, Record
from fitcheck.records.tables import (
    FOLLOWING,
    PERSONAL,
    access_keys,
    contents,
    erased_requests,
    idempotency,
    records,
    records_of,
    request_digest,
)

__all__ = ["ERASED_NAME", "Erased", "erase_person", "mentions_of"]

_NUMBERS_AT_ONCE: Final = 500
_RECORDS_AT_ONCE: Final = 100
_NUMBERS_SHOWN: Final = 20
ERASED_NAME: Final = "(erased)"
"""In the place of the id in the access keys of a person who was erased."""


class Erased(NamedTuple):
    """The record of an erasure, and the salts of the erased contents, by which these can be searched for."""

    record: Record
    salts: frozenset[str]


def erase_person(connection: sa.Connection, person: str, *, reason: str, created: str) -> Erased | None:
    """Erase ``person`` wherever they fitted, assessed or practised; None where nothing was to erase.

    Keys of the person are revoked and lose the name, and where only these were, None. Raises ErasureRefused where
    ``reason``, which is kept, names the person.
    """
    if _naming(person).search(reason):
        raise ErasureRefused("The reason is kept, so it must not name the person. Write it without the name.")
    head = held_head(connection)
    _revoke_keys(connection, person, created)
    theirs = sa.or_(records.c.person == person, records.c.assessor == person)
    ids = sa.select(records.c.id).where(theirs)
    about = records.alias()
    every = sa.select(about.c.number).where(
        sa.or_(
            about.c.person == person,
            about.c.assessor == person,
            sa.and_(about.c.kind.in_(("override", "hand_marks")), about.c.about.in_(ids)),
        )
    )
    numbers = list(connection.execute(every.order_by(about.c.number)).scalars())
    salts = erase_practice(connection, person)
    practised = len(salts)
    if not numbers and not practised:
        return None
    for part in _parts(numbers):
        salts += connection.execute(sa.select(contents.c.salt).where(contents.c.number.in_(part))).scalars()
        connection.execute(records.update().where(records.c.number.in_(part)).values(dict.fromkeys(PERSONAL)))
        connection.execute(contents.delete().where(contents.c.number.in_(part)))
        _forget_requests(connection, part)
    draft = Draft(
        kind="erasure",
        received=b"",
        answer=canonical({"erased": numbers, "reason": reason} | ({"practice": practised} if practised else {})),
        id=str(uuid.uuid4()),
        created=created,
        rulebook_version="",
        rulebook_digest="",
    )
    return Erased(append(connection, head, [draft])[0], frozenset(salts))


def _revoke_keys(connection: sa.Connection, person: str, created: str) -> None:
    """Revoke the keys of ``person``, which bear the id and would open the service to who is no longer here."""
    key = access_keys.c
    connection.execute(
        access_keys.update()
        .where(key.holder == "person", key.name == person)
        .values(name=ERASED_NAME, revoked=sa.func.coalesce(key.revoked, created))
    )


def _forget_requests(connection: sa.Connection, numbers: Sequence[int]) -> None:
    """Take away the keys of requests, since a client may have put a name into one, but for digests."""
    theirs = idempotency.c.number.in_(numbers)
    named = sa.select(idempotency.c.scope, idempotency.c.key, idempotency.c.body_digest).where(theirs)
    digests = {request_digest(*row) for row in connection.execute(named)}
    there = sa.select(erased_requests.c.digest).where(erased_requests.c.digest.in_(digests))
    if new := digests - set(connection.execute(there).scalars()):
        connection.execute(erased_requests.insert(), [{"digest": digest} for digest in sorted(new)])
    connection.execute(idempotency.delete().where(theirs))


def mentions_of(connection: sa.Connection, person: str) -> Iterator[str]:
    """Where the id of ``person`` still stands as a word, in sentences: an erasure leaves what is of others.

    Costs the reading of every record, a few at a time.
    """
    naming = _naming(person)
    found: list[int] = []
    after = 0
    while page := records_of(connection.execute(FOLLOWING, {"after": after, "most": _RECORDS_AT_ONCE})):
        found += [record.number for record in page if any(map(naming.search, _texts(record)))]
        after = page[-1].number
    if found:
        shown = ", ".join(map(str, found[:_NUMBERS_SHOWN])) + (", …" if len(found) > _NUMBERS_SHOWN else "")
        which = f"record {shown}" if len(found) == 1 else f"{len(found)} records ({shown})"
        yield f"The id still stands in {which}, such as in notes or in the name of a visit."
    keys = connection.execute(sa.select(idempotency.c.key, idempotency.c.number).order_by(idempotency.c.number)).all()
    if numbers := [number for key, number in keys if naming.search(key)]:
        shown = ", ".join(map(str, numbers[:_NUMBERS_SHOWN])) + (", …" if len(numbers) > _NUMBERS_SHOWN else "")
        yield f"The id still stands in the idempotency keys of records {shown}."
    for id_, name in connection.execute(sa.select(access_keys.c.id, access_keys.c.name).order_by(access_keys.c.id)):
        if naming.search(name):
            yield f"The id still stands in the name of access key {id_}."


def _naming(person: str) -> re.Pattern[str]:
    return re.compile(rf"(?<!\w){re.escape(person)}(?!\w)", re.IGNORECASE)


def _texts(record: Record) -> Iterator[str]:
    yield from filter(None, (getattr(record, name) for name in PERSONAL))
    for content in (record.received, record.answer):
        text = content.decode("utf-8", "replace")
        yield text
        if "\\" in text:
            # JSON may write any sign as an escape.
            try:
                yield json.dumps(json.loads(text), ensure_ascii=False)
            except ValueError:
                continue


def _parts(numbers: Sequence[int]) -> Iterator[Sequence[int]]:
    for start in range(0, len(numbers), _NUMBERS_AT_ONCE):
        yield numbers[start : start + _NUMBERS_AT_ONCE]
