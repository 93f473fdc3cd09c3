"""Shares with their intervals as SVG, a row each, all on one scale from 0 to 100 percent."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple

from fitcheck.drawing.shades import HAIR, HEAVY, INK, PAPER, UNSEEN
from fitcheck.drawing.svg import FACE, Node, label, line, node, written

__all__ = ["IntervalRow", "interval_plot"]

_WIDTH: Final = 640.0
_LEFT: Final = 150.0
_RIGHT: Final = 520.0
_TOP: Final = 44.0
_ROW: Final = 26.0
_BELOW: Final = 30.0
_RADIUS: Final = 4.0
_MARGIN: Final = 12.0
_PERCENT: Final = 100.0
_TICKS: Final = (0.0, 25.0, 50.0, 75.0, 100.0)
_GRID: Final = "#b4b4b4"


class IntervalRow(NamedTuple):
    """One share, and what stands beside it."""

    title: str
    share: tuple[float, float, float] | None
    """The share with the ends of its interval, 0 to 1; None where there is none."""
    beside: str
    otherwise: str
    """What stands there without a share."""


def interval_plot(rows: Sequence[IntervalRow], *, heading: str, key: str, title: str, description: str) -> str:
    """The plot; ``key`` tells what dot and bar are, ``title`` and ``description`` all of it in words."""
    bottom = _TOP + _ROW * len(rows)
    parts: list[Node] = [label(heading, _MARGIN, 22, size=13, bold=True)]
    for tick in _TICKS:
        x = _across(tick / _PERCENT)
        parts.append(line((x, _TOP - 6), (x, bottom), stroke=_GRID, stroke_width=HAIR))
        parts.append(label(f"{tick:.0f} %", x, bottom + 14, anchor="middle", fill=UNSEEN))
    for number, row in enumerate(rows):
        parts += _row(row, _TOP + _ROW * (number + 0.5))
    parts.append(label(key, _MARGIN, bottom + _BELOW, fill=UNSEEN))
    height = bottom + _BELOW + _MARGIN
    return written(
        node(
            "svg",
            node("title", title),
            node("desc", description),
            node("rect", x=0, y=0, width=_WIDTH, height=height, fill=PAPER),
            node("g", *parts, font_family=FACE),
            xmlns="http://www.w3.org/2000/svg",
            viewBox=f"0 0 {_WIDTH:g} {height:g}",
            role="img",
        )
    )


def _row(row: IntervalRow, y: float) -> Iterator[Node]:
    yield label(row.title, _LEFT - _MARGIN, y + 4, anchor="end", size=11)
    if row.share is None:
        yield label(row.otherwise, _LEFT + _MARGIN, y + 4, fill=UNSEEN)
        return
    share, low, high = (_across(each) for each in row.share)
    yield line((low, y), (high, y), stroke=INK, stroke_width=HEAVY)
    for end in (low, high):
        yield line((end, y - _RADIUS), (end, y + _RADIUS), stroke=INK, stroke_width=HEAVY)
    yield node("circle", cx=share, cy=y, r=_RADIUS, fill=INK)
    yield label(row.beside, _RIGHT + _MARGIN, y + 4)


def _across(share: float) -> float:
    return _LEFT + share * (_RIGHT - _LEFT)
