"""Whose each access key is, and when it ends: keys from before are a device's and have no end."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

_TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")


def upgrade() -> None:
    """Add the columns."""
    op.add_column("access_keys", sa.Column("holder", _TEXT, nullable=False, server_default="device"))
    op.add_column("access_keys", sa.Column("until", _TEXT))
