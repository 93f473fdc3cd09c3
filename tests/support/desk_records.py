"""Records made from another one, for what a service itself would never keep."""

from __future__ import annotations

import json
from typing import Any

from fitcheck.records import Draft, Record, Store

__all__ = ["HOSTILE", "imported_into", "like"]

HOSTILE = """<script>alert('1')</script>&"'><img src=x onerror=alert(1)>{{ 7*7 }}\u202e"""
"""A text that breaks out of whatever does not escape it."""


def like(record: Record, **changes: Any) -> Draft:
    """A draft of the same content, but for ``changes``."""
    names = [name for name in Draft.__dataclass_fields__ if name not in changes]
    return Draft(**{name: getattr(record, name) for name in names}, **changes)


def imported_into(store: Store, visit: str, id_: str) -> None:
    """Keep the assessment ``id_`` once more as one of ``visit``, as an import takes in what another store has."""
    record = store.record(id_)
    assert record is not None
    received = json.dumps(json.loads(record.received) | {"visit": visit}).encode()
    store.keep(like(record, id=f"{id_}-again", visit=visit, received=received, source="sha256:" + "1" * 64))
