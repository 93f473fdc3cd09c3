"""Subscriptions: where events are sent, how far each has come, and what stands in its way."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

_TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
_NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Add the table."""
    op.create_table(
        "subscriptions",
        sa.Column("id", _TEXT, primary_key=True),
        sa.Column("key", _TEXT, sa.ForeignKey("access_keys.id")),
        sa.Column("created", _TEXT, nullable=False),
        sa.Column("url", _TEXT, nullable=False),
        sa.Column("secret", _TEXT, nullable=False),
        sa.Column("types", _TEXT, nullable=False),
        sa.Column("number", _NUMBER, nullable=False),
        sa.Column("mark", _TEXT, nullable=False),
        sa.Column("delivered", _TEXT),
        sa.Column("attempts", sa.Integer, nullable=False),
        sa.Column("failing_since", _TEXT),
        sa.Column("next_attempt", _TEXT),
        sa.Column("last_error", _TEXT),
        sa.Column("disabled", _TEXT),
        sa.Column("claimed_by", _TEXT),
        sa.Column("claimed_until", _TEXT),
    )
