"""From the plan of a foot to readings: overhang by place, heel widths and lengths, nail holes.

Kept apart from the measure, since it loads the libraries of numbers and geometry.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np

from fitcheck.errors import BadInput, Problem
from fitcheck.fitting.models import Nail, Outline
from fitcheck.fitting.observables import NAILS, OUTLINE
from fitcheck.fitting.readings import nail_place
from fitcheck.measure.holes import Hole, holes_of
from fitcheck.measure.overhang import Averaged, Stations, least, mean, overhang_between, seen, wander_seen
from fitcheck.measure.plan import SIDES, Plan, plan_of
from fitcheck.measure.results import Readings, Remark
from fitcheck.measure.trace_error import TraceError, error_of
from fitcheck.measure.traces import Bounds, Traces, read_traces
from fitcheck.text.catalogue import Messages, messages_of
from rules import Reading, Rulebook
from rules.model.figures import Parameter

__all__ = ["outline_readings"]

_HIDDEN: Final = frozenset(
    (quantity, place)
    for quantity, places in {
        "overhang": ("toe", "medial_quarter", "lateral_quarter"),
        "overhang_least": ("medial_quarter", "lateral_quarter"),
        "width": ("medial_heel", "lateral_heel"),
        "width_least": ("medial_heel", "lateral_heel"),
        "length": ("medial_heel", "lateral_heel"),
        "branch_difference": ("foot",),
        "shoe_length": ("foot",),
    }.items()
    for place in places
)
"""What may not be computed for a border that could not be seen."""
_TOUCH = 0.05  # mm: less than is written in words


@dataclass(frozen=True, slots=True)
class _Book:
    """What of the rulebook the outline is measured with: mm and degrees."""

    stretch: float
    toe: float
    heel: float
    buttress: float
    earliest: float | None
    bounds: Bounds
    messages: Messages
    book: Rulebook


def outline_readings(
    outline: Outline, nails: Sequence[Nail], readings: Readings, book: Rulebook
) -> Iterator[Reading | Remark]:
    """Every reading that the traces give.

    Raises BadInput for traces that are no foot and its shoe, or that show what is not possible.
    """
    for reading in _readings(outline, nails, readings, _settings(book)):
        if isinstance(reading, Remark):
            yield reading
            continue
        if reading.quantity not in book.quantities:
            continue
        value = float(reading.value)
        low, high = book.quantities[reading.quantity].range or (-math.inf, math.inf)
        if not low <= value <= high:
            name = reading.quantity.replace("_", " ")
            detail = f"The traces give a {name} of {value:.3g} at {reading.place}: check the traces and their frame."
            raise BadInput([Problem(OUTLINE, round(value, 3), f"a {name} from {low:g} to {high:g}", detail)])
        yield reading


def _settings(book: Rulebook) -> _Book:
    parameters, modelled = book.parameters, "trace_wander" in book.parameters
    least_length, most_length = book.quantities["shoe_length"].range or (0.0, math.inf)
    return _Book(
        stretch=_figure(parameters["stretch"], "value"),
        toe=_figure(parameters["place_toe"], "high"),
        heel=_figure(parameters["place_heel"], "low"),
        buttress=_figure(parameters["place_heel"], "high"),
        earliest=_figure(parameters["buttress_earliest"], "value") if modelled else None,
        bounds=Bounds(
            least_length,
            most_length,
            _figure(parameters["apart"], "value"),
            _figure(parameters["trace_shaking"], "value") if modelled else None,
        ),
        messages=messages_of(book),
        book=book,
    )


def _figure(parameter: Parameter, name: str) -> float:
    figure = getattr(parameter, name)
    if figure is None:
        raise ValueError(f"the parameter has no {name}: {parameter.title}")
    return float(figure)


def _readings(outline: Outline, nails: Sequence[Nail], readings: Readings, known: _Book) -> Iterator[Reading | Remark]:
    traces = read_traces(outline, known.bounds)
    averaged = min(traces.hoof.averaged, traces.shoe.averaged)
    error = error_of(outline, known.book, max(traces.hoof.shaking, traces.shoe.shaking), averaged)
    plan = plan_of(traces, known.buttress, known.earliest)
    holes = holes_of(traces.holes, plan)
    stretches = _stretches(plan, holes, known, outline)
    sums = _Sums(known.stretch, error, wander_seen(list(stretches.values()), known.stretch, error))
    if len((toe := stretches["toe"]).value):
        whole, tight = sums.mean(toe), sums.least(toe)
        beside = _beside(tight.along - (plan.at_angle(0.0) or 0.0), known.messages)
        yield Reading("overhang", "toe", whole.value, whole.u, _least_words(tight, beside, known.messages))
    for side in SIDES:
        end, shoe_end = plan.buttress[side], plan.heel_end[side]
        yield from _quarter(stretches.get(f"{side}_quarter"), side, end.along, known, sums)
        yield from _heel(stretches[f"{side}_heel"], side, end.along, known, sums)
        if side in plan.said and not plan.is_hidden(end.along):
            length = end.y - shoe_end.y
            spread = error.point * math.sqrt(end.variance + shoe_end.variance)
            yield Reading("length", f"{side}_heel", length, math.hypot(spread, error.frame, error.scale * length))
    yield from _shoe_length(plan, readings, error)
    if len(traces.holes):
        yield from _nail_readings(nails, holes, readings, plan, error)
    yield from _remarks(traces, plan, known)


def _stretches(plan: Plan, holes: dict[str, list[Hole]], known: _Book, outline: Outline) -> dict[str, Stations]:
    """The overhang by place; no quarter where the nails end before it begins."""
    toe_ends = _toe_ends(plan, known, outline)
    stretches = {"toe": _between(plan, toe_ends["medial"], toe_ends["lateral"])}
    for side, sign in SIDES.items():
        end = plan.buttress[side]
        bound = _last_nail(holes[side], plan, known, sign, outline)
        if (end.along - bound) * sign <= 0:
            raise BadInput([_heel_missing(outline, side, holes[side])])
        if (bound - toe_ends[side]) * sign > 0:
            stretches[f"{side}_quarter"] = _between(plan, toe_ends[side], bound)
        stretches[f"{side}_heel"] = _between(plan, bound, end.along)
    return stretches


class _Sums(NamedTuple):
    """How stretches are summed up: over which length the least is taken (mm), by which error of the traces."""

    stretch: float
    error: TraceError
    seen: float

    def mean(self, stations: Stations) -> Averaged:
        """The mean overhang."""
        return mean(stations, self.error)

    def least(self, stations: Stations) -> Averaged:
        """The least mean overhang."""
        return least(stations, self.stretch, self.error, self.seen)


def _shoe_length(plan: Plan, readings: Readings, error: TraceError) -> Iterator[Reading]:
    """The length of the shoe where it was not read; where it was, by how much the trace has another scale."""
    if plan.length_is_hidden:
        return
    length = plan.shoe_length
    u = math.hypot(error.point * math.sqrt(plan.shoe_length_variance), error.scale * length)
    given = readings.get(("shoe_length", "foot"))
    if given is None:
        yield Reading("shoe_length", "foot", length, u)
        return
    ratio = length / float(given.value)
    yield Reading("trace_ratio", "foot", ratio, ratio * math.hypot(u / length, given.u / float(given.value)))


def _remarks(traces: Traces, plan: Plan, known: _Book) -> Iterator[Remark]:
    """What nothing was computed of, and that traces were smoothed."""
    if known.earliest is None:
        return
    sides = [side for side in SIDES if side not in plan.said]
    if sides:
        of = {(name, f"{side}_heel") for side in sides for name in ("length", "heel_support_left")}
        yield Remark("no_buttress", frozenset({*of, ("branch_difference", "foot")}))
    if plan.hidden:
        yield Remark("hidden_border", _HIDDEN)
    if traces.hoof.averaged > 1 or traces.shoe.averaged > 1:
        yield Remark("trace_smoothed")


def _toe_ends(plan: Plan, known: _Book, outline: Outline) -> dict[str, float]:
    ends = {}
    for side, sign in SIDES.items():
        # A wall that ends before the heels begin has no buttress, and its length past it would mean nothing.
        toe, heel = plan.at_angle(sign * known.toe), plan.at_angle(sign * known.heel)
        if toe is None or heel is None:
            raise BadInput([_heel_missing(outline, side, [])])
        ends[side] = toe
    return ends


def _heel_missing(outline: Outline, side: str, holes: Sequence[Hole]) -> Problem:
    if holes:
        number = holes[-1].index
        detail = f"The last {side} hole lies at the buttress or behind it, where no nail is driven. Correct it."
        x, y = (outline.nail_holes or [])[number]
        return Problem(f"{OUTLINE}.nail_holes.{number}", f"[{x:g}, {y:g}]", "a point in front of the buttress", detail)
    detail = f"The trace does not come round to the {side} heel. Trace from buttress to buttress."
    return Problem(f"{OUTLINE}.hoof", f"a list of {len(outline.hoof)}", "the whole wall, from heel to heel", detail)


def _last_nail(holes: Sequence[Hole], plan: Plan, known: _Book, sign: int, outline: Outline) -> float:
    """Where along the wall the nails end and the heel begins."""
    if holes:
        return holes[-1].along
    bound = plan.at_angle(sign * known.heel)
    if bound is None:
        raise BadInput([_heel_missing(outline, "lateral" if sign > 0 else "medial", [])])
    return bound


def _between(plan: Plan, one: float, other: float) -> Stations:
    return seen(overhang_between(plan.wall, plan.shoe, min(one, other), max(one, other)), plan.hidden)


def _quarter(stations: Stations | None, side: str, buttress: float, known: _Book, sums: _Sums) -> Iterator[Reading]:
    if stations is None or not len(stations.value):
        return
    whole, tight = sums.mean(stations), sums.least(stations)
    place, before = f"{side}_quarter", _in_front(tight, buttress, known.messages)
    where = _least_words(tight, before, known.messages)
    yield Reading("overhang", place, whole.value, whole.u, where)
    if _not_negative(whole):
        yield Reading("overhang_least", place, tight.value, tight.u, before)


def _heel(stations: Stations, side: str, buttress: float, known: _Book, sums: _Sums) -> Iterator[Reading]:
    if not len(stations.value):
        return
    whole, tight = sums.mean(stations), sums.least(stations)
    messages = known.messages
    place, before = f"{side}_heel", _in_front(tight, buttress, messages)
    where = messages.say("where.closest", value=_shown(tight.value, messages), where=before)
    if round(stations.bare):
        where = messages.say("where.bare", where=where, length=f"{stations.bare:.0f}")
    yield Reading("width", place, whole.value, whole.u, where)
    if _not_negative(whole):
        yield Reading("width_least", place, tight.value, tight.u, before)


def _not_negative(whole: Averaged) -> bool:
    """Whether the mean is not negative; if it is, it says already what the least would say.

    In millionths, as the rules see it: a mean that is zero but for rounding must not keep the least back.
    """
    return round(whole.value, 6) >= 0


def _in_front(tight: Averaged, buttress: float, messages: Messages) -> str:
    return messages.say("where.in_front_of_buttress", along=f"{abs(buttress - tight.along):.0f}")


def _beside(offset: float, messages: Messages) -> str:
    if round(abs(offset)) == 0:
        return messages.say("where.middle_of_toe")
    side = messages.named("side", "lateral" if offset > 0 else "medial")
    return messages.say("where.beside", across=f"{abs(offset):.0f}", side=side)


def _least_words(tight: Averaged, where: str, messages: Messages) -> str:
    return messages.say("where.least", value=_shown(tight.value, messages), where=where)


def _shown(value: float, messages: Messages) -> str:
    return messages.number(f"{0.0 if abs(value) < _TOUCH else value:.1f}")


def _nail_readings(
    nails: Sequence[Nail], holes: dict[str, list[Hole]], readings: Readings, plan: Plan, error: TraceError
) -> Iterator[Reading]:
    """Readings at the nails that are given; a hole without a nail is none."""
    problems = []
    wall = readings.get(("wall_thickness", "foot"))
    for number, nail in enumerate(nails):
        punched = holes[nail.branch]
        if nail.hole > len(punched):
            detail = (
                f"A nail is given in {nail.branch} hole {nail.hole}, but holes traced on that side: {len(punched)}. "
                "Trace every hole, and check which side is lateral."
            )
            problems.append(Problem(f"{NAILS}.{number}.hole", nail.hole, "a hole among those traced", detail))
            continue
        hole, place = punched[nail.hole - 1], nail_place(nail)
        in_sight = not plan.is_hidden(hole.along)
        u = math.hypot(error.point * hole.inset_factor, error.scale * hole.inset)
        if in_sight:
            yield Reading("hole_inset", place, hole.inset, u)
        if not plan.length_is_hidden:
            yield Reading("position", place, hole.position, error.point * hole.position_factor)
        if in_sight and wall is not None:
            yield Reading("hole_to_white_line", place, float(wall.value) - hole.inset, float(np.hypot(u, wall.u)))
    if problems:
        raise BadInput(problems)
