"""Numbered markers of findings: the shape tells the grade, and so do shade and, in the list, the word.

A round one is minor, a square one major; one that stands on its point, ringed twice, is critical.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from fitcheck.drawing.shades import GRADES, HAIR, INK, PAPER, THIN
from fitcheck.drawing.svg import Node, label, node, path_of
from fitcheck.view import FindingView
from rules.model.records import Grade

__all__ = ["PITCH", "marker", "row_of_markers"]

PITCH: Final = 23.0
"""From the middle of one marker to the next."""

_ROUND: Final = 8.5
_SQUARE: Final = 7.8
_POINT: Final = 11.0
_INNER: Final = 9.2
_DIGITS: Final = {1: 10.5, 2: 9.5}


def marker(number: int | None, grade: Grade, x: float, y: float) -> Node:
    """One marker with its middle at (x, y); without a number it explains the shape."""
    shade = GRADES[grade]
    parts = _shape(grade, x, y, shade.fill)
    if number is not None:
        size = _DIGITS.get(len(str(number)), 7.5)
        parts.append(label(str(number), x, y + 0.36 * size, size=size, anchor="middle", bold=True, fill=shade.number))
    return node(
        "g", *parts, class_=f"marker {grade}", data_grade=grade, data_number=None if number is None else str(number)
    )


def _shape(grade: Grade, x: float, y: float, fill: str) -> list[Node]:
    if grade == "minor":
        return [node("circle", cx=x, cy=y, r=_ROUND, fill=fill, stroke=INK, stroke_width=THIN)]
    if grade == "major":
        side = 2 * _SQUARE
        return [
            node("rect", x=x - _SQUARE, y=y - _SQUARE, width=side, height=side, fill=fill, stroke=INK, stroke_width=1.2)
        ]
    return [
        node("path", d=_diamond(x, y, _POINT), fill=fill, stroke=INK, stroke_width=THIN),
        node("path", d=_diamond(x, y, _INNER), fill="none", stroke=PAPER, stroke_width=HAIR),
    ]


def _diamond(x: float, y: float, reach: float) -> str:
    return path_of([(x, y - reach), (x + reach, y), (x, y + reach), (x - reach, y)], closed=True)


def row_of_markers(
    findings: Sequence[FindingView], x: float, y: float, across: int, step: float = PITCH
) -> tuple[list[Node], float]:
    """Markers in rows of ``across`` and their height; the first has its middle at (x, y), the next ``step`` on."""
    nodes = [
        marker(each.number, each.grade, x + step * (place % across), y + PITCH * (place // across))
        for place, each in enumerate(findings)
    ]
    return nodes, PITCH * -(-len(findings) // across)
