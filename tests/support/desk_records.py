"""Records made from another one, for what a service itself would never keep."""

from __future__ import annotations

from typing import Any

from fitcheck.records import Draft, Record

__all__ = ["HOSTILE", "like"]

HOSTILE = """<script>alert('1')</script>&"'><img src=x onerror=alert(1)>{{ 7*7 }}\u202e"""
"""A text that breaks out of whatever does not escape it."""


def like(record: Record, **changes: Any) -> Draft:
    """A draft of the same content, but for ``changes``."""
    names = [name for name in Draft.__dataclass_fields__ if name not in changes]
    return Draft(**{name: getattr(record, name) for name in names}, **changes)
