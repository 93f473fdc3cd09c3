"""Lines of text in the drawing: how wide they are at most, and where they are broken.

No font is asked: a width is a cautious estimate, in units of the drawing, for any sans-serif face.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from functools import lru_cache
from typing import Final, Literal

from fitcheck.drawing.shades import INK
from fitcheck.drawing.svg import Node, node

__all__ = ["FACE", "Anchor", "label", "shortened", "text_width", "wrapped"]

FACE: Final = "Helvetica, Arial, Liberation Sans, sans-serif"
_NARROW: Final = frozenset("fijlrtI.,:;'|!()[] /-")
_BROAD: Final = frozenset("mwMW@%ABCDEFGHKNOPQRSTUVXYZ+=<>")
_EM: Final = {"narrow": 0.32, "usual": 0.56, "broad": 0.78, "full": 1.05}
_LATIN_LAST: Final = "\u206f"
_BOLD: Final = 1.07

Anchor = Literal["start", "middle", "end"]


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """About how wide ``text`` is at most in a face of ``size``."""
    return sum(map(_em, text)) * size * (_BOLD if bold else 1.0)


@lru_cache(maxsize=1024)
def _em(letter: str) -> float:
    if letter in _NARROW or unicodedata.combining(letter):
        return _EM["narrow"]
    if letter in _BROAD:
        return _EM["broad"]
    full = unicodedata.east_asian_width(letter) in "WF" or letter > _LATIN_LAST
    return _EM["full" if full else "usual"]


def wrapped(text: str, size: float, width: float, most: int = 6, *, bold: bool = False) -> list[str]:
    """``text`` in lines no wider than ``width``; after ``most`` lines the rest is left out and marked so."""
    width /= _BOLD if bold else 1.0
    space = text_width(" ", size)
    lines: list[str] = []
    line, reach = "", 0.0
    for word, long in _words(text, size, width):
        if line and reach + space + long > width:
            lines.append(line)
            line, reach = word, long
        elif line:
            line, reach = f"{line} {word}", reach + space + long
        else:
            line, reach = word, long
    lines.append(line)
    if len(lines) <= most:
        return lines
    return [*lines[: most - 1], shortened(f"{lines[most - 1]} …", size, width)]


def _words(text: str, size: float, width: float) -> Iterator[tuple[str, float]]:
    """The words of ``text`` and their widths, such as are wider than a line broken anywhere."""
    for word in text.split():
        long = text_width(word, size)
        if long <= width:
            yield word, long
            continue
        part, reach = "", 0.0
        for letter in word:
            step = text_width(letter, size)
            if part and reach + step > width:
                yield part, reach
                part, reach = "", 0.0
            part, reach = part + letter, reach + step
        yield part, reach


def shortened(text: str, size: float, width: float, *, bold: bool = False) -> str:
    """``text`` cut, and marked so, where it is wider than ``width``."""
    if text_width(text, size, bold=bold) <= width:
        return text
    width_so_far = text.rstrip(" …")
    while width_so_far and text_width(f"{width_so_far}…", size, bold=bold) > width:
        width_so_far = width_so_far[:-1]
    return f"{width_so_far.rstrip()}…"


def label(
    text: str,
    x: float,
    y: float,
    *,
    size: float = 10.0,
    anchor: Anchor = "start",
    bold: bool = False,
    fill: str = INK,
    **more: str | float | None,
) -> Node:
    """One line of text, its baseline at ``y``."""
    return node(
        "text",
        text,
        x=x,
        y=y,
        font_size=size,
        text_anchor=None if anchor == "start" else anchor,
        font_weight="bold" if bold else None,
        fill=fill,
        **more,
    )
