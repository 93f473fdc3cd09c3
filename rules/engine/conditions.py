"""Conditions on one fact as a small logic: built from the rulebook, negated exactly, written as durable-rules."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final, NamedTuple

__all__ = ["All", "AnyOf", "Compare", "Condition", "OneOf", "negated", "pattern"]


class Compare(NamedTuple):
    """A number field against a constant in millionths; ``op`` is lt, lte, gt or gte."""

    field: str
    op: str
    constant: int


class OneOf(NamedTuple):
    """A word field is one of ``words``, out of the closed ``vocabulary``."""

    field: str
    words: tuple[str, ...]
    vocabulary: tuple[str, ...]


class All(NamedTuple):
    """Every part holds; an empty one always holds."""

    parts: tuple[Condition, ...]


class AnyOf(NamedTuple):
    """Some part holds; an empty one never holds."""

    parts: tuple[Condition, ...]


Condition = Compare | OneOf | All | AnyOf

_OPPOSITE: Final = {"lt": "gte", "gte": "lt", "gt": "lte", "lte": "gt"}


def negated(condition: Condition) -> Condition:
    """The condition that holds where ``condition`` does not, for facts that have the fields it looks at.

    >>> negated(Compare("width", "lt", 0))
    Compare(field='width', op='gte', constant=0)
    """
    match condition:
        case Compare(field, op, constant):
            return Compare(field, _OPPOSITE[op], constant)
        case OneOf(field, words, vocabulary):
            return OneOf(field, tuple(word for word in vocabulary if word not in words), vocabulary)
        case All(parts):
            return AnyOf(tuple(negated(part) for part in parts))
        case AnyOf(parts):
            return All(tuple(negated(part) for part in parts))


def pattern(kind: str, condition: Condition) -> dict[str, Any] | None:
    """``condition`` on facts of ``kind`` as a durable-rules pattern that tests the kind first.

    None when the condition can never hold.
    """
    written = _written(condition)
    if written is False:
        return None
    if written is True:
        return {"kind": kind}
    return {"$and": [{"kind": kind}, *written.get("$and", [written])]}


def _written(condition: Condition) -> dict[str, Any] | bool:
    match condition:
        case Compare(field, op, constant):
            return {f"${op}": {field: constant}}
        case OneOf(field, words, vocabulary):
            if set(words) >= set(vocabulary):
                return True
            return _joined("$or", [{field: word} for word in words])
        case All(parts):
            return _joined("$and", [_written(part) for part in parts])
        case AnyOf(parts):
            return _joined("$or", [_written(part) for part in parts])


def _joined(operator: str, parts: Iterable[dict[str, Any] | bool]) -> dict[str, Any] | bool:
    """``$and`` or ``$or`` of ``parts`` without constant parts and nested repeats."""
    settles = operator == "$or"  # True settles an 'or', False an 'and'
    kept: list[dict[str, Any]] = []
    for part in parts:
        if isinstance(part, bool):
            if part is settles:
                return settles
        elif operator in part:
            kept.extend(part[operator])
        else:
            kept.append(part)
    if not kept:
        return not settles
    return kept[0] if len(kept) == 1 else {operator: kept}
