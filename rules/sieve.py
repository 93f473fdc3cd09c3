"""Which readings can stir a rule: the engine is told of these, and spared the many that lie well within every limit.

Handing a reading to the engine costs more than comparing it.  A single rule fires only on a reading past one of its
own limits or on one of its own words; so a reading that is past no limit in force, at a place where no joined rule
reads it, changes nothing, and a place where there is no other reading need not be told.  The sieve errs on the telling
side: it looks at each limit by itself, and leaves companions, exceptions and whatever else a rule asks for to the
engine.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import NamedTuple

from rules.engine import millionths
from rules.model import Rule
from rules.rulebook import Rulebook
from rules.situation import Situation, admits, side_of, spot_of
from rules.terms import term_of

__all__ = ["Mesh", "Sieve"]


class Mesh(NamedTuple):
    """What lets a reading of one quantity at one place through.

    ``ends`` gives for each field that limits look at the open interval, in whole millionths, in which none is passed;
    ``words`` are those that rules fire on.  ``beside``: a joined rule reads it, whatever it is, beside something found,
    so that it counts once anything stirs a rule; ``always``: a joined rule reads it that asks for no finding.
    """

    ends: dict[str, tuple[float, float]]
    words: frozenset[str]
    beside: bool
    always: bool


class Sieve:
    """The meshes of one rulebook."""

    def __init__(self, book: Rulebook) -> None:
        self._book = book

    def mesh(self, situation: Situation, quantity: str, place: str) -> Mesh:
        """What lets ``quantity`` at ``place`` through in ``situation``."""
        side, spot = side_of(place), spot_of(place)
        judging = [
            rule
            for rule in self._book.rules.values()
            if rule.quantity == quantity
            and spot in self._book.places_of(rule)
            and admits(rule.applies, situation, side)
        ]
        reading = [
            joined
            for joined in self._book.joined.values()
            if admits(joined.applies, situation, None)
            and any(clause.reading == quantity and clause.at == spot for clause in joined.when)
        ]
        return Mesh(
            _ends(quantity, judging),
            frozenset(word for rule in judging for word in rule.is_ or ()),
            bool(reading),
            any(all(clause.findings is None for clause in joined.when) for joined in reading),
        )


def _ends(quantity: str, judging: Iterable[Rule]) -> dict[str, tuple[float, float]]:
    ends: dict[str, tuple[float, float]] = {}
    for rule in judging:
        for end, limit in (("low", rule.low), ("high", rule.high)):
            if limit is None:
                continue
            term, constant = term_of(quantity, limit, rule.fires or "simple", end)
            low, high = ends.get(term.field, (-math.inf, math.inf))
            # A whole millionth further out where the limit itself is still permitted.
            permitted = 1 if rule.edge is None else 0
            if end == "low":
                low = max(low, millionths(constant) - permitted)
            else:
                high = min(high, millionths(constant) + permitted)
            ends[term.field] = (low, high)
    return ends
