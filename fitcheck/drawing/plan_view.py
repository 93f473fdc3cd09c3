"""The view of the foot from below: toe upwards, iron over horn, what was read beside each place."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from fitcheck.drawing.figure import SIDES, Edge, Figure, Frame, Hole, Stretches, Values
from fitcheck.drawing.markers import PITCH, row_of_markers
from fitcheck.drawing.plan_labels import LINE, above, beside, labels_at
from fitcheck.drawing.shades import DASHES, HAIR, HEAVY, HORN, INK, IRON, PAPER, SCORCHED, THIN, UNSEEN
from fitcheck.drawing.svg import Node, Point, label, line, node, path_of
from fitcheck.measure.scorch import Run, bare_runs, scorched_runs
from fitcheck.text.catalogue import Messages
from fitcheck.text.format import shown
from fitcheck.view import FindingView

__all__ = ["IN_SOLE", "Imprint", "PlanParts", "plan_view"]

_ROOM: Final = (206.0, 236.0)
"""Widest and highest that the foot itself is drawn."""
_MARGIN: Final = 73.0
_BORDER: Final = 4.0
_LABELLED: Final = 32.0
"""How far inside the wall's edge the length of a bare stretch is written (mm)."""
_TICKS: Final = 4.0
"""Between the strokes across a bare stretch (deg)."""
IN_SOLE: Final = 4
"""How many findings of the sole are marked on it."""


@dataclass(frozen=True, slots=True)
class Imprint:
    """The arcs (deg) that the hot shoe marked; None where they were not read; ``expected`` where the shoe was hot."""

    arcs: Sequence[Sequence[float]] | None
    expected: bool

    def scorched(self, end: float) -> list[Run]:
        """The marked runs within the wall."""
        return [] if self.arcs is None else scorched_runs(self.arcs, end)

    def bare(self, end: float) -> list[Run]:
        """The runs left bare; none where nothing was read."""
        return [] if self.arcs is None else bare_runs(self.scorched(end), end)


@dataclass(frozen=True)
class PlanParts:
    """What the view is drawn from."""

    figure: Figure
    stretches: Stretches
    values: Values
    imprint: Imprint
    findings: Mapping[str, Sequence[FindingView]]
    """Findings by place."""
    titles: Mapping[str, str]
    """What the places of the bearing wall are called."""
    side: int
    """1 where the lateral side is on the right."""
    messages: Messages


def plan_view(parts: PlanParts, top: float, width: float) -> tuple[list[Node], float]:
    """The view from ``top`` down in a sheet of ``width``, and where it ends."""
    messages, middle = parts.messages, width / 2
    nodes, here = above(
        parts.titles["toe"],
        labels_at("toe", parts.values, messages),
        parts.findings.get("toe", ()),
        middle,
        top,
        width - 2 * _MARGIN,
    )
    frame, height = _frame(parts, middle, here + 6)
    foot = node(
        "g",
        *_foot(parts, frame),
        class_="plan",
        data_x=frame.x,
        data_y=frame.y,
        data_scale=frame.scale,
        data_factor=parts.figure.factor,
        data_length_factor=parts.figure.length_factor,
    )
    beside, end = _beside(parts, frame, here + 6, width)
    bottom = max(here + 6 + height + 8, end)
    return [foot, *nodes, *beside, *_scale_bar(frame, middle, bottom + 6, messages)], bottom + 22


def _frame(parts: PlanParts, middle: float, top: float) -> tuple[Frame, float]:
    """Where the foot is drawn, and how high it is there."""
    least_x, most_x, least_y, most_y = parts.figure.extent
    half = max(-least_x, most_x)
    scale = min(_ROOM[0] / (2 * half), _ROOM[1] / (most_y - least_y))
    return Frame(middle, top + scale * most_y, scale, parts.side), scale * (most_y - least_y)


def _foot(parts: PlanParts, frame: Frame) -> list[Node]:
    figure = parts.figure
    shapes = [_outline(each, frame, HAIR, "sketch", closed=False) for each in figure.sketched]
    if figure.iron:
        data = "".join(path_of(frame.all(each), closed=True) for each in figure.iron)
        shapes.append(node("path", class_="iron", d=data, fill=IRON, fill_rule="evenodd"))
    shapes += _imprint(parts, frame)
    shapes += [
        node("path", class_="beyond", d=path_of(frame.all(each), closed=True), fill=HORN) for each in figure.beyond
    ]
    shapes += [_edge(each, frame) for each in figure.edges]
    shapes.append(_outline(figure.wall.whole, frame, HEAVY, "wall", closed=figure.wall.closed))
    shapes += [
        line(
            frame.at(each.wall),
            frame.at(each.iron),
            class_="offset",
            data_place=each.place,
            data_value=each.value,
            stroke=INK,
            stroke_width=HEAVY,
        )
        for each in figure.offsets
        if each.value
    ]
    shapes += [part for each in figure.holes for part in _hole(each, frame)]
    return [*shapes, *_bare_labels(parts, frame)]


def _outline(points: Sequence[Point], frame: Frame, stroke: float, name: str, *, closed: bool) -> Node:
    return node(
        "path",
        class_=name,
        d=path_of(frame.all(points), closed=closed),
        fill="none",
        stroke=INK,
        stroke_width=stroke,
        stroke_linejoin="round",
    )


def _edge(edge: Edge, frame: Frame) -> Node:
    return node(
        "path",
        class_=f"edge {edge.part}",
        data_place=edge.place,
        data_known="yes" if edge.known else "no",
        d=path_of(frame.all(edge.points)),
        fill="none",
        stroke=INK if edge.known else UNSEEN,
        stroke_width=1.2 if edge.part == "outer" else THIN,
        stroke_dasharray=None if edge.known else DASHES,
        stroke_linejoin="round",
    )


def _imprint(parts: PlanParts, frame: Frame) -> list[Node]:
    """The bearing wall: marked runs shaded, bare ones struck across; only its inner border where nothing was read."""
    figure, end = parts.figure, parts.stretches.end
    nodes = [
        node(
            "path",
            class_="marked",
            data_from=run.first,
            data_to=run.last,
            d=path_of(frame.all(_ring(figure, run)), closed=True),
            fill=SCORCHED,
        )
        for run in parts.imprint.scorched(end)
    ]
    for run in parts.imprint.bare(end):
        nodes.append(
            node(
                "path",
                class_="bare",
                data_from=run.first,
                data_to=run.last,
                d=path_of(frame.all(_ring(figure, run)), closed=True),
                fill=PAPER,
                stroke=INK,
                stroke_width=THIN,
            )
        )
        nodes.append(node("path", class_="strokes", d=_strokes(figure, run, frame), stroke=INK, stroke_width=HAIR))
    unread = parts.imprint.expected and parts.imprint.arcs is None
    inner = [_inwards(point, figure.wall_thickness) for point in figure.wall.whole]
    dashed = unread or not figure.wall_thickness_known
    nodes.append(
        node(
            "path",
            class_="white-line",
            d=path_of(frame.all(inner), closed=figure.wall.closed),
            fill="none",
            stroke=UNSEEN if dashed else INK,
            stroke_width=THIN if dashed else HAIR,
            stroke_dasharray=DASHES if dashed else None,
        )
    )
    return nodes


def _ring(figure: Figure, run: Run) -> list[Point]:
    outer = list(figure.wall.between(run.first, run.last))
    return [*outer, *(_inwards(point, figure.wall_thickness) for point in reversed(outer))]


def _inwards(point: Point, depth: float) -> Point:
    """``depth`` mm nearer to the middle, on the same ray, so that angles hold."""
    reach = math.hypot(*point)
    share = max(0.0, 1 - depth / reach) if reach else 0.0
    return point[0] * share, point[1] * share


def _strokes(figure: Figure, run: Run, frame: Frame) -> str:
    count = max(1, round(run.length / _TICKS))
    angles = [run.first + run.length * (step + 0.5) / count for step in range(count)]
    ends = [(figure.wall.at(angle), _inwards(figure.wall.at(angle), figure.wall_thickness)) for angle in angles]
    return "".join(path_of(frame.all(pair)) for pair in ends)


def _bare_labels(parts: PlanParts, frame: Frame) -> list[Node]:
    """How long each bare run of some length is, inside the wall; or that the imprint was not read."""
    messages = parts.messages
    if parts.imprint.arcs is None:
        notes = [messages.say("drawing.plan.no_imprint_read")] if parts.imprint.expected else []
        coverage = parts.values.get(("coverage", "foot"))
        if coverage is not None:
            notes = [
                messages.say("drawing.plan.coverage", percent=f"{coverage * 100:.0f}"),
                messages.say("drawing.plan.where_unread"),
            ]
        return [_in_sole(text, parts, frame, row, italic=True) for row, text in enumerate(notes)]
    runs = parts.imprint.bare(parts.stretches.end)
    if not parts.imprint.scorched(parts.stretches.end):
        return [_in_sole(messages.say("drawing.plan.nothing_marked"), parts, frame, 0, italic=False)]
    labels = []
    for run in runs:
        if run.length < 2 * _TICKS:
            continue
        angle = (run.first + run.last) / 2
        x, y = frame.at(_inwards(parts.figure.wall.at(angle), _LABELLED))
        text = shown(run.length, "deg")
        labels.append(label(text, x, y + 3, size=9, anchor="middle", bold=True, class_="bare-label"))
    return labels


def _in_sole(text: str, parts: PlanParts, frame: Frame, row: int, *, italic: bool) -> Node:
    """A line of text in front of the frog, below the markers of the sole where there are any."""
    x, y = frame.at((0.0, 26.0 if parts.findings.get("sole") else 31.0))
    style = "italic" if italic else None
    return label(text, x, y + 11 * row, size=9, anchor="middle", fill=UNSEEN if italic else INK, font_style=style)


def _hole(hole: Hole, frame: Frame) -> list[Node]:
    """A nail in its hole is a filled square, an empty hole an open one; dashed where its place was not read."""
    x, y = frame.at(hole.point)
    sure = hole.known and hole.driven is not None
    half = 2.6
    nodes = [
        node(
            "rect",
            class_="hole",
            data_place=hole.place,
            x=x - half,
            y=y - half,
            width=2 * half,
            height=2 * half,
            fill=INK if hole.driven else PAPER,
            stroke=INK if sure else UNSEEN,
            stroke_width=THIN,
            stroke_dasharray=None if sure else "1.6 1.2",
        )
    ]
    if hole.driven:
        inwards = _inwards(hole.point, 6.8)
        x, y = frame.at(inwards)
        nodes.append(label(hole.place.rpartition(":")[2], x, y + 2.8, size=8, anchor="middle"))
    return nodes


def _beside(parts: PlanParts, frame: Frame, top: float, width: float) -> tuple[list[Node], float]:
    """The readings beside quarters and heels, with a line to each place, and where the lower of them ends."""
    nodes: list[Node] = []
    ends = []
    for branch, sign in SIDES.items():
        right = sign * parts.side > 0
        outer, inwards = (width - _BORDER, -_MARGIN) if right else (_BORDER, _MARGIN)
        here = top
        for spot in ("quarter", "heel"):
            place = f"{branch}_{spot}"
            target = frame.at(_touched(parts.figure, place, parts.stretches))
            findings = parts.findings.get(place, ())
            here = max(here, target[1] - (4.0 if spot == "quarter" else 2.2) * LINE)
            labels = labels_at(place, parts.values, parts.messages)
            title = parts.titles[place]
            drawn, end = beside(title, labels, findings, outer, here, inwards, target)
            nodes += drawn
            here = end + 8
        ends.append(here)
    sole = parts.findings.get("sole", ())[:IN_SOLE]
    x, y = frame.at((0.0, 41.0))
    markers, _ = row_of_markers(sole, x - PITCH * (len(sole) - 1) / 2, y, IN_SOLE)
    return [*nodes, *markers], max(ends)


def _touched(figure: Figure, place: str, stretches: Stretches) -> Point:
    """The point of iron or wall, whichever is further out, at a place."""
    ends = next(((each.wall, each.iron) for each in figure.offsets if each.place == place), None)
    return max(ends, key=lambda end: math.hypot(*end)) if ends else figure.wall.at(stretches.middle(place))


def _scale_bar(frame: Frame, middle: float, y: float, messages: Messages) -> list[Node]:
    length = 50
    half = frame.scale * length / 2
    return [
        line(
            (middle - half, y),
            (middle + half, y),
            class_="scale",
            data_length=str(length),
            stroke=INK,
            stroke_width=THIN,
        ),
        line((middle - half, y - 3), (middle - half, y + 3), stroke=INK, stroke_width=THIN),
        line((middle + half, y - 3), (middle + half, y + 3), stroke=INK, stroke_width=THIN),
        label(messages.say("drawing.plan.scale_bar", length=length), middle, y + 11, size=8.5, anchor="middle"),
    ]
