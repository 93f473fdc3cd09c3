"""Which assessments correct which."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import sqlalchemy as sa

from fitcheck.records.store import Store
from fitcheck.records.tables import records
from fitcheck.records.translation import translated

__all__ = ["corrections_of"]

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
