"""json-logic in Python (panzi-json-logic): one expression for each rule of the book."""

from __future__ import annotations

from typing import Any

from json_logic import jsonLogic

from benchmarks.json_logic_form import json_logic
from benchmarks.peer_rules import Fact, Layers
from rules import Rulebook

__all__ = ["layers"]


def layers(book: Rulebook) -> Layers:
    """``book`` as json-logic expressions."""
    return Layers(book, json_logic, _holds, list)


def _holds(logic: Any, fact: Fact) -> bool:
    return bool(jsonLogic(logic, fact))
