"""What a new record may not contradict: one that is kept already.

Looked at inside the transaction that holds the head, so that of two requests at once only one is kept. What comes from
another store (`Draft.source`) is history and is taken as it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import sqlalchemy as sa

from fitcheck.records.errors import AlreadyCorrected
from fitcheck.records.record import Draft
from fitcheck.records.tables import CORRECTIONS, contents, parts_of, records

__all__ = ["require_no_conflict"]

_STANDING_CORRECTIONS: Final = CORRECTIONS.join(contents, contents.c.number == records.c.number)
"""Corrections that were not erased: one that was leaves what it corrected to be corrected anew."""


def require_no_conflict(connection: sa.Connection, drafts: Sequence[Draft]) -> None:
    """Raise AlreadyCorrected for the first of ``drafts`` that corrects what another assessment corrects already."""
    own = [draft for draft in drafts if draft.kind == "assessment" and draft.about is not None and draft.source is None]
    corrected_by: dict[str | None, str] = {}
    for part in parts_of(draft.about for draft in own if draft.about is not None):
        corrected_by.update((about, id_) for about, id_ in connection.execute(_STANDING_CORRECTIONS, {"ids": part}))
    for draft in own:
        if draft.about in corrected_by:
            raise AlreadyCorrected(str(draft.about), corrected_by[draft.about])
        corrected_by[draft.about] = draft.id
