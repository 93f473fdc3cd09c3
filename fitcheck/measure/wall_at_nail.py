"""How thick the wall is at each nail: it is not as thick at the quarters as at the toe.

Measured at the nail, that counts.  Else it lies between the toe's thickness and that of the quarters, which is measured
or follows from the toe's by the range that LA prints, in proportion to how far back towards the quarters the nail
stands: by its position, or by the number of its hole.  A book that has no such range knows one thickness of the wall.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from fitcheck.fitting.input_value import MeasuredValue
from fitcheck.fitting.models import Fitting
from fitcheck.measure.results import Readings, Span, span_of
from rules import Reading, Rulebook
from rules.limits import guard_factor

__all__ = ["Ends", "WallAtNails", "thinning_of"]

_DERIVED: Final = "wall at nails"


class Ends(NamedTuple):
    """The wall at its thinnest and at its thickest (mm): a range of worst cases.

    Each end has the u of what was read.
    """

    thinnest: MeasuredValue
    thickest: MeasuredValue


class Thinning(NamedTuple):
    """How the wall thins towards the quarters, as a book has it of fore or hind feet."""

    shares: Span
    """The wall at the quarters as a share of that at the toe."""
    quarters_at: float
    hole_step: Span


def thinning_of(fitting: Fitting, book: Rulebook) -> Thinning | None:
    """How the wall of this foot thins; None for a book that has no such range."""
    key = (_DERIVED, fitting.pair)
    if key not in book.derived:
        shares = book.parameters.get(f"wall_thinning_{fitting.pair}")
        book.derived[key] = None if shares is None else _thinning(span_of(shares), book)
    known: Thinning | None = book.derived[key]
    return known


def _thinning(shares: Span, book: Rulebook) -> Thinning:
    quarters_at = book.parameters["quarter_position"].value or 1.0
    return Thinning(shares, quarters_at, span_of(book.parameters["hole_step"]))


class WallAtNails:
    """The wall of one foot at each of its nails.

    What is known of the foot is looked up once, not for each nail: 7.5 us for the wall at one, and 2.4 so.
    """

    def __init__(self, fitting: Fitting, readings: Readings, book: Rulebook) -> None:
        toe, quarter = readings.get(("wall_thickness", "foot")), readings.get(("quarter_thickness", "foot"))
        self._readings, self._thinning = readings, thinning_of(fitting, book)
        self._toe, self._quarter = _measured(toe), _measured(quarter)
        self._k = guard_factor(book.levels["guarded"].probability)

    def at(self, place: str) -> Ends | None:
        """The wall's thickness at the nail ``place``; None where nothing of the wall is known."""
        toe, quarter, thinning = self._toe, self._quarter, self._thinning
        if thinning is None:
            return None if toe is None else Ends(toe, toe)
        read = _measured(self._readings.get(("wall_at_nail", place)))
        if read is not None:
            return Ends(read, read)
        if toe is None:
            return None if quarter is None else Ends(quarter, quarter)
        front, back = self._positions(place, thinning)
        (value, u), (low, high) = toe, thinning.shares
        quarters = ((value * low, u * low), (value * high, u * high)) if quarter is None else (quarter,)
        # With one position both ends of it are the same wall; the two u count together, as one hand read both.
        shares = (front,) if front == back else (front, back)
        thinnest, thickest = (math.inf, 0.0), (-math.inf, 0.0)
        for at_quarter, quarter_u in quarters:
            for share in shares:
                wall = (1 - share) * value + share * at_quarter, (1 - share) * u + share * quarter_u
                if wall[0] < thinnest[0]:
                    thinnest = wall
                if wall[0] > thickest[0]:
                    thickest = wall
        return Ends(MeasuredValue(*thinnest), MeasuredValue(*thickest))

    def middle(self, place: str) -> MeasuredValue | None:
        """The same as one value (mm), whose guarded bounds are the thinnest and the thickest that it may be."""
        ends = self.at(place)
        if ends is None:
            return None
        (thinnest, thin_u), (thickest, thick_u), k = *ends, self._k
        low, high = thinnest - k * thin_u, thickest + k * thick_u
        return MeasuredValue((low + high) / 2, (high - low) / (2 * k))

    def between(self, place: str) -> Reading | None:
        """The same as a reading."""
        middle = self.middle(place)
        return None if middle is None else Reading("wall_at_nail", place, *middle)

    def _positions(self, place: str, thinning: Thinning) -> tuple[float, float]:
        """How far back towards the quarters the nail may stand, at the least and the most: 0 at the toe, 1 there."""
        position = self._readings.get(("position", place))
        if position is not None:
            share = min(1.0, max(0.0, float(position.value) / thinning.quarters_at))
            return share, share
        step, hole = thinning.hole_step, int(place.rpartition(":")[2])
        first, last = (min(1.0, max(0.0, each * hole / thinning.quarters_at)) for each in step)
        return first, last


def _measured(reading: Reading | None) -> MeasuredValue | None:
    return None if reading is None else MeasuredValue(float(reading.value), reading.u)
