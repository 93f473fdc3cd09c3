"""Runs the migrations by Alembic, inside the transaction that is given."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from alembic.config import Config
from alembic.runtime.environment import EnvironmentContext
from alembic.script import ScriptDirectory

from fitcheck.records.migrations import REVISIONS
from fitcheck.records.tables import VERSION_TABLE

__all__ = ["scripts", "upgrade"]


def scripts() -> ScriptDirectory:
    """The migrations that lie in the package."""
    return ScriptDirectory(str(Path(__file__).parent))


def upgrade(connection: sa.Connection, to: str = REVISIONS[-1]) -> None:
    """Bring the tables to the schema ``to``; nothing is changed when any step of it fails."""
    directory = scripts()

    def steps(revision: Any, _context: Any) -> Iterable[Any]:
        return directory._upgrade_revs(to, revision)  # noqa: SLF001  (as Alembic's own command does)

    with EnvironmentContext(Config(), directory, fn=steps, destination_rev=to) as environment:
        environment.configure(connection=connection, version_table=VERSION_TABLE)
        with environment.begin_transaction():
            environment.run_migrations()
