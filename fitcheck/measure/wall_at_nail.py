"""How thick the wall is at each nail: it is not as thick at the quarters as at the toe.

Measured at the nail, that counts.  Else it lies between the toe's thickness and that of the quarters, which is measured
or follows from the toe's by the range that LA prints, in proportion to how far back towards the quarters the nail
stands: by its position, or by the number of its hole.  A book that has no such range knows one thickness of the wall.
"""

from __future__ import annotations

from fitcheck.fitting.models import Fitting
from fitcheck.measure.results import Readings, around, between, span_of
from rules import Reading, Rulebook
from rules.limits import guard_factor

__all__ = ["wall_at_nail", "wall_between"]

Ends = tuple[Reading, Reading]
"""The wall at its thinnest and at its thickest (mm); a range of worst cases, each end with the u of what was read."""


def wall_at_nail(place: str, fitting: Fitting, readings: Readings, book: Rulebook) -> Ends | None:
    """The wall's thickness at the nail ``place``; None where nothing of the wall is known."""
    toe = readings.get(("wall_thickness", "foot"))
    thinning = book.parameters.get(f"wall_thinning_{fitting.pair}")
    if thinning is None:
        return None if toe is None else (toe, toe)
    read = readings.get(("wall_at_nail", place))
    if read is not None:
        return read, read
    quarter = readings.get(("quarter_thickness", "foot"))
    if toe is None:
        return None if quarter is None else (quarter, quarter)
    ratios = span_of(thinning)
    quarters = (
        (quarter, quarter)
        if quarter is not None
        else (toe._replace(value=float(toe.value) * ratio, u=toe.u * ratio) for ratio in ratios)
    )
    thinnest, thickest = quarters
    front, back = _positions(place, readings, book)
    walls = [_between(toe, quarter_end, share) for quarter_end in (thinnest, thickest) for share in (front, back)]
    return min(walls, key=_thickness), max(walls, key=_thickness)


def wall_between(place: str, fitting: Fitting, readings: Readings, book: Rulebook) -> Reading | None:
    """The same as one reading (mm), whose guarded bounds are the thinnest and the thickest that it may be."""
    ends = wall_at_nail(place, fitting, readings, book)
    if ends is None:
        return None
    k = guard_factor(book.levels["guarded"].probability)
    return between("wall_at_nail", place, around(ends[0], k).low, around(ends[1], k).high, k)


def _positions(place: str, readings: Readings, book: Rulebook) -> tuple[float, float]:
    """How far back towards the quarters the nail may stand at the least and at the most: 0 at the toe, 1 there."""
    quarters_at = book.parameters["quarter_position"].value or 1.0
    position = readings.get(("position", place))
    if position is not None:
        span = (float(position.value), float(position.value))
    else:
        step, hole = span_of(book.parameters["hole_step"]), int(place.rpartition(":")[2])
        span = step.low * hole, step.high * hole
    first, last = (min(1.0, max(0.0, each / quarters_at)) for each in span)
    return first, last


def _thickness(wall: Reading) -> float:
    return float(wall.value)


def _between(toe: Reading, quarter: Reading, share: float) -> Reading:
    """The wall so far back, 0 at the toe and 1 at the quarters; the two u count together, as one hand read both."""
    value = (1 - share) * float(toe.value) + share * float(quarter.value)
    return Reading("wall_at_nail", "foot", value, (1 - share) * toe.u + share * quarter.u)
