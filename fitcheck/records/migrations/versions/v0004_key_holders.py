"""Whose each access key is, and when it ends (older: a device's, never); sessions of the desk; horses of a visit."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

_TEXT = sa.Text().with_variant(sa.Text(collation="C"), "postgresql")


def upgrade() -> None:
    """Add the columns, the table and the index."""
    op.add_column("access_keys", sa.Column("holder", _TEXT, nullable=False, server_default="device"))
    op.add_column("access_keys", sa.Column("until", _TEXT))
    op.create_table(
        "desk_sessions",
        sa.Column("digest", _TEXT, primary_key=True),
        sa.Column("key", _TEXT, sa.ForeignKey("access_keys.id"), nullable=False),
        sa.Column("created", _TEXT, nullable=False),
        sa.Column("last_seen", _TEXT, nullable=False),
    )
    op.create_index("records_visit_horse", "records", ["visit", "horse"])
