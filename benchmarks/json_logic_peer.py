"""json-logic (panzi-json-logic): one expression for each rule of the book."""

from __future__ import annotations

from typing import Any

from json_logic import jsonLogic

from benchmarks.peer_rules import All, AnyOf, Expression, Fact, Has, Layers, Past, Word
from rules import Rulebook

__all__ = ["layers"]


def layers(book: Rulebook) -> Layers:
    """``book`` as json-logic expressions."""
    return Layers(book, _logic, _holds, list)


def _holds(logic: Any, fact: Fact) -> bool:
    return bool(jsonLogic(logic, fact))


def _logic(expression: Expression) -> Any:
    match expression:
        case Past(field, operator, constant):
            return {operator: [{"var": [field]}, constant]}
        case Word(field, (word,), is_one):
            return {"===" if is_one else "!==": [{"var": [field]}, word]}
        case Word(field, words, is_one):
            return _perhaps({"in": [{"var": [field]}, list(words)]}, is_one)
        case Has(field, name, has):
            return _perhaps({"in": [name, {"var": [field]}]}, has)
        case All(parts):
            return {"and": [_logic(part) for part in parts]}
        case AnyOf(parts):
            return {"or": [_logic(part) for part in parts]}


def _perhaps(logic: Any, holds: bool) -> Any:  # noqa: FBT001  (which of the two forms)
    return logic if holds else {"!": [logic]}
