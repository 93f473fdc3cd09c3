"""The rules layer: a rulebook that is data, compiled to durable-rules.  It knows facts, not HTTP and not storage."""

from rules.errors import EngineFault, RulebookError, RulesError
from rules.evaluator import Evaluator, Firing, Found, evaluator_for
from rules.facts import Reading, Table, table_of
from rules.loader import load_rulebook, shipped_rulebook
from rules.rulebook import Rulebook, resolve
from rules.situation import Situation
from rules.verification import verify

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
    "load_rulebook",
    "resolve",
    "shipped_rulebook",
    "table_of",
    "verify",
]
