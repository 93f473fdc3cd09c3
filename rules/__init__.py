"""The rules layer: a rulebook that is data, compiled to durable-rules.  It knows facts, not HTTP and not storage."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any, Final

from rules.engine.evaluator import Evaluator, Firing, Found, evaluator_for
from rules.engine.in_force import in_force
from rules.engine.reading import Reading, Table, table_of
from rules.engine.verification import verify
from rules.errors import EngineFault, RulebookError, RulesError
from rules.limits import resolve
from rules.loading.loader import first_rulebook, load_rulebook, shipped_rulebook
from rules.rulebook import Rulebook
from rules.situation import Situation

if TYPE_CHECKING:
    from rules.loading.marking import marking_of
    from rules.loading.translation import localized

__all__ = [
    "EngineFault",
    "Evaluator",
    "Firing",
    "Found",
    "Reading",
    "Rulebook",
    "RulebookError",
    "RulesError",
    "Situation",
    "Table",
    "evaluator_for",
    "first_rulebook",
    "in_force",
    "load_rulebook",
    "localized",
    "marking_of",
    "resolve",
    "shipped_rulebook",
    "table_of",
    "verify",
]

_LAZY: Final = {"localized": "rules.loading.translation", "marking_of": "rules.loading.marking"}
"""Names whose modules are loaded when they are first asked for: most assessments need neither."""


def __getattr__(name: str) -> Any:
    if name not in _LAZY:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(_LAZY[name]), name)
