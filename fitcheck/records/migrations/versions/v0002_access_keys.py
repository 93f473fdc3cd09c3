"""Access keys and the audit of their use."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

_TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")
_NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "access_keys",
        sa.Column("id", _TEXT, primary_key=True),
        sa.Column("name", _TEXT, nullable=False),
        sa.Column("digest", _TEXT, nullable=False),
        sa.Column("scopes", _TEXT, nullable=False),
        sa.Column("created", _TEXT, nullable=False),
        sa.Column("revoked", _TEXT),
        sa.Column("last_used", _TEXT),
    )
    op.create_table(
        "key_uses",
        sa.Column("number", _NUMBER, primary_key=True, autoincrement=True),
        sa.Column("key", _TEXT, sa.ForeignKey("access_keys.id"), nullable=False),
        sa.Column("at", _TEXT, nullable=False),
        sa.Column("request", _TEXT, nullable=False),
        sa.Column("method", _TEXT, nullable=False),
        sa.Column("route", _TEXT, nullable=False),
        sa.Column("status", sa.Integer, nullable=False),
    )
    op.create_index("key_uses_at", "key_uses", ["at"])
    op.create_index("key_uses_key", "key_uses", ["key", "at"])
