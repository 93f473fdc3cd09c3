"""The peers' expressions in the form of json-logic, for every engine that reads it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from benchmarks.peer_rules import All, AnyOf, Expression, Has, Past, Word

__all__ = ["by_name", "json_logic"]


def by_name(field: str) -> Any:
    """A field of a fact that is an object."""
    return {"var": [field]}


def json_logic(expression: Expression, given: Callable[[str], Any] = by_name) -> Any:
    """``expression`` in json-logic; ``given`` says where the value of a field is found."""
    match expression:
        case Past(field, operator, constant):
            return {operator: [given(field), constant]}
        case Word(field, (word,), is_one):
            return {"===" if is_one else "!==": [given(field), word]}
        case Word(field, words, is_one):
            return _perhaps({"in": [given(field), list(words)]}, is_one)
        case Has(field, name, has):
            return _perhaps({"in": [name, given(field)]}, has)
        case All(parts):
            return {"and": [json_logic(part, given) for part in parts]}
        case AnyOf(parts):
            return {"or": [json_logic(part, given) for part in parts]}


def _perhaps(logic: Any, holds: bool) -> Any:  # noqa: FBT001  (which of the two forms)
    return logic if holds else {"!": [logic]}
