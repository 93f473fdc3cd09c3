"""The schemas of the store, one file each in ``versions``, run by `fitcheck.records.migrations.upgrade`.

A migration is never changed once it was released: it says what the tables were, whatever they are now.
"""

from __future__ import annotations

from typing import Final

__all__ = ["REVISIONS"]

REVISIONS: Final = ("0001", "0002", "0003", "0004", "0005", "0006", "0007", "0008")
"""Every schema from the oldest to the newest. A new migration goes to the end."""
