"""Traced outlines made sure of and put in order: what cannot be a foot and its shoe in one frame is refused."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from fitcheck.errors import BadInput, Problem
from fitcheck.fitting.models import Outline
from fitcheck.fitting.observables import OUTLINE
from fitcheck.measure.curves import Centre, Floats, centre_of
from fitcheck.measure.trace_frame import buttresses_of, in_scale, scale_problems, turned_problems
from fitcheck.measure.trace_smoothing import Smoothed, smoothed

__all__ = ["ALIKE", "FEWEST", "Bounds", "Trace", "Traces", "read_traces"]

FEWEST: Final = 20
"""Fewest points of a trace: with fewer, corners are cut off by more than a pencil's width."""

# A gap between the ends of no more than 1.5 of the widest mean steps that FEWEST points allow closes a trace.
_CLOSING: Final = 1.5 / FEWEST
ALIKE: Final = 1e-9
"""Points nearer to one another than this (mm) are one point."""
# A trace this many times as long as wide, or as wide as long, is a line and no foot.
_FLAT: Final = 4.0
# A line this many times as long as round its convex hull goes to and fro. A shoe traced round its inner edge as well
# comes to twice, and shaking by as much as the points lie apart makes a line twice as long.
_WINDING: Final = 5.0
_NEAR: Final = re.compile(r"\[(\S+) (\S+)\]")
_TURN: Final = "both ends at the heels, the toe towards +y"


@dataclass(frozen=True, slots=True)
class Bounds:
    """What traces are held against (mm): least and greatest length of a shoe, furthest distance of the middles.

    ``shaking`` is how far the points of a dense trace may shake (standard deviation): it is smoothed; None leaves every
    trace as it is.
    """

    least: float
    most: float
    apart: float
    shaking: float | None = None


@dataclass(frozen=True, slots=True)
class Trace:
    """One traced line in mm, the lateral side towards +x, running from medial over the toe to lateral.

    Of a ``closed`` trace the first point is not repeated at the end.  ``shaking`` (mm, standard deviation) is that of
    the points as given, of which ``averaged`` make one.
    """

    points: Floats
    closed: bool
    shaking: float = 0.0
    averaged: int = 1

    @property
    def ring(self) -> shapely.LinearRing:
        """The trace closed by a straight line between its ends."""
        return shapely.LinearRing(self.points)


@dataclass(frozen=True, slots=True)
class Traces:
    """The ground border of the hoof, the outer edge of the shoe and the nail holes, shape (n, 2), in the order given.

    ``mirrored`` says whether +x of the traces as given is the medial side; ``buttress`` are points of the hoof's
    border by side, ``hidden`` from and to of what could not be seen, shape (n, 2, 2).
    """

    hoof: Trace
    shoe: Trace
    holes: Floats
    mirrored: bool
    buttress: dict[str, Floats]
    hidden: Floats


def read_traces(outline: Outline, bounds: Bounds) -> Traces:
    """The traces of ``outline``, in order.

    Raises BadInput naming every trace or hole that is wrong, and what is allowed.
    """
    mirrored = outline.lateral == "-x"
    problems: list[Problem] = [] if bounds.shaking is None else list(scale_problems(outline))
    outline = in_scale(outline) if bounds.shaking is not None and not problems else outline
    traces: dict[str, Trace] = {}
    for name, trace in (("hoof", outline.hoof), ("shoe", outline.shoe)):
        found = _trace(f"{OUTLINE}.{name}", trace, bounds, mirrored=mirrored)
        if isinstance(found, Trace):
            traces[name] = found
        else:
            problems.append(found)
    if problems:
        raise BadInput(problems)
    hoof, shoe = traces["hoof"], traces["shoe"]
    holes = np.array(outline.nail_holes or [], dtype=np.float64).reshape(-1, 2)
    turn = np.array([-1.0 if mirrored else 1.0, 1.0])
    holes = holes * turn
    problems = _apart(hoof, shoe, bounds) or _outside(outline, holes, hoof, shoe)
    buttress: dict[str, Floats] = {}
    hidden = np.empty((0, 2, 2))
    if bounds.shaking is not None:
        hidden = np.array(outline.hidden or [], dtype=np.float64).reshape(-1, 2, 2) * turn
        buttress = {side: np.array(at) * turn for side, at in buttresses_of(outline).items()}
        problems += turned_problems(outline, hoof, shoe, buttress)
    if problems:
        raise BadInput(problems)
    return Traces(hoof, shoe, holes, mirrored, buttress, hidden)


def _trace(field: str, trace: list[list[float]], bounds: Bounds, *, mirrored: bool) -> Trace | Problem:
    """One trace in order, or what is wrong with it."""
    points = np.array(trace, dtype=np.float64).reshape(-1, 2)
    apart = np.ones(len(points), dtype=np.bool_)
    apart[1:] = np.hypot(*np.diff(points, axis=0).T) > ALIKE
    points = points[apart]
    if (coarse := _coarse(field, trace, points)) is not None:
        return coarse
    points, shaking, averaged = _steady(points, bounds)
    path = float(np.hypot(*np.diff(points, axis=0).T).sum())
    wrong = _size(field, trace, points, bounds) or _winding(field, trace, points, path)
    if wrong is not None:
        return wrong
    gap = float(np.hypot(*(points[-1] - points[0])))
    closed = gap <= _CLOSING * (path + gap)
    if gap <= ALIKE:
        points = points[:-1]
    crossing = _crossing(points)
    if crossing is not None:
        detail = f"The trace crosses or touches itself{crossing}. Trace it again, once round."
        return _wrong(field, trace, "a line that nowhere crosses or touches itself", detail)
    if not closed:
        turned = _ends(points, centre_of(points))
        if turned is not None:
            return _wrong(field, trace, _TURN, turned)
    if mirrored:
        points = points * (-1.0, 1.0)
    if shapely.is_ccw(shapely.LinearRing(points)):
        points = points[::-1]
    return Trace(np.ascontiguousarray(points), closed, shaking, averaged)


def _coarse(field: str, trace: list[list[float]], points: Floats) -> Problem | None:
    """A trace of too few points, or of too few that are not alike."""
    if len(trace) < FEWEST:
        return _wrong(field, trace, f"{FEWEST} points or more", f"A trace of {len(trace)} is too coarse.")
    if len(points) < FEWEST:
        return _wrong(field, trace, f"{FEWEST} different points or more", "The same point stands again and again.")
    return None


def _steady(points: Floats, bounds: Bounds) -> Smoothed:
    """The points smoothed as far as a hand may shake; as they are where they shake more or none is smoothed."""
    if bounds.shaking is None:
        return Smoothed(points, 0.0, 1)
    steady = smoothed(points)
    return steady if steady.shaking <= bounds.shaking else Smoothed(points, 0.0, 1)


def _size(field: str, trace: list[list[float]], points: Floats, bounds: Bounds) -> Problem | None:
    width, length = (float(extent) for extent in np.ptp(points, axis=0))
    longest, shortest = max(width, length), min(width, length)
    allowed = f"{bounds.least:g} to {bounds.most:g} mm from end to end"
    if not bounds.least <= longest <= bounds.most:
        small = "small" if longest < bounds.least else "large"
        detail = f"A trace {longest:.4g} mm from end to end is far too {small} for a foot or shoe: check the unit."
        return _wrong(field, trace, allowed, detail)
    if shortest * _FLAT < longest:
        detail = f"A trace {width:.3g} mm wide and {length:.3g} mm long is a line, no foot or shoe. Trace it again."
        return _wrong(field, trace, "the whole outline, from heel over toe to heel", detail)
    return None


def _winding(field: str, trace: list[list[float]], points: Floats, path: float) -> Problem | None:
    around = float(shapely.MultiPoint(points).convex_hull.length)
    if path <= _WINDING * around:
        return None
    detail = f"The trace runs {path:.0f} mm to and fro; once round is {around:.0f} mm. Trace it again, once round."
    return _wrong(field, trace, f"a line no longer than {_WINDING:g} times once round", detail)


def _crossing(points: Floats) -> str | None:
    """Where the trace, or the straight line that closes it, crosses it; None where neither does."""
    if shapely.LinearRing(points).is_simple:
        return None
    near = _NEAR.search(shapely.is_valid_reason(shapely.Polygon(points)))
    return f" near ({float(near[1]):.0f}, {float(near[2]):.0f})" if near else ""


def _ends(points: Floats, centre: Centre) -> str | None:
    """What is wrong with the ends of an open trace; None where they lie at the two heels."""
    (first_x, first_y), (last_x, last_y) = points[0], points[-1]
    if first_y > centre.y and last_y > centre.y:
        return "The trace is turned round: its ends, the heels, lie towards +y. Turn it so that the toe does."
    if first_y > centre.y or last_y > centre.y:
        return "The trace ends before it has come round to both heels, or lies sideways. Trace from heel to heel."
    if (first_x - centre.x) * (last_x - centre.x) >= 0:
        return "Both ends of the trace lie on one side of the midline. Trace from heel to heel, across the toe."
    return None


def _apart(hoof: Trace, shoe: Trace, bounds: Bounds) -> list[Problem]:
    """Faults that show only in the two traces together."""
    centres = {"hoof": centre_of(hoof.points), "shoe": centre_of(shoe.points)}
    between = float(np.hypot(centres["hoof"].x - centres["shoe"].x, centres["hoof"].y - centres["shoe"].y))
    if between > bounds.apart:
        detail = f"The middles of hoof and shoe lie {between:.3g} mm apart. Trace both in one frame, without moving it."
        return [
            Problem(f"{OUTLINE}.shoe", round(between, 1), f"middles no more than {bounds.apart:g} mm apart", detail)
        ]
    for name, trace, other in (("hoof", hoof, "shoe"), ("shoe", shoe, "hoof")):
        if trace.points[:, 0].min() >= centres[other].x or trace.points[:, 0].max() <= centres[other].x:
            detail = f"The trace lies wholly on one side of the midline of the {other}. Trace from heel to heel."
            return [Problem(f"{OUTLINE}.{name}", f"a list of {len(trace.points)}", "both sides of the midline", detail)]
    return []


def _outside(outline: Outline, holes: Floats, hoof: Trace, shoe: Trace) -> list[Problem]:
    """Nail holes that stand where no nail can."""
    if not len(holes):
        return []
    problems = []
    inside = {name: shapely.contains_xy(shapely.Polygon(t.ring), holes) for name, t in (("hoof", hoof), ("shoe", shoe))}
    trace = outline.nail_holes or []
    for number, hole in enumerate(trace):
        beyond = [name for name in ("hoof", "shoe") if not inside[name][number]]
        if beyond:
            detail = f"The hole at ({hole[0]:g}, {hole[1]:g}) lies outside the {' and the '.join(beyond)}. Correct it."
            allowed = "a point inside the traces of hoof and shoe"
            problems.append(Problem(f"{OUTLINE}.nail_holes.{number}", f"[{hole[0]:g}, {hole[1]:g}]", allowed, detail))
        elif hole in trace[:number]:
            detail = f"The hole at ({hole[0]:g}, {hole[1]:g}) is given twice. Take it out."
            problems.append(
                Problem(f"{OUTLINE}.nail_holes.{number}", f"[{hole[0]:g}, {hole[1]:g}]", "each hole once", detail)
            )
    if not problems and (holes[:, 1] < centre_of(hoof.points).y).all():
        detail = "All nail holes lie behind the middle of the foot: is it turned round? The toe belongs towards +y."
        problems.append(Problem(f"{OUTLINE}.nail_holes", f"a list of {len(trace)}", "the toe towards +y", detail))
    return problems


def _wrong(field: str, trace: list[list[float]], allowed: str, detail: str) -> Problem:
    return Problem(field, f"a list of {len(trace)}", allowed, detail)
