"""Drawings read back: their shapes as points in units of the drawing."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Any
from xml.etree.ElementTree import Element, XMLPullParser

from fitcheck.assessment.assess import assess
from fitcheck.assessment.models import Assessment
from fitcheck.drawing import draw
from fitcheck.drawing.svg import text_width
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.validation import parse_fitting
from rules import Rulebook, shipped_rulebook

Point = tuple[float, float]
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
_COMMANDS = re.compile(r"([MLHZ])([^MLHZ]*)")


@dataclass(frozen=True)
class Drawn:
    """A fitting, its assessment and the drawing of both, as text and as a tree."""

    fitting: Fitting
    assessment: Assessment
    text: str

    @cached_property
    def root(self) -> Element:
        return tree_of(self.text)

    def all(self, name: str, within: str = "", **data: str) -> list[Element]:
        """The elements that have the class ``name`` and these data, in the groups that have the class ``within``."""
        return [
            each
            for group in (_classed(self.root, within) if within else [self.root])
            for each in _classed(group, name)
            if all(each.get(f"data-{key.replace('_', '-')}") == value for key, value in data.items())
        ]

    def one(self, name: str, within: str = "", **data: str) -> Element:
        """The only such element."""
        (found,) = self.all(name, within, **data)
        return found

    @property
    def said(self) -> list[str]:
        """Every text that the drawing shows."""
        return [each.text or "" for each in self.root.iter() if tag_of(each) == "text"]


def drawn(document: dict[str, Any], book: Rulebook | None = None, **options: Any) -> Drawn:
    """The drawing of a fitting given as a JSON document."""
    book = book or shipped_rulebook()
    fitting = parse_fitting(document, book)
    assessment = assess(fitting, book)
    return Drawn(fitting, assessment, draw(fitting, assessment, book, **options))


def tree_of(text: str) -> Element:
    """The root of a well-formed document; raises ParseError for any other."""
    parser: XMLPullParser[Element] = XMLPullParser(["start"])
    parser.feed(text)
    parser.close()
    event: tuple[Any, ...] = next(iter(parser.read_events()))
    root = event[1]
    assert isinstance(root, Element)
    return root


def tag_of(element: Element) -> str:
    return element.tag.removeprefix("{http://www.w3.org/2000/svg}")


def _classed(root: Element, name: str) -> list[Element]:
    wanted = set(name.split())
    return [each for each in root.iter() if wanted <= set((each.get("class") or "").split())]


def number_of(element: Element, name: str) -> float:
    return float(element.get(name) or "")


def points_of(element: Element) -> list[Point]:
    """The corners of a shape: the ends of a line, the points of a path, the box of a circle, a rectangle or a text."""
    match tag_of(element):
        case "line":
            names = (("x1", "y1"), ("x2", "y2"))
            return [(number_of(element, x), number_of(element, y)) for x, y in names]
        case "path":
            return list(_path(element.get("d") or ""))
        case "circle":
            x, y, r = (number_of(element, name) for name in ("cx", "cy", "r"))
            return [(x - r, y - r), (x + r, y + r)]
        case "rect":
            x, y = (number_of(element, name) if element.get(name) else 0.0 for name in ("x", "y"))
            return [(x, y), (x + number_of(element, "width"), y + number_of(element, "height"))]
        case "text":
            return _text_box(element)
    return []


def _path(data: str) -> Iterator[Point]:
    here: Point = (0.0, 0.0)
    for command, numbers in _COMMANDS.findall(data):
        values = [float(each) for each in _NUMBER.findall(numbers)]
        if command == "H":
            values.append(here[1])
        for here in zip(values[::2], values[1::2], strict=True):
            yield here


def _text_box(element: Element) -> list[Point]:
    size, x, y = (number_of(element, name) for name in ("font-size", "x", "y"))
    width = text_width(element.text or "", size, bold=element.get("font-weight") == "bold")
    left = x - {"middle": width / 2, "end": width}.get(element.get("text-anchor") or "", 0.0)
    return [(left, y - 0.75 * size), (left + width, y + 0.22 * size)]


def every_point(root: Element, shift: float = 0.0) -> Iterator[tuple[Element, Point]]:
    """Every point of every shape, moved as its groups are."""
    moved = _NUMBER.findall(root.get("transform") or "")
    across = shift + (float(moved[0]) if moved else 0.0)
    for x, y in points_of(root):
        yield root, (x + across, y)
    for child in root:
        yield from every_point(child, across)


def near_line(point: Point, line: list[Point]) -> float:
    """The distance of a point from a line through points."""
    return min(_from_segment(point, *pair) for pair in pairwise(line))


def _from_segment(point: Point, start: Point, end: Point) -> float:
    (px, py), (x, y) = point, start
    dx, dy = end[0] - x, end[1] - y
    length = dx * dx + dy * dy
    share = 0.0 if length == 0 else max(0.0, min(1.0, ((px - x) * dx + (py - y) * dy) / length))
    return float(((px - x - share * dx) ** 2 + (py - y - share * dy) ** 2) ** 0.5)
