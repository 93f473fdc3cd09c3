"""Shares with their intervals as SVG, a row each, all on one scale from 0 to 100 percent."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple

from fitcheck.drawing.plot import GRID, LEFT, MARGIN, PERCENT, TICKS, drawn, heading
from fitcheck.drawing.shades import HAIR, HEAVY, INK, UNSEEN
from fitcheck.drawing.svg import Node, label, line, node

__all__ = ["IntervalRow", "interval_plot"]

_RIGHT: Final = 520.0
_TOP: Final = 44.0
_ROW: Final = 26.0
_BELOW: Final = 30.0
_RADIUS: Final = 4.0


class IntervalRow(NamedTuple):
    """One share, and what stands beside it."""

    title: str
    share: tuple[float, float, float] | None
    """The share with the ends of its interval, 0 to 1; None where there is none."""
    beside: str
    otherwise: str
    """What stands there without a share."""


def interval_plot(rows: Sequence[IntervalRow], *, head: str, key: str, title: str, description: str) -> str:
    """The plot; ``key`` tells what dot and bar are, ``title`` and ``description`` all of it in words."""
    bottom = _TOP + _ROW * len(rows)
    parts: list[Node] = [heading(head)]
    for tick in TICKS:
        x = _across(tick / PERCENT)
        parts.append(line((x, _TOP - 6), (x, bottom), stroke=GRID, stroke_width=HAIR))
        parts.append(label(f"{tick} %", x, bottom + 14, anchor="middle", fill=UNSEEN))
    for number, row in enumerate(rows):
        parts += _row(row, _TOP + _ROW * (number + 0.5))
    parts.append(label(key, MARGIN, bottom + _BELOW, fill=UNSEEN))
    height = bottom + _BELOW + MARGIN
    return drawn(parts, height, title=title, description=description)


def _row(row: IntervalRow, y: float) -> Iterator[Node]:
    yield label(row.title, LEFT - MARGIN, y + 4, anchor="end", size=11)
    if row.share is None:
        yield label(row.otherwise, LEFT + MARGIN, y + 4, fill=UNSEEN)
        return
    share, low, high = (_across(each) for each in row.share)
    yield line((low, y), (high, y), stroke=INK, stroke_width=HEAVY)
    for end in (low, high):
        yield line((end, y - _RADIUS), (end, y + _RADIUS), stroke=INK, stroke_width=HEAVY)
    yield node("circle", cx=share, cy=y, r=_RADIUS, fill=INK)
    yield label(row.beside, _RIGHT + MARGIN, y + 4)


def _across(share: float) -> float:
    return LEFT + share * (_RIGHT - LEFT)
