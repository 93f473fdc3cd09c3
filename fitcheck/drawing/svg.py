"""SVG as a tree of nodes and as text: whatever is text is escaped, and only presentation attributes style it.

A page with a strict Content-Security-Policy may forbid style sheets and ``style`` attributes, so none is written, nor
any script, handler or reference to something outside the drawing.  No font is asked how wide a line of text is: the
width is a cautious estimate, in units of the drawing, for any sans-serif face.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from html import escape
from typing import Final, Literal

from fitcheck.drawing.shades import INK

__all__ = [
    "FACE",
    "Anchor",
    "Node",
    "Point",
    "label",
    "line",
    "node",
    "number",
    "path_of",
    "shortened",
    "text_width",
    "wrapped",
    "written",
]

Point = tuple[float, float]

_NAMES: Final = {"class_": "class", "xml_lang": "xml:lang", "viewBox": "viewBox"}
# Everything but the characters of XML 1.0 (5th edition, 2.2), and the marks that turn the direction of text.
_UNFIT: Final = re.compile(
    "[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]|[\u202a-\u202e\u2066-\u2069]"
)

_PLAIN: Final = re.compile(r"[\w .,:#%()/-]*", re.ASCII)


@dataclass(frozen=True, slots=True)
class Node:
    """One element: its tag, its attributes in order, and what it holds."""

    tag: str
    attributes: tuple[tuple[str, str], ...]
    content: tuple[Node | str, ...]


def node(tag: str, *content: Node | str, **attributes: str | float | None) -> Node:
    """An element; ``stroke_width`` becomes ``stroke-width``, ``class_`` becomes ``class``, None is left out."""
    return Node(
        tag, tuple((_name(key), _text(key, value)) for key, value in attributes.items() if value is not None), content
    )


def _name(key: str) -> str:
    return _NAMES[key] if key in _NAMES else key.replace("_", "-")


def _text(key: str, value: str | float) -> str:
    if isinstance(value, str):
        return value
    # What is told as data is no coordinate, and not rounded to what can be seen.
    return f"{value:.9g}" if key.startswith("data_") else number(value)


def number(value: float) -> str:
    """A coordinate, to a thousandth of a unit, without idle noughts.

    >>> number(12.5), number(-0.0001), number(3)
    ('12.5', '0', '3')
    """
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def path_of(points: Sequence[Point], *, closed: bool = False) -> str:
    """The data of a path straight from point to point."""
    data = "L".join(f"{number(x)} {number(y)}" for x, y in points)
    return f"M{data}{'Z' if closed else ''}"


def line(start: Point, end: Point, **attributes: str | float | None) -> Node:
    """A straight line."""
    return node("line", x1=start[0], y1=start[1], x2=end[0], y2=end[1], **attributes)


def written(root: Node) -> str:
    """The whole tree as text."""
    return "".join(_written(root))


def _written(each: Node | str) -> Iterator[str]:
    if isinstance(each, str):
        yield _escaped(each)
        return
    yield f"<{each.tag}"
    for name, value in each.attributes:
        yield f' {name}="{_escaped(value)}"'
    if not each.content:
        yield "/>"
        return
    yield ">"
    for part in each.content:
        yield from _written(part)
    yield f"</{each.tag}>"


def _escaped(text: str) -> str:
    if _PLAIN.fullmatch(text):
        return text
    return escape(_UNFIT.sub("\N{REPLACEMENT CHARACTER}", text), quote=True)


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
