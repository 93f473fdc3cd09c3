"""rule-engine: one compiled rule for each rule of the book."""

from __future__ import annotations

import rule_engine

from benchmarks.peer_rules import All, AnyOf, Expression, Has, Layers, Past, Word
from rules import Rulebook

__all__ = ["layers"]


def layers(book: Rulebook) -> Layers:
    """``book`` compiled for rule-engine."""
    context = rule_engine.Context(resolver=dict.get)  # the library's own resolvers are slower

    def compiled(expression: Expression) -> rule_engine.Rule:
        return rule_engine.Rule(_text(expression), context=context)

    return Layers(book, compiled, rule_engine.Rule.matches, set)


def _text(expression: Expression) -> str:
    match expression:
        case Past(field, operator, constant):
            return f"{field} {operator} {constant}"
        case Word(field, words, is_one):
            # A chain of comparisons is several times as fast as a list of words.
            operator, link = ("==", " or ") if is_one else ("!=", " and ")
            return "(" + link.join(f'{field} {operator} "{word}"' for word in words) + ")"
        case Has(field, name, has):
            return f'"{name}" {"in" if has else "not in"} {field}'
        case All(parts):
            return f"({' and '.join(map(_text, parts))})"
        case AnyOf(parts):
            return f"({' or '.join(map(_text, parts))})"
