"""Which database the tests of the service keep in: SQLite, or PostgreSQL as a study of its own has it."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Final

import pytest

from fitcheck.records.databases import address_of

__all__ = ["DATABASE", "ON_POSTGRESQL", "looks_into_the_file", "sqlite_file"]

DATABASE: Final = "FITCHECK_TESTS_DATABASE"
"""The setting that says which: ``postgresql``, or nothing."""

ON_POSTGRESQL: Final = os.environ.get(DATABASE) == "postgresql"

looks_into_the_file: Final = pytest.mark.skipif(ON_POSTGRESQL, reason="it looks into SQLite's file, or locks it")


def sqlite_file(url: str) -> Path:
    """The file of a SQLite store."""
    return Path(str(address_of(url).database))
