"""The day of each fitting to be found by, however many records there are."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the index."""
    op.create_index("records_day", "records", [sa.text("coalesce(fitted, created)")])
