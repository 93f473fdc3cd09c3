"""What a new record may not contradict: one that is kept already.

Looked at inside the transaction that holds the head, so that of two requests at once only one is kept. What comes from
another store (`Draft.source`) is history and is taken as it is.
"""

from __future__ import annotations

from typing import Final

import sqlalchemy as sa

from fitcheck.records.errors import AlreadyCorrected
from fitcheck.records.record import Draft
from fitcheck.records.tables import CORRECTIONS, contents, records

__all__ = ["Conflicts"]

_STANDING_CORRECTIONS: Final = CORRECTIONS.join(contents, contents.c.number == records.c.number)
"""Corrections that were not erased: one that was leaves what it corrected to be corrected anew."""


class Conflicts:
    """Holds drafts that are to be kept in one transaction against what is kept, and against those before them."""

    def __init__(self, connection: sa.Connection) -> None:
        self._connection = connection
        self._coming: dict[str, str] = {}
        """The id of each draft that is to be kept, by what it corrects."""

    def check(self, draft: Draft) -> None:
        """Note ``draft`` as one to be kept. Raises AlreadyCorrected where it corrects what was corrected before."""
        if draft.kind != "assessment" or draft.source is not None or draft.about is None:
            return
        there = [id_ for _, id_ in self._connection.execute(_STANDING_CORRECTIONS, {"ids": [draft.about]})]
        if there or draft.about in self._coming:
            raise AlreadyCorrected(draft.about, there[-1] if there else self._coming[draft.about])
        self._coming[draft.about] = draft.id
