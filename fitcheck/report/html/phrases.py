"""Readings, limits and names as a report says them; also such as the rulebook at hand does not know."""

from __future__ import annotations

import re
from typing import Final

from fitcheck.assessment.models import Finding, LimitView
from fitcheck.text.format import shown
from fitcheck.text.names import place_named
from rules import Rulebook

__all__ = [
    "amount",
    "based_on",
    "capital",
    "how_sure",
    "limit_text",
    "measured_text",
    "place_text",
    "quantity_text",
    "with_u",
]

_CERTAIN: Final = 0.995
_NUMBER: Final = re.compile(r"(\S+?)( .*|[^0-9.e]*)", re.DOTALL)


def amount(value: float, unit: str) -> str:
    """A number with its unit."""
    try:
        return shown(value, unit)
    except KeyError:
        return f"{value:g} {unit}"


def with_u(value: float, u: float | None, unit: str) -> str:
    """A number with its standard uncertainty, of two figures, and its unit.

    >>> with_u(27.0, 0.5, "mm"), with_u(0.306, 0.0123, "1"), with_u(8.0, None, "1")
    ('27 ± 0.5 mm', '0.31 ± 0.012', '8')
    """
    text = amount(value, unit)
    if not u:
        return text
    number, suffix = _NUMBER.fullmatch(text).groups()  # type: ignore[union-attr]
    return f"{number} ± {u:.2g}{suffix}"


def quantity_text(quantity: str, book: Rulebook) -> str:
    """A quantity's title, without what explains its sign."""
    known = book.quantities.get(quantity)
    title = quantity.replace("_", " ") if known is None else known.title
    return capital(title.partition(";")[0].partition(":")[0])


def place_text(place: str, book: Rulebook) -> str:
    """A place as it is called in a list."""
    return place_named(place, book).removeprefix("the ")


def measured_text(finding: Finding, book: Rulebook) -> str:
    """What a finding was made of: the reading, or what it rests on."""
    measured = finding.measured
    if measured is None:
        return "Rests on " + "; ".join(based_on(name, book) for name in finding.rests_on)
    name = quantity_text(measured.quantity, book)
    if isinstance(measured.value, str) or measured.unit is None:
        return f"{name}: {measured.value}"
    return f"{name}: {with_u(measured.value, measured.u, measured.unit)}"


def limit_text(limit: LimitView | None) -> str:
    """What would have been let pass; empty where the finding has no such limit."""
    if limit is None:
        return ""
    if limit.low is not None and limit.high is not None:
        return f"{amount(limit.low, limit.unit)} to {amount(limit.high, limit.unit)}"
    if limit.low is not None:
        return f"{amount(limit.low, limit.unit)} or more"
    return "" if limit.high is None else f"{amount(limit.high, limit.unit)} or less"


def how_sure(finding: Finding) -> str:
    """How probable it is that the true value lies beyond the limit; empty for what was seen as a word."""
    if finding.measured is not None and isinstance(finding.measured.value, str):
        return ""
    if finding.confidence >= _CERTAIN:
        return "more than 99 %"
    percent = f"{finding.confidence * 100:.0f} %"
    return (
        f"{percent}; a harm this grave is acted on even where it is unlikely"
        if finding.grade == "critical"
        else percent
    )


def based_on(name: str, book: Rulebook) -> str:
    """A finding or reading at a place, in words."""
    what, _, place = name.partition("@")
    return f"{what.replace('_', ' ').replace('-', ' ')} at {place_named(place, book)}"


def capital(text: str) -> str:
    """``text`` with a capital at its begin."""
    return text[:1].upper() + text[1:]
