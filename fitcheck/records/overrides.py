"""Which overrides are about which assessments, and assessments by many ids at once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

import sqlalchemy as sa

from fitcheck.records.record import Record
from fitcheck.records.selection import WITH_CONTENT, records_of
from fitcheck.records.store import Store
from fitcheck.records.tables import records
from fitcheck.records.translation import translated

__all__ = ["overrides_about", "records_named"]

_IDS_AT_ONCE: Final = 500
_ABOUT: Final = WITH_CONTENT.where(
    records.c.about.in_(sa.bindparam("ids", expanding=True)), records.c.kind == "override"
).order_by(records.c.number)
_CONTENTS_AT_ONCE: Final = 100
_NAMED: Final = WITH_CONTENT.where(records.c.id.in_(sa.bindparam("ids", expanding=True))).order_by(records.c.number)


def overrides_about(store: Store, ids: Iterable[str]) -> list[Record]:
    """Every override of the assessments of these ids, erased ones too, in the order of keeping. Raises StoreError."""
    wanted = list(dict.fromkeys(ids))
    found: list[Record] = []
    with translated(), store.engine.connect() as connection:
        for start in range(0, len(wanted), _IDS_AT_ONCE):
            found += records_of(connection.execute(_ABOUT, {"ids": wanted[start : start + _IDS_AT_ONCE]}))
    return sorted(found, key=lambda record: record.number)


def records_named(store: Store, ids: Iterable[str]) -> Iterator[Record]:
    """The records of these ids, a few at a time in memory; what is not there is left out. Raises StoreError."""
    wanted = list(dict.fromkeys(ids))
    for start in range(0, len(wanted), _CONTENTS_AT_ONCE):
        with translated(), store.engine.connect() as connection:
            found = records_of(connection.execute(_NAMED, {"ids": wanted[start : start + _CONTENTS_AT_ONCE]}))
        yield from found
