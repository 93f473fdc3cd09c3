"""What a day's marks by hand tell to practise, as SVG: for each criterion the share of its marks that was lost."""

from __future__ import annotations

from typing import Final

from fitcheck.drawing.plot import GRID, LEFT, MARGIN, PERCENT, TICKS, drawn, heading
from fitcheck.drawing.shades import HAIR, INK, UNSEEN
from fitcheck.drawing.svg import Node, label, line, node
from fitcheck.marking.practice import Practice
from fitcheck.text.catalogue import messages_of
from rules import Rulebook

__all__ = ["practice_plot"]

_RIGHT: Final = 560.0
_TOP: Final = 40.0
_ROW: Final = 26.0
_BAR: Final = 14.0
_SHADE: Final = "#7a7a7a"


def practice_plot(practice: Practice, book: Rulebook) -> str:
    """For each criterion the share of its marks that was lost, as SVG with presentation attributes alone."""
    messages = messages_of(book)
    bottom = _TOP + _ROW * len(practice.rows)
    parts: list[Node] = [heading(messages.say("practice.plot"))]
    for tick in TICKS:
        x = LEFT + (_RIGHT - LEFT) * tick / PERCENT
        parts.append(line((x, _TOP - 6), (x, bottom), stroke=GRID, stroke_width=HAIR))
        parts.append(label(messages.say("practice.percent", share=tick), x, bottom + 14, anchor="middle", fill=UNSEEN))
    said = []
    for number, row in enumerate(practice.rows):
        y = _TOP + _ROW * (number + 0.5)
        width = (_RIGHT - LEFT) * row.lost / PERCENT
        share = messages.say("practice.percent", share=f"{row.lost:.0f}")
        parts.append(label(row.title, LEFT - MARGIN, y + 4, anchor="end", size=11))
        parts.append(
            node("rect", x=LEFT, y=y - _BAR / 2, width=width, height=_BAR, fill=_SHADE, stroke=INK, stroke_width=HAIR)
        )
        parts.append(label(share, LEFT + width + 6, y + 4))
        said.append(messages.say("practice.said", title=row.title, share=share))
    return drawn(parts, bottom + 24, title=messages.say("practice.plot"), description=" ".join(said))
