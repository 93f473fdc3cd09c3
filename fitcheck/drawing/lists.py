"""The lists of the drawing: what was found, what was not assessed, and every sign with its meaning."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final, get_args

from fitcheck.drawing.markers import marker
from fitcheck.drawing.shades import BAND, DASHES, HAIR, HEAVY, HORN, INK, IRON, PAPER, SCORCHED, THIN, UNSEEN
from fitcheck.drawing.svg import Node, label, line, node, shortened, text_width, wrapped
from fitcheck.drawing.wall_view import clinch_sign
from fitcheck.text.catalogue import Messages
from fitcheck.view import FindingView
from rules.model.records import Grade

__all__ = ["findings_list", "heading", "key", "unobserved_list"]

_SIZE: Final = 10.0
_LINE: Final = 12.5
_INDENT: Final = 28.0
_MOST_MISSING: Final = 14

_WIDE: Final = 22.0
_SMALL: Final = 9.0
_SIGN_ROW: Final = 15.5
_TEXT: Final = 28.0


def heading(text: str, top: float) -> Node:
    """A heading under ``top``."""
    return label(text, 4, top + 11, size=11, bold=True)


def findings_list(
    findings: Sequence[FindingView], messages: Messages, top: float, width: float
) -> tuple[list[Node], float]:
    """Every finding: its marker, the grade in words, the place, and what was found."""
    nodes = [heading(messages.say("view.found"), top)]
    here = top + 22
    if not findings:
        nodes.append(label(messages.say("view.nothing_found"), 4, here + 4, size=_SIZE))
        return nodes, here + 14
    for each in findings:
        entry = messages.say("drawing.list.entry", grade=each.grade_word, place=each.place)
        room = width - _INDENT - 6
        lines = wrapped(each.text, _SIZE, room, most=5)
        nodes.append(
            node(
                "g",
                marker(each.number, each.grade, 14, here + 5),
                label(shortened(entry, _SIZE, room, bold=True), _INDENT, here + 4, size=_SIZE, bold=True),
                *(label(text, _INDENT, here + 4 + _LINE * row, size=_SIZE) for row, text in enumerate(lines, 1)),
                class_="entry",
            )
        )
        here += max(_LINE * (len(lines) + 1), 20) + 6
    return nodes, here


def unobserved_list(names: Sequence[str], messages: Messages, top: float, width: float) -> tuple[list[Node], float]:
    """What was not assessed, each beside a dashed round."""
    nodes = [heading(messages.say("view.unobserved"), top)]
    here = top + 22
    if not names:
        nodes.append(label(messages.say("view.nothing_unobserved"), 4, here + 4, size=_SIZE))
        return nodes, here + 14
    shown = names if len(names) <= _MOST_MISSING else [*names[: _MOST_MISSING - 1]]
    texts = [
        *shown,
        *([messages.say("drawing.list.more", count=len(names) - len(shown))] if len(shown) < len(names) else []),
    ]
    for text in texts:
        lines = wrapped(text, _SIZE, width - _INDENT - 6, most=3)
        nodes.append(
            node(
                "circle",
                cx=14,
                cy=here + 1,
                r=4.5,
                fill=PAPER,
                stroke=UNSEEN,
                stroke_width=1.1,
                stroke_dasharray="2.4 1.6",
            )
        )
        nodes += [label(part, _INDENT, here + 4 + _LINE * row, size=_SIZE) for row, part in enumerate(lines)]
        here += _LINE * len(lines) + 2
    return nodes, here + 2


def key(messages: Messages, top: float, width: float, *, walls: bool, banded: bool = True) -> tuple[list[Node], float]:
    """The key from ``top`` down, and where it ends.

    The signs of the wall views are there only with ``walls``, those of the bands only with ``banded`` as well.
    """
    nodes = [heading(messages.say("drawing.key.title"), top)]
    here = top + 26
    x = 4.0
    for grade in get_args(Grade):
        meaning = f"{messages.say(f'view.grade.{grade}')}: {messages.say(f'view.grade_means.{grade}')}"
        nodes += [marker(None, grade, x + 11, here), label(meaning, x + 26, here + 3, size=_SMALL)]
        x += 26 + text_width(meaning, _SMALL) + 4
    here += 20
    half = (width - 8) / 2
    signs = [*_BELOW, *(_BANDS if walls and banded else ()), *(_ASIDE if walls else ())]
    for place, (name, drawn) in enumerate(signs):
        x, y = 4 + half * (place % 2), here + _SIGN_ROW * (place // 2)
        nodes += drawn(x, y)
        text = shortened(messages.say(f"drawing.key.{name}"), _SMALL, half - _TEXT)
        nodes.append(label(text, x + _TEXT, y + 3, size=_SMALL))
    return nodes, here + _SIGN_ROW * -(-len(signs) // 2)


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
