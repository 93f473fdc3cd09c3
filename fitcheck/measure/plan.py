"""The foot in plan, from its traces: the wall between the buttresses, the shoe between its heel ends."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from fitcheck.measure.curves import Centre, Curve, Floats, centre_of, ray_normal
from fitcheck.measure.traces import ALIKE, Traces

__all__ = ["SIDES", "End", "Plan", "plan_of"]

SIDES = {"medial": -1, "lateral": 1}
"""The sides of the foot, and the sign of x on each once the traces are in order."""


_INNER = 0.1
"""The share at either end of a hidden stretch in which a trace of the shoe may end that leaves it out."""


@dataclass(frozen=True, slots=True)
class End:
    """One end of the wall or of the shoe: its distance along the curve, its y, and the variance of y per unit."""

    along: float
    y: float
    variance: float


@dataclass(frozen=True)
class Plan:
    """The wall and the outer edge of the shoe, both from medial over the toe to lateral (mm, lateral towards +x)."""

    wall: Curve
    shoe: Curve
    centre: Centre
    """Middle of the hoof: of its length axis and of its greatest width."""
    buttress: dict[str, End]
    heel_end: dict[str, End]
    said: frozenset[str] = frozenset(SIDES)
    """The sides on which the trace says where the buttress is; on another ``buttress`` is a place before it."""
    hidden: tuple[tuple[float, float], ...] = ()
    """Stretches of the wall that could not be seen, from and to as distance along it."""

    def is_hidden(self, along: float) -> bool:
        """Whether a place of the wall could not be seen."""
        return any(start <= along <= end for start, end in self.hidden)

    def at_angle(self, degrees: float) -> float | None:
        """Distance along the wall at an angle round the hoof, lateral positive; None where the trace ends before."""
        footing = self.wall.cut_by_ray(self.centre, degrees)
        return None if footing is None else float(self.wall.distance_along(footing)[0])

    @cached_property
    def toe(self) -> float:
        """The foremost y of the shoe."""
        return float(self.shoe.points[:, 1].max())

    @cached_property
    def toe_is_hidden(self) -> bool:
        """Whether the toe of the shoe was not traced, since what hides the wall there hides the iron too."""
        toe = self.at_angle(0.0)
        beside = self.wall.distance_along(self.wall.nearest(self.shoe.points).at)
        for start, end in self.hidden:
            inner = _INNER * (end - start)
            if (
                toe is not None
                and start <= toe <= end
                and not ((beside > start + inner) & (beside < end - inner)).any()
            ):
                return True
        return False

    @cached_property
    def _ends_in_sight(self) -> tuple[End, ...]:
        """The heel ends of the shoe beside which the wall was seen; both where neither was."""
        seen = tuple(self.heel_end[side] for side in SIDES if not self.is_hidden(self.buttress[side].along))
        return seen or tuple(self.heel_end.values())

    @property
    def length_is_hidden(self) -> bool:
        """Whether the toe of the shoe, or both its heel ends, could not be seen."""
        return self.toe_is_hidden or all(self.is_hidden(end.along) for end in self.buttress.values())

    @cached_property
    def shoe_length(self) -> float:
        """From the toe of the shoe back to the middle between its two heel ends, or to the one that was seen (mm)."""
        return self.toe - sum(end.y for end in self._ends_in_sight) / len(self._ends_in_sight)

    @property
    def heel_ends_variance(self) -> float:
        """Variance of where the shoe ends per unit of a coordinate's variance."""
        return sum(end.variance for end in self._ends_in_sight) / len(self._ends_in_sight) ** 2

    @property
    def shoe_length_variance(self) -> float:
        """Variance of the shoe's length per unit of a coordinate's variance."""
        return 1.0 + self.heel_ends_variance


def plan_of(traces: Traces, buttress_angle: float, earliest: float | None = None) -> Plan:
    """The plan of a foot; ``buttress_angle`` (deg) is where the wall of a closed trace ends at the heels.

    With ``earliest`` (deg) the buttresses are where the traces say, or unknown and then no nearer to the toe than that.
    """
    centre = centre_of(traces.hoof.points)
    if traces.hoof.closed:
        points, shift = _from_behind(traces.hoof.points, centre)
        wall = Curve(points)
        angle = buttress_angle if earliest is None else earliest
        buttress = {side: _at_ray(wall, centre, sign * angle, shift) for side, sign in SIDES.items()}
    else:
        wall = Curve(traces.hoof.points)
        buttress = _ends(wall)
    shoe = Curve(_outer_edge(traces.shoe.points) if traces.shoe.closed else traces.shoe.points)
    said = frozenset(SIDES) if earliest is None or not traces.hoof.closed else frozenset(traces.buttress)
    for side, point in traces.buttress.items():
        buttress[side] = End(_along(wall, point), float(point[1]), 1.0)
    hidden = []
    for stretch in traces.hidden:
        start, end = sorted(_along(wall, point) for point in stretch)
        # Of a border traced all round the shorter way between two points is meant.
        around = traces.hoof.closed and end - start > wall.length / 2
        hidden += [(0.0, start), (end, wall.length)] if around else [(start, end)]
    return Plan(wall, shoe, centre, buttress, _ends(shoe), said, tuple(hidden))


def _along(wall: Curve, point: Floats) -> float:
    """Distance along the wall of the place nearest to a point."""
    return float(wall.distance_along(wall.nearest(point[None, :]).at)[0])


def _ends(curve: Curve) -> dict[str, End]:
    """The two ends of a curve, each a traced point."""
    return {
        "medial": End(0.0, float(curve.points[0, 1]), 1.0),
        "lateral": End(curve.length, float(curve.points[-1, 1]), 1.0),
    }


def _from_behind(points: Floats, centre: Centre) -> tuple[Floats, int]:
    """A closed trace opened at the point that lies most nearly straight behind, and the number of that point."""
    angles = np.arctan2(points[:, 0] - centre.x, points[:, 1] - centre.y)
    behind = int(np.argmax(np.abs(angles)))
    return np.concatenate([points[behind:], points[: behind + 1]]), behind


def _at_ray(wall: Curve, centre: Centre, degrees: float, shift: int) -> End:
    """Where the wall of a closed trace comes to an angle.

    The point moves with the two traced points beside it and with those four that set the centre of the ray.
    """
    footing = wall.cut_by_ray(centre, degrees)
    if footing is None:
        raise ValueError("a closed trace comes round to every angle")
    segment, share = int(footing.segment[0]), float(footing.share[0])
    step, across = wall.steps[segment], ray_normal(degrees)
    slide = float(step[1] / (step @ across))
    count = len(wall.points) - 1
    derivative = np.zeros((count, 2))
    direct = np.array([0.0, 1.0]) - slide * across
    derivative[segment] += (1 - share) * direct
    derivative[(segment + 1) % count] += share * direct
    for number, axis in zip(centre.set_by, (0, 0, 1, 1), strict=True):
        derivative[(number - shift) % count, axis] += slide * across[axis] / 2
    return End(
        float(wall.distance_along(footing)[0]), float(wall.at(footing)[0, 1]), float(np.square(derivative).sum())
    )


def _outer_edge(points: Floats) -> Floats:
    """A closed trace of the shoe from the rearmost point of its medial half over the toe to that of its lateral half.

    Of points equally far back the outermost counts, so that a straight line across the heels is no outer edge.
    """
    points = _with_middle(points, centre_of(points).x)
    middle = centre_of(points).x
    rear = {side: _rearmost(points, sign * (points[:, 0] - middle)) for side, sign in SIDES.items()}
    opened = np.roll(points, -rear["medial"], axis=0)
    last = (rear["lateral"] - rear["medial"]) % len(points)
    return opened[: last + 1] if last else np.concatenate([opened, opened[:1]])


def _rearmost(points: Floats, outwards: Floats) -> int:
    half = outwards >= -ALIKE
    back = points[half, 1].min()
    level = half & (points[:, 1] <= back + ALIKE)
    return int(np.argmax(np.where(level, outwards, -1.0)))


def _with_middle(points: Floats, middle: float) -> Floats:
    """The closed trace with further points where it crosses the line x = ``middle``: each half has its own ends."""
    following = np.roll(points, -1, axis=0)
    before, after = points[:, 0] - middle, following[:, 0] - middle
    apart = (np.abs(before) > ALIKE) & (np.abs(after) > ALIKE)
    crossing = np.flatnonzero(apart & ((before < 0) != (after < 0)))
    share = before[crossing] / (before[crossing] - after[crossing])
    new = points[crossing] + share[:, None] * (following - points)[crossing]
    new[:, 0] = middle
    return np.insert(points, crossing + 1, new, axis=0)
