"""Questions that reach over many records: what corrects what, which overrides are about what, records by many ids."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Final

import sqlalchemy as sa

from fitcheck.records.driver_errors import translated
from fitcheck.records.record import Record
from fitcheck.records.statements import WITH_CONTENT, records_of
from fitcheck.records.store import Store
from fitcheck.records.tables import records

__all__ = ["corrections_of", "overrides_about", "records_named"]

_IDS_AT_ONCE: Final = 500
_CORRECTIONS: Final = (
    sa.select(records.c.about, records.c.id)
    .where(records.c.about.in_(sa.bindparam("ids", expanding=True)), records.c.kind == "assessment")
    .order_by(records.c.number)
)


def corrections_of(store: Store, ids: Sequence[str]) -> dict[str, list[str]]:
    """For each of the ``ids`` that was corrected, the ids of the assessments that do so, in the order of keeping.

    Raises StoreError.
    """
    found: dict[str, list[str]] = {}
    with translated(), store.engine.connect() as connection:
        for start in range(0, len(ids), _IDS_AT_ONCE):
            for about, id_ in connection.execute(_CORRECTIONS, {"ids": list(ids[start : start + _IDS_AT_ONCE])}):
                found.setdefault(about, []).append(id_)
    return found


_ABOUT: Final = WITH_CONTENT.where(
    records.c.about.in_(sa.bindparam("ids", expanding=True)), records.c.kind == "override"
).order_by(records.c.number)
_CONTENTS_AT_ONCE: Final = 100
_NAMED: Final = WITH_CONTENT.where(records.c.id.in_(sa.bindparam("ids", expanding=True))).order_by(records.c.number)


def overrides_about(store: Store, ids: Iterable[str]) -> list[Record]:
    """Every override of the assessments of these ids, erased ones too, in the order of keeping. Raises StoreError."""
    distinct_ids = list(dict.fromkeys(ids))
    found: list[Record] = []
    with translated(), store.engine.connect() as connection:
        for start in range(0, len(distinct_ids), _IDS_AT_ONCE):
            found += records_of(connection.execute(_ABOUT, {"ids": distinct_ids[start : start + _IDS_AT_ONCE]}))
    return sorted(found, key=lambda record: record.number)


def records_named(store: Store, ids: Iterable[str]) -> Iterator[Record]:
    """The records of these ids, a few at a time in memory; what is not there is left out. Raises StoreError."""
    distinct_ids = list(dict.fromkeys(ids))
    for start in range(0, len(distinct_ids), _CONTENTS_AT_ONCE):
        with translated(), store.engine.connect() as connection:
            found = records_of(connection.execute(_NAMED, {"ids": distinct_ids[start : start + _CONTENTS_AT_ONCE]}))
        yield from found
