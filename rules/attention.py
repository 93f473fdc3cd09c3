"""What compiled patterns look at: the fields that they name, and of word fields the words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

__all__ = ["Attention", "attention"]

Attention = Mapping[str, frozenset[str]]
"""Fields that some pattern names, each with the words that it is held against (none for a number)."""


def attention(patterns: Iterable[Mapping[str, Any]]) -> Attention:
    """The fields and words that any of ``patterns`` names.

    >>> attention([{"$and": [{"kind": "place"}, {"$lt": {"width": 0}}]}])
    {'kind': frozenset({'place'}), 'width': frozenset()}
    """
    named: dict[str, set[str]] = {}
    for pattern in patterns:
        _walk(pattern, named)
    return {field: frozenset(words) for field, words in named.items()}


def _walk(pattern: Mapping[str, Any], named: dict[str, set[str]]) -> None:
    for key, value in pattern.items():
        if key in {"$and", "$or"}:
            for part in value:
                _walk(part, named)
        elif key.startswith("$"):
            for field in value:
                named.setdefault(field, set())
        else:
            named.setdefault(key, set()).add(value)
