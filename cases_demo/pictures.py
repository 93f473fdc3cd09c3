"""Write the pictures at the top of README: what the tool says of a demo foot, and the drawing of it.

``python cases_demo/pictures.py`` writes docs/pictures/answer.svg and docs/pictures/drawing.svg.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Final
from xml.sax.saxutils import escape

from fitcheck import Fitting, assess, shipped_rulebook
from fitcheck.drawing import draw

FOLDER: Final = Path(__file__).parent
PICTURES: Final = FOLDER.parent / "docs" / "pictures"
CASE: Final = "high-nail"
_LINE_PX: Final = 16
_LETTER_PX: Final = 7.3
_EDGE_PX: Final = 12


def text_picture(text: str) -> str:
    """``text`` in letters of one width, as SVG."""
    lines = text.rstrip("\n").split("\n")
    width = 2 * _EDGE_PX + _LETTER_PX * max(map(len, lines))
    height = 2 * _EDGE_PX + _LINE_PX * len(lines)
    rows = (
        f'<text x="{_EDGE_PX}" y="{_EDGE_PX + _LINE_PX * (number + 0.75):g}" xml:space="preserve">{escape(line)}</text>'
        for number, line in enumerate(lines)
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height}" font-family="monospace" '
        f'font-size="12"><title>What is said of the foot</title><rect width="100%" height="100%" fill="#fff"/>\n'
        + "\n".join(rows)
        + "\n</svg>\n"
    )


if __name__ == "__main__":
    fitting = Fitting.model_validate(json.loads((FOLDER / f"{CASE}.json").read_text(encoding="utf-8")))
    drawing = draw(fitting, assess(fitting), shipped_rulebook(), form="views", prefix="readme")
    PICTURES.mkdir(exist_ok=True)
    (PICTURES / "drawing.svg").write_text(drawing, encoding="utf-8")
    said = (FOLDER / f"{CASE}.txt").read_text(encoding="utf-8")
    (PICTURES / "answer.svg").write_text(text_picture(said), encoding="utf-8")
