"""What stands beside the view from below: at each place its readings in words, and what was not read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from fitcheck.drawing.figure import Values
from fitcheck.drawing.markers import PITCH, row_of_markers
from fitcheck.drawing.shades import HAIR, INK, UNSEEN
from fitcheck.drawing.svg import Anchor, Node, Point, label, node, path_of, wrapped
from fitcheck.text.catalogue import Messages
from fitcheck.text.format import amount_of, shown
from fitcheck.view import FindingView

__all__ = ["LINE", "Label", "above", "beside", "labels_at"]

LINE: Final = 11.5
_SIZE: Final = 9.2
_ACROSS: Final = 3


@dataclass(frozen=True, slots=True)
class Label:
    """One line beside a place; not ``known`` where it says that something was not read."""

    text: str
    known: bool


def labels_at(place: str, values: Values, messages: Messages) -> list[Label]:
    """The readings at a place of the bearing wall, in words."""
    heel = place.endswith("_heel")
    lines = [_iron(place, values.get(("width" if heel else "overhang", place)), messages)]
    if heel:
        lines += [
            _one("length", values.get(("length", place)), messages, below="drawing.reading.short"),
            _one("frog_gap", values.get(("frog_gap", place)), messages, below="drawing.reading.over_frog"),
        ]
    return [*lines, _one("gap", values.get(("gap", place)), messages, zero="drawing.reading.no_gap")]


def _iron(place: str, value: float | None, messages: Messages) -> Label:
    if value is None:
        return Label(messages.say("drawing.reading.iron_unread"), known=False)
    amount = amount_of(value, "mm")
    if amount == 0:
        return Label(messages.say("drawing.reading.flush"), known=True)
    inwards = "drawing.reading.set_back" if place == "toe" else "drawing.reading.in"
    return Label(
        messages.say(
            "drawing.reading.out" if amount > 0 else inwards, value=shown(abs(value), "mm", messages.language)
        ),
        known=True,
    )


def _one(
    name: str, value: float | None, messages: Messages, *, below: str | None = None, zero: str | None = None
) -> Label:
    if value is None:
        return Label(messages.say(f"drawing.reading.{name}_unread"), known=False)
    amount = amount_of(value, "mm")
    if zero is not None and amount == 0:
        return Label(messages.say(zero), known=True)
    if below is not None and amount < 0:
        return Label(messages.say(below, value=shown(abs(value), "mm", messages.language)), known=True)
    return Label(messages.say(f"drawing.reading.{name}", value=shown(value, "mm", messages.language)), known=True)


def above(
    title: str,
    lines: Sequence[Label],
    findings: Sequence[FindingView],
    middle: float,
    top: float,
    width: float,
) -> tuple[list[Node], float]:
    """A title, its lines and its markers, one below the other about ``middle``, and where they end."""
    nodes, here = _lines([Label(title, known=True), *lines], middle, top, width, "middle")
    if not findings:
        return nodes, here + 3
    across = max(_ACROSS, int(width // PITCH))
    first = middle - PITCH * (min(len(findings), across) - 1) / 2
    markers, height = row_of_markers(findings, first, here + 15, across)
    return [*nodes, *markers], here + height + 6


def beside(
    title: str,
    lines: Sequence[Label],
    findings: Sequence[FindingView],
    outer: float,
    top: float,
    inwards: float,
    target: Point,
) -> tuple[list[Node], float]:
    """A title, its markers and its lines in the margin, a line leading from there to ``target``, and where they end.

    ``outer`` is where the margin begins, at the border of the sheet; ``inwards``, with its sign, how far it goes.
    """
    anchor: Anchor = "start" if inwards > 0 else "end"
    turn = 1 if inwards > 0 else -1
    inner = outer + inwards
    nodes, here = _lines([Label(title, known=True)], outer, top, abs(inwards), anchor, bold=True)
    if findings:
        y = here + 15
        markers, height = row_of_markers(findings, inner - turn * 11, y, _ACROSS, -turn * PITCH)
        leader = [(inner - turn * 11, y), (inner + turn * 4, y), target]
        here += height + 1
    else:
        y = here + 4
        markers, leader = [], [(outer, y), (inner, y), target]
        here += 4
    labels, here = _lines(lines, outer, here, abs(inwards), anchor)
    path = node("path", class_="leader", d=path_of(leader), fill="none", stroke=INK, stroke_width=HAIR)
    return [path, *nodes, *markers, *labels], here


def _lines(
    lines: Sequence[Label], x: float, top: float, width: float, anchor: Anchor, *, bold: bool | None = None
) -> tuple[list[Node], float]:
    """Lines of text from ``top`` down; the first of several is the title."""
    nodes: list[Node] = []
    here = top
    for number, labels in enumerate(lines):
        stands_out = (anchor == "middle" and number == 0) if bold is None else bold
        for part in wrapped(labels.text, _SIZE, width, bold=stands_out):
            here += LINE
            nodes.append(
                label(
                    part,
                    x,
                    here,
                    size=_SIZE,
                    anchor=anchor,
                    bold=stands_out,
                    fill=INK if labels.known else UNSEEN,
                    font_style=None if labels.known else "italic",
                )
            )
    return nodes, here
