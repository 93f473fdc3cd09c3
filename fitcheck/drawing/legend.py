"""The key of the drawing: every sign with its meaning."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, get_args

from fitcheck.drawing.listing import heading
from fitcheck.drawing.markers import marker
from fitcheck.drawing.shades import BAND, DASHES, HAIR, HEAVY, HORN, INK, IRON, PAPER, SCORCHED, THIN, UNSEEN
from fitcheck.drawing.svg import Node, line, node
from fitcheck.drawing.text import label, shortened, text_width
from fitcheck.drawing.wall_view import clinch_sign
from fitcheck.text.catalogue import Messages
from rules.model import Grade

__all__ = ["key"]

_WIDE: Final = 22.0
_SIZE: Final = 9.0
_ROW: Final = 15.5
_TEXT: Final = 28.0


def key(messages: Messages, top: float, width: float, *, walls: bool, banded: bool = True) -> tuple[list[Node], float]:
    """The key from ``top`` down, and where it ends.

    The signs of the wall views are there only with ``walls``, those of the bands only with ``banded`` as well.
    """
    nodes = [heading(messages.say("drawing.key.title"), top)]
    here = top + 26
    x = 4.0
    for grade in get_args(Grade):
        meaning = f"{messages.say(f'drawing.grade.{grade}')}: {messages.say(f'drawing.grade_means.{grade}')}"
        nodes += [marker(None, grade, x + 11, here), label(meaning, x + 26, here + 3, size=_SIZE)]
        x += 26 + text_width(meaning, _SIZE) + 4
    here += 20
    half = (width - 8) / 2
    signs = [*_BELOW, *(_BANDS if walls and banded else ()), *(_ASIDE if walls else ())]
    for place, (name, drawn) in enumerate(signs):
        x, y = 4 + half * (place % 2), here + _ROW * (place // 2)
        nodes += drawn(x, y)
        text = shortened(messages.say(f"drawing.key.{name}"), _SIZE, half - _TEXT)
        nodes.append(label(text, x + _TEXT, y + 3, size=_SIZE))
    return nodes, here + _ROW * -(-len(signs) // 2)


def _box(x: float, y: float, fill: str, stroke: float | None = None) -> Node:
    drawn = None if stroke is None else INK
    return node("rect", x=x, y=y - 4, width=_WIDE, height=8, fill=fill, stroke=drawn, stroke_width=stroke)


def _bare(x: float, y: float) -> list[Node]:
    strokes = [
        line((x + step, y - 4), (x + step, y + 4), stroke=INK, stroke_width=HAIR)
        for step in (3.0, 7.0, 11.0, 15.0, 19.0)
    ]
    return [_box(x, y, PAPER, THIN), *strokes]


def _unread(x: float, y: float) -> list[Node]:
    return [line((x, y), (x + _WIDE, y), stroke=UNSEEN, stroke_width=1.2, stroke_dasharray=DASHES)]


def _nail(x: float, y: float) -> list[Node]:
    return [node("rect", x=x + 8.4, y=y - 2.6, width=5.2, height=5.2, fill=INK)]


def _band(x: float, y: float) -> list[Node]:
    return [node("rect", x=x + 7, y=y - 5, width=9, height=10, fill=BAND, stroke=INK, stroke_width=HAIR)]


def _outer(x: float, y: float) -> list[Node]:
    return [line((x + 5, y), (x + 18, y), stroke=INK, stroke_width=HEAVY)]


_Drawn = Callable[[float, float], list[Node]]
_BELOW: Final[tuple[tuple[str, _Drawn], ...]] = (
    ("shoe", lambda x, y: [_box(x, y, IRON, 1.2)]),
    ("beyond", lambda x, y: [_box(x, y, HORN)]),
    ("marked", lambda x, y: [_box(x, y, SCORCHED)]),
    ("bare", _bare),
    ("nail", _nail),
    ("unread", _unread),
)
_BANDS: Final[tuple[tuple[str, _Drawn], ...]] = (("band", _band), ("outer", _outer))
_ASIDE: Final[tuple[tuple[str, _Drawn], ...]] = (
    ("clinch_good", lambda x, y: [clinch_sign("seen", (x + 11, y), found=False)]),
    ("clinch_other", lambda x, y: [clinch_sign("seen", (x + 11, y), found=True)]),
    ("clinch_unread", lambda x, y: [clinch_sign(None, (x + 11, y), found=False)]),
)
