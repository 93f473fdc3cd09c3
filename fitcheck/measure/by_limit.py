"""What is computed by the limit, or the words, of one of the rulebook's own rules."""

from __future__ import annotations

from rules import Rulebook
from rules.model.records import Rule

__all__ = ["computed_by", "enough_for_share"]


def computed_by(quantity: str, book: Rulebook) -> Rule | None:
    """The rule by whose limit or words the quantity is computed, where the book has both."""
    known = book.quantities.get(quantity)
    return None if known is None or known.by_limit_of is None else book.rules.get(known.by_limit_of)


def enough_for_share(count: int, book: Rulebook) -> bool:
    """Whether so many nails or holes are enough to tell a share of them."""
    return count >= (book.parameters["fewest_for_share"].value or 0.0)
