"""CLIPS: the rules of the second evaluator in the tests, fed place by place to spare the binding most of its work.

Nearly all that a case costs here is the handing over of words and numbers from Python.  So only what a rule looks at is
handed over, a place is named once, and an uncertainty goes along only where a guarded limit reckons with it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, Final

from rules import Reading, Rulebook
from rules.model.records import Clause, Rule, Scaled
from tests.support.clips_evaluator import ClipsEvaluator

__all__ = ["ClipsPeer"]

_SITUATION: Final = ("foot", "stage", "work", "hoof_form", "stance", "hot_fitted")
_WIDTH: Final = 2
_CONSTRUCTS: Final = (
    # Blocks of: the place, how many follow with and how many without an uncertainty, and these.
    """(deffunction feed-places (?foot ?stage ?work ?hoof-form ?stance ?hot-fitted $?given)
         (assert (situation (foot ?foot) (stage ?stage) (work ?work) (hoof_form ?hoof-form)
                            (stance ?stance) (hot_fitted ?hot-fitted)))
         (bind ?at 1)
         (bind ?end (length$ ?given))
         (while (< ?at ?end)
           (bind ?place (nth$ ?at ?given))
           (bind ?spot (spot-of ?place))
           (bind ?side (side-of ?place))
           (bind ?plain (+ ?at 3 (* 3 (nth$ (+ ?at 1) ?given))))
           (bind ?next (+ ?plain (* 2 (nth$ (+ ?at 2) ?given))))
           (bind ?at (+ ?at 3))
           (while (< ?at ?plain)
             (assert (reading (quantity (nth$ ?at ?given)) (place ?place) (spot ?spot) (side ?side)
                              (value (nth$ (+ ?at 1) ?given)) (u (nth$ (+ ?at 2) ?given))))
             (bind ?at (+ ?at 3)))
           (while (< ?at ?next)
             (assert (reading (quantity (nth$ ?at ?given)) (place ?place) (spot ?spot) (side ?side)
                              (value (nth$ (+ ?at 1) ?given)) (u 0.0)))
             (bind ?at (+ ?at 2)))))""",
    """(deffunction report-findings ()
         (bind ?lines (create$))
         (do-for-all-facts ((?f finding)) TRUE (bind ?lines (create$ ?lines ?f:rule ?f:place)))
         ?lines)""",
)


class ClipsPeer(ClipsEvaluator):
    """``book``, whose files are in ``folder``, in one CLIPS environment."""

    def __init__(self, book: Rulebook, folder: Path) -> None:
        super().__init__(folder)
        self._looked_at, self._guarded = _looked_at(book)
        for construct in _CONSTRUCTS:
            self._env.build(construct)

    def findings(self, situation: Mapping[str, str], readings: Iterable[Reading]) -> set[tuple[str, str]]:
        """Every (rule, place) that is found."""
        symbol = self._symbol
        places: dict[str, tuple[list[Any], list[Any]]] = {}
        for reading in readings:
            quantity = reading.quantity
            if quantity not in self._looked_at:
                continue
            guarded, plain = places.setdefault(reading.place, ([], []))
            value = symbol(reading.value) if isinstance(reading.value, str) else float(reading.value)
            if quantity in self._guarded:
                guarded += (symbol(quantity), value, reading.u)
            else:
                plain += (symbol(quantity), value)
        given: list[Any] = [symbol(situation[key]) for key in _SITUATION]
        for place, (guarded, plain) in places.items():
            given += (symbol(place), len(guarded) // 3, len(plain) // 2, *guarded, *plain)
        self._env.reset()
        self._env.call("feed-places", *given)
        self._env.run()
        lines = self._env.call("report-findings")
        return {(str(lines[at]), str(lines[at + 1])) for at in range(0, len(lines), _WIDTH)}


def _looked_at(book: Rulebook) -> tuple[frozenset[str], frozenset[str]]:
    """The quantities that some rule looks at, and those of them whose uncertainty counts."""
    looked_at: set[str] = set()
    guarded: set[str] = set()
    limited: list[tuple[str, Rule | Clause]] = [(rule.quantity, rule) for rule in book.rules.values()]
    limited += [
        (clause.reading, clause)
        for joined in book.joined.values()
        for clause in joined.when
        if clause.reading is not None
    ]
    for quantity, limit in limited:
        names = {quantity} | {end.of for end in (limit.low, limit.high) if isinstance(end, Scaled)}
        looked_at |= names
        if limit.fires == "guarded":
            guarded |= names
    looked_at |= {quantity for rule in book.rules.values() for quantity in rule.with_ or ()}
    return frozenset(looked_at), frozenset(guarded)
