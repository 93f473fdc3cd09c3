"""What is worked out of a fitting once, for the assessment and for its explanation: readings, and which rules fire."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, NamedTuple

from fitcheck.assessment.following import Following
from fitcheck.assessment.joint import standing
from fitcheck.errors import BadInput, Problem
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.readings import situation_of, stated_in
from fitcheck.measure import measured
from fitcheck.measure.results import Remark
from rules import Firing, Rulebook, Situation, Table, evaluator_for, verify

__all__ = ["Examined", "examine"]

_ALONE: Final = (
    "The assessment that it follows is not at hand here. Hand the fitting before in as well "
    "(fitcheck assess --follows FILE), send it to the service that kept that one, or leave follows out."
)


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
    following: Following | None
    """Where the fitting follows an assessment: what of it was carried."""
    beside: list[tuple[str, str]]
    """Quantity and place of what the fitting states and the rulebook has no reading for."""


def examine(fitting: Fitting | Following, book: Rulebook) -> Examined:
    """Read, measure and judge ``fitting`` by ``book``.

    Raises fitcheck.errors.BadInput when a trace or a set of points cannot be measured, or when it follows an assessment
    that was not handed in; and rules.EngineFault when the rules engine did not finish properly: then there is no
    assessment at all, never a partial one.
    """
    following: Following | None = None
    if isinstance(fitting, Following):
        following = fitting
        fitting = following.fitting
    elif fitting.follows is not None:
        raise BadInput([Problem("follows", fitting.follows, "no follows, or the assessment before handed in", _ALONE)])
    situation = situation_of(fitting, book)
    stated, beside = stated_in(fitting, book)
    table, remarks = measured(fitting, stated, book)
    firings = evaluator_for(book).evaluate(situation, table)
    verify(firings, table, situation, book)
    firings, chances = standing(firings, table, stated, situation, book)
    return Examined(fitting, book, situation, stated, table, remarks, firings, chances, following, beside)
