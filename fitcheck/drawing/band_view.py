"""The bands in which nails may come out, drawn on the wall: a strip along neighbouring nails, and the outer limits."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from operator import attrgetter
from typing import Final

from fitcheck.drawing.figure import Frame
from fitcheck.drawing.shades import BAND, HEAVY, INK, THIN
from fitcheck.drawing.svg import Node, Point, line, node, path_of
from fitcheck.drawing.wall import Band, SideNail, SideWall

__all__ = ["bands_drawn", "finite_ends"]

_BEYOND: Final = 9.0
"""How far a strip goes on before its first nail and behind its last, in units of the drawing."""
_TICK: Final = 4.5


def finite_ends(band: Band) -> list[float]:
    """The ends of a band that are heights; none where no height is in it."""
    return [] if band.empty else [end for end in (band.low, band.high) if math.isfinite(end)]


def bands_drawn(wall: SideWall, frame: Frame) -> list[Node]:
    """The free strips with their ends at each nail, and the lines beyond which a nail is put right."""
    nodes = [
        node(
            "path",
            class_="band",
            d=path_of(
                frame.all([*_along(wall, run, _low, frame), *reversed(_along(wall, run, _high(wall), frame))]),
                closed=True,
            ),
            fill=BAND,
        )
        for run in _runs(wall.nails)
    ]
    for nail in wall.nails:
        nodes += [_tick(wall, nail, end, frame) for end in finite_ends(nail.free)]
    for end in ("low", "high"):
        limited = [nail for nail in wall.nails if math.isfinite(getattr(nail.borne, end)) and not nail.borne.empty]
        if limited:
            points = _along(wall, limited, attrgetter(f"borne.{end}"), frame)
            nodes.append(
                node("path", class_="limit", d=path_of(frame.all(points)), fill="none", stroke=INK, stroke_width=HEAVY)
            )
    return nodes


def _runs(nails: Sequence[SideNail]) -> Iterator[list[SideNail]]:
    """Neighbouring nails that have a free band with an end to it."""
    run: list[SideNail] = []
    for nail in nails:
        if finite_ends(nail.free):
            run.append(nail)
        elif run:
            yield run
            run = []
    if run:
        yield run


def _along(wall: SideWall, nails: Sequence[SideNail], height: Callable[[SideNail], float], frame: Frame) -> list[Point]:
    """The points at that height of each nail, drawn on a little at both ends."""
    beyond = _BEYOND / frame.scale
    first, last = nails[0], nails[-1]
    return [
        wall.up(first.foot - beyond, height(first)),
        *(wall.up(nail.foot, height(nail)) for nail in nails),
        wall.up(last.foot + beyond, height(last)),
    ]


def _low(nail: SideNail) -> float:
    return max(0.0, nail.free.low)


def _high(wall: SideWall) -> Callable[[SideNail], float]:
    def high(nail: SideNail) -> float:
        top = wall.toe_height if nail.wall_height is None else nail.wall_height
        return nail.free.high if math.isfinite(nail.free.high) else max(top, _low(nail))

    return high


def _tick(wall: SideWall, nail: SideNail, height: float, frame: Frame) -> Node:
    across = _TICK / frame.scale
    return line(
        frame.at(wall.up(nail.foot - across, height)),
        frame.at(wall.up(nail.foot + across, height)),
        class_="free-end",
        data_place=nail.place,
        data_value=height,
        stroke=INK,
        stroke_width=THIN,
    )
