"""The lists of the drawing: what was found, and what was not assessed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from fitcheck.assessment.models import Assessment
from fitcheck.drawing.markers import NumberedFinding, marker
from fitcheck.drawing.shades import PAPER, UNSEEN
from fitcheck.drawing.svg import Node, node
from fitcheck.drawing.text import label, shortened, wrapped
from fitcheck.text.catalogue import Messages
from fitcheck.text.names import criterion_named, place_named, quantity_named
from rules import Rulebook

__all__ = ["findings_list", "heading", "missing_list", "missing_names"]

_SIZE: Final = 10.0
_LINE: Final = 12.5
_INDENT: Final = 28.0
_MOST_MISSING: Final = 14


def findings_list(
    numbered: Sequence[NumberedFinding], messages: Messages, book: Rulebook, top: float, width: float
) -> tuple[list[Node], float]:
    """Every finding: its marker, the grade in words, the place, and what was found."""
    nodes = [heading(messages.say("drawing.list.findings"), top)]
    here = top + 22
    if not numbered:
        nodes.append(label(messages.say("drawing.list.nothing"), 4, here + 4, size=_SIZE))
        return nodes, here + 14
    for each in numbered:
        finding = each.finding
        entry = messages.say(
            "drawing.list.entry",
            grade=messages.say(f"drawing.grade.{finding.grade}"),
            place=place_named(finding.place, book),
        )
        room = width - _INDENT - 6
        lines = wrapped(finding.finding, _SIZE, room, most=5)
        nodes.append(
            node(
                "g",
                marker(each.number, finding.grade, 14, here + 5),
                label(shortened(entry, _SIZE, room, bold=True), _INDENT, here + 4, size=_SIZE, bold=True),
                *(label(text, _INDENT, here + 4 + _LINE * row, size=_SIZE) for row, text in enumerate(lines, 1)),
                class_="entry",
            )
        )
        here += max(_LINE * (len(lines) + 1), 20) + 6
    return nodes, here


def missing_names(assessment: Assessment, messages: Messages, book: Rulebook) -> list[str]:
    """What was not assessed, in the rulebook's titles."""
    names: dict[str, None] = {}
    for entry in assessment.not_assessed:
        what, _, place = entry.partition("@")
        criterion, _, quantity = what.partition(".")
        titles = {"criterion": criterion_named(criterion, book)}
        if not quantity:
            names[titles["criterion"]] = None
            continue
        titles["quantity"] = quantity_named(quantity, book)
        if place:
            names[messages.say("drawing.list.missing_at", **titles, place=place_named(place, book))] = None
        else:
            names[messages.say("drawing.list.missing_of", **titles)] = None
    return list(names)


def missing_list(names: Sequence[str], messages: Messages, top: float, width: float) -> tuple[list[Node], float]:
    """What was not assessed, each beside a dashed round."""
    nodes = [heading(messages.say("drawing.list.missing"), top)]
    here = top + 22
    if not names:
        nodes.append(label(messages.say("drawing.list.missing_none"), 4, here + 4, size=_SIZE))
        return nodes, here + 14
    shown = names if len(names) <= _MOST_MISSING else [*names[: _MOST_MISSING - 1]]
    texts = [
        *shown,
        *([messages.say("drawing.list.more", count=len(names) - len(shown))] if len(shown) < len(names) else []),
    ]
    for text in texts:
        lines = wrapped(text, _SIZE, width - _INDENT - 6, most=3)
        nodes.append(
            node(
                "circle",
                cx=14,
                cy=here + 1,
                r=4.5,
                fill=PAPER,
                stroke=UNSEEN,
                stroke_width=1.1,
                stroke_dasharray="2.4 1.6",
            )
        )
        nodes += [label(part, _INDENT, here + 4 + _LINE * row, size=_SIZE) for row, part in enumerate(lines)]
        here += _LINE * len(lines) + 2
    return nodes, here + 2


def heading(text: str, top: float) -> Node:
    """A heading under ``top``."""
    return label(text, 4, top + 11, size=11, bold=True)
