"""Checks of what is judged of two feet held together: it stays apart from what is judged of one."""

from __future__ import annotations

from rules.model import Clause, Scaled
from rules.record_checks import fail
from rules.rulebook import Rulebook

__all__ = ["check_pairs"]


def check_pairs(book: Rulebook) -> None:
    """A pair is never asked of one foot, and its rules look at nothing that belongs to one foot.

    Raises RulebookError for the first fault found.
    """
    pairs = {name for name, criterion in book.criteria.items() if criterion.of == "pair"}
    for stage, required in (*book.required.items(), ("finished_when_hot_fitted", book.required_when_hot_fitted)):
        for criterion in required:
            if criterion in pairs:
                problem = f"{criterion!r} is judged of two feet, so no foot alone could ever be released"
                fail("book.toml", f"required.{stage}", problem, "Take it out")
    for rule_id, rule in book.rules.items():
        if book.criterion_for(rule_id) not in pairs:
            continue
        to = rule.amount.to if rule.amount else None
        for key, limit in (("low", rule.low), ("high", rule.high), ("amount.to", to)):
            if isinstance(limit, Scaled):
                problem = f"{limit.of} is a size of one foot, and this is judged of two"
                fail(book.files[rule_id], f"rules.{rule_id}.{key}.of", problem, "Write a plain number")
    for rule_id in book.joined:
        _check_joined(book, rule_id, pairs)


def _check_joined(book: Rulebook, rule_id: str, pairs: set[str]) -> None:
    joined = book.joined[rule_id]
    of_pair = joined.criterion in pairs
    for number, clause in enumerate(joined.when):
        for name in _looked_at(clause):
            criterion = book.criterion_for(name) if clause.findings is not None else book.criterion_of.get(name)
            if (criterion in pairs) != of_pair:
                fail(
                    book.files[rule_id],
                    f"joined.{rule_id}.when.{number}",
                    f"{name!r} and the rule's criterion are not both of one foot, or both of two",
                    "Join what is judged of one foot, or what is judged of a pair",
                )
    if of_pair and joined.place == "foot":
        fail(
            book.files[rule_id],
            f"joined.{rule_id}.place",
            "what is judged of two feet is not found at one of them",
            'Write place = "of_first"',
        )


def _looked_at(clause: Clause) -> tuple[str, ...]:
    return clause.findings or (clause.reading or "",)
