"""Where imported records come from, which requests kept what was erased, and a seal of those that are known."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

_TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
_NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "origins",
        sa.Column("number", _NUMBER, sa.ForeignKey("records.number"), primary_key=True, autoincrement=False),
        sa.Column("origin", _TEXT, nullable=False),
    )
    op.add_column("idempotency", sa.Column("seal", _TEXT))
    op.create_index("idempotency_key", "idempotency", ["key"])
    op.create_table("erased_requests", sa.Column("digest", _TEXT, primary_key=True))
