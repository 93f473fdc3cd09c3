"""Sessions of practice: each a person's own, beside the chain of records and never in it."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

_TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")


def upgrade() -> None:
    """Add the table and its index."""
    op.create_table(
        "practice_sessions",
        sa.Column("id", _TEXT, primary_key=True),
        sa.Column("person", _TEXT, nullable=False),
        sa.Column("exercise", _TEXT, nullable=False),
        sa.Column("ended", _TEXT, nullable=False),
        sa.Column("created", _TEXT, nullable=False),
        sa.Column("salt", _TEXT, nullable=False),
        sa.Column("session", _TEXT, nullable=False),
    )
    op.create_index("practice_sessions_person", "practice_sessions", ["person", "ended", "id"])
