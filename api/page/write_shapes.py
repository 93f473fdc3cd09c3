"""Writes the page's ``js/drawings/shapes.js`` from ``fitcheck/drawing``: ``python -m api.page.write_shapes``.

The page, the drawing of an answer and the report then show one foot; a test holds the file against what this gives.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Final, get_args

from fitcheck.drawing.foot_below import FootBelow, Shape
from fitcheck.drawing.foot_upright import from_front, from_side
from fitcheck.drawing.svg import path_of
from rules.model.records import Foot

__all__ = ["FILE", "module"]

FILE: Final = Path(__file__).parent / "static" / "js" / "drawings" / "shapes.js"
_HEAD: Final = """/** A fore and a hind foot from below, from the side and from in front: paths in mm, y down, the toe
 *  up or to the left, the lateral side to the right. `places` are the stretches and areas of the
 *  view from below that have a name. Made by `python -m api.page.write_shapes` from fitcheck/drawing; do not edit. */
"""


def module() -> str:
    """The text of the file."""
    views = {
        foot: {
            "below": _written(FootBelow(foot).shapes),
            "places": _written(FootBelow(foot).places),
            "side": _written(from_side(foot)),
            "front": _written(from_front(foot)),
        }
        for foot in get_args(Foot)
    }
    lines = [f"export const {foot.upper()} = {{\n{_body(parts)}\n}};\n" for foot, parts in views.items()]
    return _HEAD + "\n".join(lines)


def _written(shapes: Iterable[Shape]) -> list[dict[str, str]]:
    return [
        {"part": each.part, **({} if each.place is None else {"place": each.place}), "d": _path(each)}
        for each in shapes
    ]


def _path(shape: Shape) -> str:
    return path_of([(round(x, 1), round(-y, 1)) for x, y in shape.points], closed=shape.closed)


def _body(parts: dict[str, list[dict[str, str]]]) -> str:
    return "\n".join(
        f"  {name}: [\n" + "\n".join(f"    {json.dumps(each)}," for each in listed) + "\n  ],"
        for name, listed in parts.items()
    )


if __name__ == "__main__":
    FILE.write_text(module(), encoding="utf-8")
