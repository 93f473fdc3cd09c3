"""Writes the page's ``js/drawings/shapes.js`` from ``fitcheck/drawing``: ``python -m api.page.write_shapes``.

The page, the drawing of an answer and the report then show one foot; a test holds the file against what this gives.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Final, get_args

from shapely.geometry import LineString

from fitcheck.drawing.foot_below import FootBelow, Shape
from fitcheck.drawing.foot_upright import from_front, from_side
from fitcheck.drawing.svg import path_of
from rules.model.records import Foot

__all__ = ["FILE", "module"]

FILE: Final = Path(__file__).parent / "static" / "js" / "drawings" / "shapes.js"
_HEAD: Final = """/** A fore and a hind foot from below, from the side and from in front: paths in mm, y down, the toe
 *  up or to the left, the lateral side to the right. `clips` are those that there may be; `holes` the nail holes of a
 *  shoe with so many a branch. Made by `python -m api.page.write_shapes` from fitcheck/drawing; do not edit. */
"""
_HOLES: Final = (4, 5, 6)
_CLIPS: Final = ("toe", "medial_toe", "lateral_toe", "medial_quarter", "lateral_quarter")
_FINE: Final = 0.05
"""Points are left out of a curve that lies no further from it without them (mm)."""


def module() -> str:
    """The text of the file."""
    return _HEAD + "\n".join(f"export const {foot.upper()} = {{\n{_body(foot)}}};\n" for foot in get_args(Foot))


def _body(foot: Foot) -> str:
    plain, clipped = FootBelow(foot, clips=()), FootBelow(foot, clips=_CLIPS)
    views = {
        "below": (shape for shape in plain.shapes if shape.part != "hole"),
        "clips": _only("clip", clipped),
        "side": from_side(foot),
        "front": from_front(foot),
    }
    holes = {number: _only("hole", FootBelow(foot, holes=number)) for number in _HOLES}
    lines = [f"  {name}: [\n{_listed(shapes, 4)}  ],\n" for name, shapes in views.items()]
    lines += [
        "  holes: {\n",
        *(f"    {number}: [\n{_listed(shapes, 6)}    ],\n" for number, shapes in holes.items()),
        "  },\n",
    ]
    return "".join(lines)


def _only(part: str, foot: FootBelow) -> Iterable[Shape]:
    return (shape for shape in foot.shapes if shape.part == part)


def _listed(shapes: Iterable[Shape], indent: int) -> str:
    return "".join(f"{' ' * indent}{json.dumps(_written(each))},\n" for each in shapes)


def _written(shape: Shape) -> dict[str, str]:
    place = {} if shape.place is None else {"place": shape.place}
    return {"part": shape.part, **place, "d": _path(shape)}


def _path(shape: Shape) -> str:
    points = LineString(shape.points).simplify(_FINE).coords
    return path_of([(round(x, 1), round(-y, 1)) for x, y in points], closed=shape.closed)


if __name__ == "__main__":
    FILE.write_text(module(), encoding="utf-8", newline="\n")
