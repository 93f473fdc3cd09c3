"""The figures of one branch's nails, a column for each beneath the wall."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from fitcheck.drawing.bands import Band
from fitcheck.drawing.shades import HAIR, INK, UNSEEN
from fitcheck.drawing.svg import Node, Point, line, node, path_of
from fitcheck.drawing.text import label
from fitcheck.drawing.wall import SideNail
from fitcheck.drawing.words import Words
from fitcheck.sentences import digits_of

__all__ = ["nail_table"]

_HEADS: Final = 46.0
_DROP: Final = 15.0
_ROW: Final = 12.0
_SIZE: Final = 9.0
_BAND_ROW: Final = "allowed"
_ROWS: Final = ("hole", "exit", _BAND_ROW, "clinch")


def nail_table(
    feet: Sequence[tuple[SideNail, Point]],
    clinch_found: frozenset[str],
    words: Words,
    top: float,
    width: float,
    *,
    banded: bool = True,
) -> tuple[list[Node], float]:
    """The table from ``top`` down, its columns in the order in which the nails stand in the drawing.

    Without ``banded`` nothing is said of the bands.
    """
    columns = sorted(feet, key=lambda each: each[1][0])
    step = (width - _HEADS - 6) / max(len(columns), 4)
    start = top + _DROP
    nodes: list[Node] = []
    rows = [row for row in _ROWS if banded or row != _BAND_ROW]
    for row, name in enumerate(rows):
        y = _row(start, row)
        nodes.append(label(words.say(f"wall.{name}"), 4, y, size=_SIZE))
    nodes.append(line((4, start + _ROW + 1), (width - 4, start + _ROW + 1), stroke=INK, stroke_width=HAIR))
    shift = (width - _HEADS - 6 - step * len(columns)) / 2
    for number, (nail, (x, y)) in enumerate(columns):
        middle = _HEADS + shift + step * (number + 0.5)
        nodes.append(
            node(
                "path",
                class_="leader",
                d=path_of([(x, y), (x, y + 3), (middle, start - 2)]),
                fill="none",
                stroke=INK,
                stroke_width=HAIR,
            )
        )
        cells = _cells(nail, words, clinch_found=nail.place in clinch_found)
        for row, (text, known, bold) in enumerate(cells[_ROWS.index(name)] for name in rows):
            nodes.append(
                label(
                    text,
                    middle,
                    _row(start, row),
                    size=_SIZE,
                    anchor="middle",
                    bold=bold,
                    fill=INK if known else UNSEEN,
                    font_style=None if known else "italic",
                )
            )
    return nodes, _row(start, len(rows))


def _row(start: float, row: int) -> float:
    """The baseline of a row; below the heads lies a line."""
    return start + _ROW * (row + 0.8) + (2.5 if row else 0.0)


def _cells(nail: SideNail, words: Words, *, clinch_found: bool) -> list[tuple[str, bool, bool]]:
    """Text, whether it was read, whether it stands out."""
    unread = words.say("wall.unread")
    exit_at = (unread, False, False) if nail.exit is None else (_plain(nail.exit, words), True, False)
    clinch = (unread, False, False) if nail.clinch is None else (words.say(f"clinch.{nail.clinch}"), True, clinch_found)
    return [(str(nail.hole), True, True), exit_at, (_band(nail.free, words), True, False), clinch]


def _plain(value: float, words: Words) -> str:
    return digits_of(value, "mm", words.language)


def _band(band: Band, words: Words) -> str:
    if band.empty:
        return words.say("wall.none")
    if math.isinf(band.low):
        return (
            words.say("wall.no_band")
            if math.isinf(band.high)
            else words.say("wall.band_down", high=_plain(band.high, words))
        )
    if math.isinf(band.high):
        return words.say("wall.band_up", low=_plain(band.low, words))
    return words.say("wall.band", low=_plain(band.low, words), high=_plain(band.high, words))
