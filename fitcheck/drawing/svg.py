"""SVG as a tree of nodes and as text: whatever is text is escaped, and only presentation attributes style it.

A page with a strict Content-Security-Policy may forbid style sheets and ``style`` attributes, so none is written, nor
any script, handler or reference to something outside the drawing.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape
from typing import Final

__all__ = ["Node", "Point", "line", "node", "number", "path_of", "written"]

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
