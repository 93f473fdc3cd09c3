"""The table of practice: sessions by their id, each of one person, in no chain and sealed by nothing."""

from __future__ import annotations

from typing import Final

import sqlalchemy as sa

from fitcheck.records.tables import TEXT, metadata

__all__ = ["practice_sessions"]

practice_sessions: Final = sa.Table(
    "practice_sessions",
    metadata,
    sa.Column("id", TEXT, primary_key=True),
    sa.Column("person", TEXT, nullable=False),
    sa.Column("exercise", TEXT, nullable=False),
    sa.Column("ended", TEXT, nullable=False),
    sa.Column("created", TEXT, nullable=False),
    sa.Column("salt", TEXT, nullable=False),
    sa.Column("session", TEXT, nullable=False),
    sa.Index("practice_sessions_person", "person", "ended", "id"),
)
"""``salt`` is random and stands nowhere else: by it an erasure looks whether the disk is clear of the session."""
