"""What every plot has: paper, heading, ticks of percent, and title and description for those who cannot see it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from fitcheck.drawing.shades import PAPER
from fitcheck.drawing.svg import FACE, Node, label, node, written

__all__ = ["GRID", "LEFT", "MARGIN", "PERCENT", "TICKS", "WIDTH", "drawn", "heading"]

WIDTH: Final = 640.0
LEFT: Final = 150.0
"""Where titles of rows end and the plot begins."""
MARGIN: Final = 12.0
GRID: Final = "#b4b4b4"
PERCENT: Final = 100
TICKS: Final = (0, 25, 50, 75, 100)
"""In percent."""


def heading(text: str) -> Node:
    """The plot's heading."""
    return label(text, MARGIN, 22, size=13, bold=True)


def drawn(parts: Iterable[Node], height: float, *, title: str, description: str) -> str:
    """``parts`` on paper of this ``height``, as SVG."""
    return written(
        node(
            "svg",
            node("title", title),
            node("desc", description),
            node("rect", x=0, y=0, width=WIDTH, height=height, fill=PAPER),
            node("g", *parts, font_family=FACE),
            xmlns="http://www.w3.org/2000/svg",
            viewBox=f"0 0 {WIDTH:g} {height:g}",
            role="img",
        )
    )
