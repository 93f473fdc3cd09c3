"""What every room shares: the order of decisions, the clock, and how exactly numbers are answered."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Final, Literal

__all__ = ["GRAVEST_FIRST", "UCUM", "Decision", "answered", "now", "utc"]

Decision = Literal["release", "put_right", "stop_and_refer", "incomplete", "go_on"]

GRAVEST_FIRST: Final[tuple[Decision, ...]] = ("stop_and_refer", "put_right", "incomplete", "go_on", "release")

UCUM: Final[Mapping[str, str]] = {
    "mm": "mm",
    "cm": "cm",
    "in": "[in_i]",
    "s": "s",
    "deg": "deg",
    "degC": "Cel",
    "degF": "[degF]",
    "kg": "kg",
    "1": "1",
    "d": "d",
    "mm/month": "mm/mo",
}
"""Each unit of a reading in the Unified Code for Units of Measure."""

_DECIMALS: Final = 4
_PARTS: Final = 10.0**_DECIMALS
_NO_HALF: Final = 0.499
_EXACT: Final = 1e12
"""So many parts are told from their neighbours by a thousandth and better."""


def answered(value: float) -> float:
    """``value`` as exactly as numbers are answered.

    >>> answered(1.00005), answered(-2.5), answered(1 / 3)
    (1.0001, -2.5, 0.3333)
    """
    # round() goes by way of digits, which only a half in the last place needs, or a nought that has a sign: without
    # this the numbers of an assessment take 46 µs and not 31.
    parts = value * _PARTS
    whole = (parts + 0.5) // 1
    if whole and abs(parts - whole) < _NO_HALF and abs(whole) < _EXACT and value.__class__ is float:
        return whole / _PARTS
    return round(value, _DECIMALS)


def utc(moment: datetime) -> str:
    """An instant in UTC, ISO 8601 to the millisecond, ending in Z.

    >>> utc(datetime(2026, 3, 4, 10, 0, 0, 5999, tzinfo=UTC))
    '2026-03-04T10:00:00.005Z'
    """
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def now() -> str:
    """This instant, as :func:`utc` writes it."""
    return utc(datetime.now(UTC))
