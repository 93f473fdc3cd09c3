"""What is worked out of a fitting once, for the assessment and for its explanation: readings, and which rules fire."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from fitcheck.assessment.joint import standing
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.readings import readings_of, situation_of
from fitcheck.measure import measured
from fitcheck.measure.results import Remark
from rules import Firing, Rulebook, Situation, Table, evaluator_for, table_of, verify

__all__ = ["Examined", "examine"]


class Examined(NamedTuple):
    """A fitting as the rules see it."""

    fitting: Fitting
    book: Rulebook
    situation: Situation
    stated: Table
    """The readings that the fitting states."""
    table: Table
    """All readings, stated and computed; a computed one stands in the place of a stated one."""
    remarks: list[Remark]
    firings: list[Firing]
    """Those that stand: a major joined one only where it is as likely as not."""
    chances: Mapping[tuple[str, str], float | None]
    """How sure each joined finding is, by rule and place; None of a range of worst cases."""


def examine(fitting: Fitting, book: Rulebook) -> Examined:
    """Read, measure and judge ``fitting`` by ``book``.

    Raises fitcheck.errors.BadInput when a trace or a set of points cannot be measured, and rules.EngineFault when the
    rules engine did not finish properly: then there is no assessment at all, never a partial one.
    """
    situation = situation_of(fitting, book)
    stated = table_of(readings_of(fitting, book))
    table, remarks = measured(fitting, stated, book)
    firings = evaluator_for(book).evaluate(situation, table)
    verify(firings, table, situation, book)
    firings, chances = standing(firings, table, stated, situation, book)
    return Examined(fitting, book, situation, stated, table, remarks, firings, chances)
