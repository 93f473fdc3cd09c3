"""The curve of an eye as SVG: how likely each word is at each measure, with the words that were said."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np
from scipy.special import ndtr

from fitcheck.drawing.plot import GRID, LEFT, MARGIN, PERCENT, TICKS, drawn, heading
from fitcheck.drawing.shades import DASHES, HAIR, HEAVY, INK, UNSEEN
from fitcheck.drawing.svg import Node, label, line, node, number
from fitcheck.eye.models import EyeQuantity, EyeView
from fitcheck.eye.sentences import Sentences
from fitcheck.scales import scales
from fitcheck.text.catalogue import messages_of
from rules import Rulebook

__all__ = ["curve_plot"]

_RIGHT: Final = 600.0
_TOP: Final = 44.0
_HEIGHT: Final = 200.0
_POINTS: Final = 120
_TWICE: Final = math.log(2)
_ROOM: Final = 2.5
"""Spreads beyond the outer ends that are drawn."""


def curve_plot(view: EyeView, quantity: str, book: Rulebook) -> str | None:
    """The curve of one quantity, in the language of ``book``; None where too few pairs tell nothing of it."""
    found = next((each for each in view.quantities if each.quantity == quantity), None)
    if found is None:
        return None
    ends = _ends(found)
    spread = found.groups[0].spread
    if not ends or spread is None:
        return None
    return _plot(found, ends, scales()[quantity].error_on_line(spread.value or 0.0), book)


def _ends(found: EyeQuantity) -> list[tuple[str, float]]:
    """Each word that was used but the last, with its end."""
    return [
        (each.word, each.ends.value)
        for each in found.groups[0].words
        if each.ends is not None and each.ends.value is not None
    ]


def _plot(found: EyeQuantity, ends: Sequence[tuple[str, float]], spread: float, book: Rulebook) -> str:
    sentences, say = Sentences(book), messages_of(book).say
    # Of an eye that errs in proportion the axis is logarithmic.
    scale = scales()[found.quantity]
    values = [scale.on_line(end) for _, end in ends]
    least = _TWICE if scale.in_proportion else 1.0 if found.unit == "mm" else values[-1] / 2
    room = max(_ROOM * spread, (values[-1] - values[0]) / 2, least)
    first, last = values[0] - room, values[-1] + room
    bottom = _TOP + _HEIGHT
    words = [each.word for each in found.groups[0].words if each.count]

    def across(value: float) -> float:
        return LEFT + (value - first) / (last - first) * (_RIGHT - LEFT)

    parts: list[Node] = [heading(say("eye.plot.head", title=found.title))]
    for tick in TICKS:
        parts.append(label(f"{tick} %", LEFT - MARGIN, _up(tick) + 4, anchor="end", fill=UNSEEN))
        parts.append(line((LEFT, _up(tick)), (_RIGHT, _up(tick)), stroke=GRID, stroke_width=HAIR))
    for at, word in enumerate(words):
        below = -math.inf if at == 0 else values[at - 1]
        above = math.inf if at == len(words) - 1 else values[at]
        parts += _curve(below, above, spread, first, last)
        middle = (max(below, first) + min(above, last)) / 2
        parts.append(label(sentences.word(found.quantity, word), across(middle), _TOP - 6, anchor="middle"))
    for (_, end), value in zip(ends, values, strict=True):
        text = f"{sentences.number(end)} {say(f'eye.unit.{found.unit}')}"
        x = across(value)
        parts.append(line((x, _TOP), (x, bottom), stroke=INK, stroke_width=HAIR, stroke_dasharray=DASHES))
        parts.append(label(text, x, bottom + 18, anchor="middle"))
    parts.append(line((LEFT, bottom), (_RIGHT, bottom), stroke=INK, stroke_width=HAIR))
    key = say("eye.plot.key_in_proportion" if scale.in_proportion else "eye.plot.key")
    parts.append(label(key, MARGIN, bottom + 44, fill=UNSEEN))
    title = say("eye.plot.title", title=found.title)
    return drawn(parts, bottom + 44 + MARGIN, title=title, description=" ".join(found.groups[0].say))


def _curve(below: float, above: float, spread: float, first: float, last: float) -> Iterator[Node]:
    at = np.linspace(first, last, _POINTS)
    width = max(spread, (last - first) / _POINTS / 2)
    chance = ndtr((above - at) / width) - ndtr((below - at) / width)
    across = LEFT + (at - first) / (last - first) * (_RIGHT - LEFT)
    points = [f"{number(float(x))} {number(_up(PERCENT * float(y)))}" for x, y in zip(across, chance, strict=True)]
    yield node("path", d=f"M{'L'.join(points)}", fill="none", stroke=INK, stroke_width=HEAVY)


def _up(percent: float) -> float:
    return _TOP + _HEIGHT * (1 - percent / PERCENT)
