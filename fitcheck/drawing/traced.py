"""The view from below of a traced foot: its own lines, to scale.

Kept apart, since it loads the libraries of numbers and geometry.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from fitcheck.drawing.figure import Edge, Figure, Hole, Stretches, Values, frog_and_bars
from fitcheck.drawing.svg import Point
from fitcheck.fitting.models import Fitting, Outline
from fitcheck.fitting.readings import nail_place
from fitcheck.measure.curves import Floats
from fitcheck.measure.holes import holes_of
from fitcheck.measure.plan import Plan, plan_of
from fitcheck.measure.traces import Bounds, Traces, read_traces
from rules import Rulebook

__all__ = ["traced"]

_WALL: Final = 10.0
_WEB: Final = 18.0
_SPECK: Final = 0.2
"""An area (mm2) too small to be seen."""
_ANY: Final = Bounds(0.0, math.inf, math.inf)


@dataclass(frozen=True)
class _TracedWall:
    """The traced border of the hoof about its middle."""

    plan: Plan
    closed: bool

    @property
    def whole(self) -> list[Point]:
        points = self.plan.wall.points
        return _about(points[:-1] if self.closed else points, self.plan)

    def at(self, angle: float) -> Point:
        return _about(self.plan.wall.at(self.plan.wall.footing(np.array([self._along(angle)]))), self.plan)[0]

    def between(self, first: float, last: float) -> list[Point]:
        wall = self.plan.wall
        start, end = self._along(first), self._along(last)
        inner = wall.points[(wall.along > start) & (wall.along < end)]
        return [self.at(first), *_about(inner, self.plan), self.at(last)]

    def _along(self, angle: float) -> float:
        found = self.plan.at_angle(angle)
        if found is not None:
            return found
        if angle == 0:
            return float(self.plan.wall.along[int(np.argmax(self.plan.wall.points[:, 1]))])
        return 0.0 if angle < 0 else self.plan.wall.length


def traced(fitting: Fitting, outline: Outline, values: Values, stretches: Stretches, book: Rulebook | None) -> Figure:
    """The figure of a traced foot; without ``book``, traces of any size are taken.

    Raises fitcheck.errors.BadInput for traces that cannot be measured; such a fitting has no assessment.
    """
    traces = read_traces(outline, _ANY if book is None else _bounds(book))
    plan = plan_of(traces, stretches.end)
    thickness = values.get(("wall_thickness", "foot"), _WALL)
    half_width = float(np.ptp(plan.wall.points[:, 0])) / 2
    back = min(end.y for end in plan.buttress.values()) - plan.centre.y
    return Figure(
        traced=True,
        wall=_TracedWall(plan, traces.hoof.closed),
        wall_thickness=thickness,
        wall_thickness_known=("wall_thickness", "foot") in values,
        iron=_web(plan),
        edges=_edges(traces, plan),
        beyond=_beyond(traces, plan, thickness),
        offsets=[],
        holes=_holes(fitting, traces, plan),
        sketched=frog_and_bars(half_width, back),
        factor=1.0,
        length_factor=1.0,
    )


def _bounds(book: Rulebook) -> Bounds:
    least, most = book.quantities["shoe_length"].range or (0.0, math.inf)
    apart = book.parameters["apart"].value
    return Bounds(least, most, math.inf if apart is None else apart)


def _about(points: Floats, plan: Plan) -> list[Point]:
    """Points as pairs, the middle of the hoof as origin."""
    return [(float(x) - plan.centre.x, float(y) - plan.centre.y) for x, y in points]


def _edges(traces: Traces, plan: Plan) -> list[Edge]:
    """The whole trace of the shoe as one line; a closed one comes back to its beginning."""
    points = _about(traces.shoe.points, plan)
    return [Edge("foot", "outer", [*points, points[0]] if traces.shoe.closed else points, known=True)]


def _web(plan: Plan) -> list[list[Point]]:
    """A web of common width inside the outer edge, which alone is traced."""
    outline = shapely.Polygon(plan.shoe.points)
    whole = outline if outline.is_valid else shapely.make_valid(outline)
    web = shapely.LineString(plan.shoe.points).buffer(_WEB, cap_style="flat").intersection(whole)
    return [
        _about(np.asarray(ring.coords)[:-1], plan)
        for part in shapely.get_parts(web)
        if isinstance(part, shapely.Polygon)
        for ring in (part.exterior, *part.interiors)
    ]


def _beyond(traces: Traces, plan: Plan, thickness: float) -> list[list[Point]]:
    """Where the bearing wall lies outside the shoe."""
    hoof, shoe = shapely.Polygon(traces.hoof.ring), shapely.Polygon(plan.shoe.points)
    wall = shapely.LineString(plan.wall.points).buffer(thickness, cap_style="flat").intersection(hoof)
    # A trace may touch itself where the heels are closed by a straight line.
    left = wall.difference(shoe if shoe.is_valid else shapely.make_valid(shoe))
    least_x, least_y, most_x, most_y = hoof.bounds
    # In halves, so that no part runs all round and has a hole.
    halves = [
        left.intersection(shapely.box(first, least_y, last, most_y))
        for first, last in ((least_x, plan.centre.x), (plan.centre.x, most_x))
    ]
    parts = [part for half in halves for part in shapely.get_parts(half)]
    return [
        _about(np.asarray(part.exterior.coords)[:-1], plan)
        for part in parts
        if isinstance(part, shapely.Polygon) and part.area > _SPECK
    ]


def _holes(fitting: Fitting, traces: Traces, plan: Plan) -> list[Hole]:
    nails = fitting.observations.nails
    # A foot that is only tried hot has no nails yet; later they were not observed.
    unknown = nails is None and fitting.stage != "hot_fit"
    driven = {nail_place(nail) for nail in nails or ()}
    points = _about(traces.holes, plan)
    return [
        Hole(
            place := f"nail:{side}:{number}",
            points[hole.index],
            known=True,
            driven=None if unknown else place in driven,
        )
        for side, holes in holes_of(traces.holes, plan).items()
        for number, hole in enumerate(holes, 1)
    ]
