"""Which readings can fire no rule in a situation, so that the engine need not be told of them."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import NamedTuple

from rules.limits import millionths, term_of
from rules.model.records import JoinedRule, Rule
from rules.rulebook import Rulebook
from rules.situation import Situation, admits, side_of, spot_of

__all__ = ["Prefilter", "Window"]


class Window(NamedTuple):
    """What lets a reading of one quantity at one place through.

    ``ends`` gives for each field that limits look at the open interval, in whole millionths, in which none is passed;
    ``words`` are those that rules fire on.  ``beside``: a joined rule reads it, whatever it is, beside something found,
    so that it counts once anything stirs a rule; ``always``: a joined rule reads it that asks for no finding.
    """

    ends: dict[str, tuple[float, float]]
    words: frozenset[str]
    beside: bool
    always: bool


class Prefilter:
    """The meshes of one rulebook."""

    def __init__(self, book: Rulebook) -> None:
        self._book = book
        self._joined_on: dict[tuple[str, str], list[JoinedRule]] = {}
        for joined in book.joined.values():
            for clause in joined.when:
                if clause.reading is not None:
                    self._joined_on.setdefault((clause.reading, clause.at or ""), []).append(joined)

    def window(self, situation: Situation, quantity: str, place: str) -> Window:
        """What lets ``quantity`` at ``place`` through in ``situation``."""
        side, spot = side_of(place), spot_of(place)
        judging = [
            rule
            for _, rule in self._book.rules_of[quantity]
            if spot in self._book.places_of(rule) and admits(rule.applies, situation, side)
        ]
        reading = [
            joined for joined in self._joined_on.get((quantity, spot), ()) if admits(joined.applies, situation, None)
        ]
        return Window(
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
