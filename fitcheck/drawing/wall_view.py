"""The wall of one branch from the side, drawn: each nail's exit against the band in which it may come out."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from fitcheck.drawing.band_view import bands_drawn, finite_ends
from fitcheck.drawing.figure import Frame
from fitcheck.drawing.markers import PITCH, marker, row_of_markers
from fitcheck.drawing.shades import DASHES, HAIR, HEAVY, INK, IRON, PAPER, THIN, UNSEEN
from fitcheck.drawing.svg import Anchor, Node, Point, label, line, node, path_of
from fitcheck.drawing.wall import Band, SideNail, SideWall
from fitcheck.text.catalogue import Messages
from fitcheck.text.format import digits_of
from fitcheck.view import FindingView

__all__ = ["WallParts", "clinch_sign", "nail_table", "wall_view"]

_ROOM: Final = (304.0, 112.0)
_MOST_SCALE: Final = 1.35
_SPREAD: Final = 22.0


@dataclass(frozen=True)
class WallParts:
    """What the view is drawn from."""

    wall: SideWall
    toe: int
    """-1 where the toe is on the left, 1 where it is on the right."""
    findings: Mapping[str, Sequence[FindingView]]
    """Findings by nail."""
    whole: Sequence[FindingView]
    """Findings on the branch's nails together."""
    clinch_found: frozenset[str]
    """The nails on whose clinch something was found."""
    messages: Messages


def wall_view(parts: WallParts, top: float, width: float) -> tuple[list[Node], float]:
    """The view from ``top`` down in a sheet of ``width``, and where it ends."""
    wall, messages = parts.wall, parts.messages
    nodes = [
        label(messages.say(f"drawing.wall.{wall.side}"), 4, top + 12, size=11, bold=True),
        label(messages.say("drawing.wall.to_scale"), width - 4, top + 12, size=8.8, anchor="end"),
    ]
    whole, _ = row_of_markers(parts.whole, 100, top + 8.5, 7)
    nodes += whole
    stacked = max((len(parts.findings.get(nail.place, ())) for nail in wall.nails), default=0)
    frame = _frame(wall, parts.toe, width, top + 24 + PITCH * stacked)
    if not wall.observed or not wall.nails:
        text = messages.say("drawing.wall.no_nails" if wall.observed else "drawing.wall.nails_unread")
        middle = frame.at((wall.length / 2, 22.0))
        nodes.append(label(text, *middle, size=10, anchor="middle", fill=UNSEEN, font_style="italic", class_="unread"))
    nodes.append(
        node(
            "g",
            *_iron(wall, frame),
            *bands_drawn(wall, frame),
            *_outline(wall, frame),
            *_ends_named(parts, frame),
            *(part for nail in wall.nails for part in _nail(nail, parts, frame)),
            class_=f"wall {wall.side}",
            data_scale=frame.scale,
            data_slope=wall.slope,
        )
    )
    nodes += _markers(parts, frame, width)
    bottom = frame.at((0, -wall.thickness))[1] + 3
    if not wall.nails:
        return nodes, bottom + 8
    feet = [(nail, frame.at((nail.foot, -wall.thickness))) for nail in wall.nails]
    table, end = nail_table(feet, parts.clinch_found, messages, bottom, width, banded=wall.banded)
    return [*nodes, *table], end


def _frame(wall: SideWall, toe: int, width: float, top: float) -> Frame:
    points = [wall.up(0, 0), (wall.length, 0.0), (wall.buttress, 0.0), *(point for point, _ in wall.hairline)]
    for nail in wall.nails:
        heights = [nail.exit or 0.0, nail.wall_height or 0.0, *finite_ends(nail.free), *finite_ends(nail.borne)]
        points += [wall.up(nail.foot, height) for height in heights]
    least, most = min(x for x, _ in points), max(x for x, _ in points)
    tallest = max(y for _, y in points)
    scale = min(_MOST_SCALE, _ROOM[0] / (most - least), _ROOM[1] / tallest)
    middle = width / 2 + toe * scale * (least + most) / 2
    return Frame(middle, top + scale * tallest, scale, -toe)


def _iron(wall: SideWall, frame: Frame) -> list[Node]:
    corners = frame.all(
        [(0, 0), (wall.length, 0), (wall.length, -wall.thickness), (0.8 * wall.thickness, -wall.thickness)]
    )
    return [
        node(
            "path",
            class_="iron",
            d=path_of(corners, closed=True),
            fill=IRON,
            stroke=INK if wall.thickness_known else UNSEEN,
            stroke_width=THIN,
            stroke_dasharray=None if wall.thickness_known else DASHES,
        )
    ]


def _ends_named(parts: WallParts, frame: Frame) -> list[Node]:
    """Which end is which, beside the shoe."""
    middle = -parts.wall.thickness / 2
    nodes = []
    for name, back, turn in (("toe", 0.0, parts.toe), ("heel", parts.wall.length, -parts.toe)):
        x, y = frame.at((back, middle))
        anchor: Anchor = "start" if turn > 0 else "end"
        nodes.append(label(parts.messages.say(f"drawing.wall.{name}"), x + 3 * turn, y + 3, size=8.8, anchor=anchor))
    return nodes


def _outline(wall: SideWall, frame: Frame) -> list[Node]:
    hairline = wall.hairline
    pieces = [
        line(frame.at((0, 0)), frame.at((wall.buttress, 0)), stroke=INK, stroke_width=HEAVY, class_="bearing"),
        _side(frame.at((0, 0)), frame.at(hairline[0][0]), known=wall.toe_height_known),
        _side(frame.at((wall.buttress, 0)), frame.at(hairline[-1][0]), known=False),
    ]
    for (one, sure), (other, as_sure) in pairwise(hairline):
        pieces.append(_side(frame.at(one), frame.at(other), known=sure and as_sure, name="hairline"))
    return pieces


def _side(start: Point, end: Point, *, known: bool, name: str = "side") -> Node:
    return line(
        start,
        end,
        class_=name,
        stroke=INK if known else UNSEEN,
        stroke_width=HEAVY if known else THIN,
        stroke_dasharray=None if known else DASHES,
        stroke_linecap="round" if known else None,
    )


def _nail(nail: SideNail, parts: WallParts, frame: Frame) -> list[Node]:
    wall = parts.wall
    top = nail.wall_height if nail.wall_height is not None else wall.toe_height
    foot = frame.at((nail.foot, 0))
    if nail.exit is None:
        free = (nail.free.low, nail.free.high)
        height = sum(free) / 2 if all(map(math.isfinite, free)) and not nail.free.empty else top / 3
        end = frame.at(wall.up(nail.foot, height))
        return [
            line(foot, end, class_="nail unread", stroke=UNSEEN, stroke_width=THIN, stroke_dasharray="2 1.6"),
            clinch_sign(None, end, found=False),
        ]
    end = frame.at(wall.up(nail.foot, nail.exit))
    return [
        line(foot, end, class_="nail", data_place=nail.place, data_value=nail.exit, stroke=INK, stroke_width=1.3),
        clinch_sign(nail.clinch, end, found=nail.place in parts.clinch_found),
    ]


def clinch_sign(clinch: str | None, at: Point, *, found: bool) -> Node:
    """Where the nail comes out: a filled round where the clinch is in order, open where not, dashed where not seen."""
    x, y = at
    return node(
        "circle",
        class_="exit",
        cx=x,
        cy=y,
        r=3.0,
        fill=INK if clinch and not found else PAPER,
        stroke=INK if clinch else UNSEEN,
        stroke_width=1.4 if clinch else 1.1,
        stroke_dasharray=None if clinch else "1.6 1.2",
    )


def _markers(parts: WallParts, frame: Frame, width: float) -> list[Node]:
    """The findings of each nail over the wall, one above the other, led to the nail's exit."""
    wall = parts.wall
    found = [nail for nail in wall.nails if parts.findings.get(nail.place)]
    if not found:
        return []
    tops = []
    for nail in found:
        height = nail.exit if nail.exit is not None else nail.wall_height or wall.toe_height / 3
        tops.append((nail, frame.at(wall.up(nail.foot, height))))
    tops.sort(key=lambda each: each[1][0])
    base = min(frame.at(point)[1] for point, _ in wall.hairline)
    base = min(base, *(y for _, (_, y) in tops)) - 14
    nodes: list[Node] = []
    for (nail, (x, y)), place in zip(tops, _apart([x for _, (x, _) in tops], width), strict=True):
        stack = parts.findings[nail.place]
        nodes.append(
            node(
                "path",
                class_="leader",
                d=path_of([(place, base), (x, y - 3)]),
                fill="none",
                stroke=INK,
                stroke_width=HAIR,
            )
        )
        nodes += [marker(each.number, each.grade, place, base - PITCH * step) for step, each in enumerate(stack)]
    return nodes


def _apart(positions: Sequence[float], width: float) -> list[float]:
    """The nearest places to those wanted, in order, that leave room for a marker each."""
    placed: list[float] = []
    for x in positions:
        placed.append(max(x, placed[-1] + _SPREAD) if placed else max(x, 14.0))
    limit = width - 14
    for number_, x in reversed(list(enumerate(placed))):
        placed[number_] = min(x, limit)
        limit = placed[number_] - _SPREAD
    return placed


_HEADS: Final = 46.0
_DROP: Final = 15.0
_ROW: Final = 12.0
_SIZE: Final = 9.0
_BAND_ROW: Final = "allowed"
_ROWS: Final = ("hole", "exit", _BAND_ROW, "clinch")


def nail_table(
    feet: Sequence[tuple[SideNail, Point]],
    clinch_found: frozenset[str],
    messages: Messages,
    top: float,
    width: float,
    *,
    banded: bool = True,
) -> tuple[list[Node], float]:
    """The table from ``top`` down, its columns in the order in which the nails stand in the drawing.

    Without ``banded`` nothing is said of the bands.
    """
    columns = sorted(feet, key=lambda each: each[1][0])
    step = (width - _HEADS - 6) / max(len(columns), 4)
    start = top + _DROP
    nodes: list[Node] = []
    rows = [row for row in _ROWS if banded or row != _BAND_ROW]
    for row, name in enumerate(rows):
        y = _row(start, row)
        nodes.append(label(messages.say(f"drawing.wall.{name}"), 4, y, size=_SIZE))
    nodes.append(line((4, start + _ROW + 1), (width - 4, start + _ROW + 1), stroke=INK, stroke_width=HAIR))
    shift = (width - _HEADS - 6 - step * len(columns)) / 2
    for number, (nail, (x, y)) in enumerate(columns):
        middle = _HEADS + shift + step * (number + 0.5)
        nodes.append(
            node(
                "path",
                class_="leader",
                d=path_of([(x, y), (x, y + 3), (middle, start - 2)]),
                fill="none",
                stroke=INK,
                stroke_width=HAIR,
            )
        )
        cells = _cells(nail, messages, clinch_found=nail.place in clinch_found)
        for row, (text, known, bold) in enumerate(cells[_ROWS.index(name)] for name in rows):
            nodes.append(
                label(
                    text,
                    middle,
                    _row(start, row),
                    size=_SIZE,
                    anchor="middle",
                    bold=bold,
                    fill=INK if known else UNSEEN,
                    font_style=None if known else "italic",
                )
            )
    return nodes, _row(start, len(rows))


def _row(start: float, row: int) -> float:
    """The baseline of a row; below the heads lies a line."""
    return start + _ROW * (row + 0.8) + (2.5 if row else 0.0)


def _cells(nail: SideNail, messages: Messages, *, clinch_found: bool) -> list[tuple[str, bool, bool]]:
    """Text, whether it was read, whether it stands out."""
    unread = messages.say("drawing.wall.unread")
    exit_at = (unread, False, False) if nail.exit is None else (_plain(nail.exit, messages), True, False)
    clinch = (unread, False, False) if nail.clinch is None else (messages.word(nail.clinch), True, clinch_found)
    return [(str(nail.hole), True, True), exit_at, (_band(nail.free, messages), True, False), clinch]


def _plain(value: float, messages: Messages) -> str:
    return digits_of(value, "mm", messages.language)


def _band(band: Band, messages: Messages) -> str:
    if band.empty:
        return messages.say("drawing.wall.none")
    if math.isinf(band.low):
        return (
            messages.say("drawing.wall.no_band")
            if math.isinf(band.high)
            else messages.say("drawing.wall.band_down", high=_plain(band.high, messages))
        )
    if math.isinf(band.high):
        return messages.say("drawing.wall.band_up", low=_plain(band.low, messages))
    return messages.say("drawing.wall.band", low=_plain(band.low, messages), high=_plain(band.high, messages))
