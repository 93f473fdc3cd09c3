"""Backups for tests: what a store holds row by row, and a portable backup sealed by hand."""

from __future__ import annotations

import hashlib
import json
from typing import Any

import sqlalchemy as sa

from fitcheck.records import (
    Store,
)
from fitcheck.records.tables import metadata

__all__ = ["everything", "sealed"]


def everything(store: Store) -> dict[str, list[Any]]:
    """Every row of every table."""
    with store._engine.connect() as connection:
        return {
            name: sorted(map(repr, connection.execute(sa.select(table)).all()))
            for name, table in metadata.tables.items()
        }


def sealed(lines: list[bytes]) -> bytes:
    """The lines with an end that fits them."""
    digest = hashlib.sha256(b"".join(lines)).hexdigest()
    return b"".join(lines) + json.dumps({"backup": "end", "digest": f"sha256:{digest}"}).encode() + b"\n"
