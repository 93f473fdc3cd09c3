"""The readings that measured heights give, in the rulebook's quantities and places, and the heights it cannot be."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple, NoReturn

import numpy as np

from fitcheck.errors import BadInput, Problem
from fitcheck.fitting.fit_observations import Levelness
from fitcheck.fitting.observables import HEIGHTS
from fitcheck.measure.height_noise import Noise, Spots, less_noise, noise_of, spots_of
from fitcheck.measure.planes import Array, Slope, least_squares, minimum_zone, spread
from fitcheck.measure.results import Remark
from fitcheck.measure.seating import Seat, bears_on, seat
from fitcheck.measure.stations import angle_of, place_at
from fitcheck.text.catalogue import Messages, messages_of
from fitcheck.text.format import place_title, places_title, shown
from rules import Reading, Rulebook

__all__ = ["bearing_places", "level_readings"]

_FEWEST: Final = 4  # three points are always level
_WITHOUT_U: Final = 3  # numbers of a row that states no uncertainty
_SPOT: Final = "height_spot"
_SAME_SPOT: Final = 3  # decimals of a millimetre beyond which two positions are the same


class _Heights(NamedTuple):
    """The heights as they are judged: spots with their places and uncertainties (mm), and what of them is noise."""

    points: Array
    places: Sequence[str]
    u: Array
    noise: Noise | None

    def at(self, place: str) -> list[int]:
        """The spots of a place."""
        return [spot for spot, name in enumerate(self.places) if name == place]


def level_readings(level: Levelness, lateral_is_plus_x: bool, book: Rulebook) -> Iterator[Reading | Remark]:  # noqa: FBT001
    """All readings of levelness from its heights: rows x, y, height (mm, toe towards +y), and u where one is stated.

    Where none is stated a height has the calliper's; positions are taken as exact, as a slope turns little of their
    error into height.  A book that knows ``height_spot`` and ``flat_chance`` has what noise alone gives taken out
    (:mod:`fitcheck.measure.height_noise`); by another the largest u stands for all.

    Raises BadInput naming the heights.
    """
    heights = _heights(level, lateral_is_plus_x, book)
    if heights.noise is not None and heights.noise.range_sd > _value("flatness_unsure", book):
        of_the_foot = {(name, "foot") for name in ("flatness", "rock")}
        yield Remark("heights_unsure", frozenset({*of_the_foot, *(("gap", place) for place in heights.places)}))
        yield from _tilts(least_squares(heights.points), heights.u)
        return
    laid = seat(heights.points, _value("press", book), heights.u)
    for reading in (
        _flatness(heights, book),
        *_tilts(least_squares(heights.points), heights.u),
        _rock(laid, heights, book),
        *_gaps(laid, heights, messages_of(book)),
    ):
        yield _in_range(reading, book)


def bearing_places(level: Levelness, lateral_is_plus_x: bool, book: Rulebook) -> list[str]:  # noqa: FBT001
    """The places of the three points that a flat shoe laid on the heights rests on, each once."""
    heights = _spots(level, lateral_is_plus_x, book)
    return list(dict.fromkeys(heights.places[point] for point in bears_on(heights.points)))


def _heights(level: Levelness, lateral_is_plus_x: bool, book: Rulebook) -> _Heights:  # noqa: FBT001
    heights = _spots(level, lateral_is_plus_x, book)
    if _SPOT not in book.parameters:
        return heights
    groups = [heights.at(place) for place in dict.fromkeys(heights.places)]
    return heights._replace(noise=noise_of(Spots(heights.points, heights.u), groups, _value("flat_chance", book)))


def _spots(level: Levelness, lateral_is_plus_x: bool, book: Rulebook) -> _Heights:  # noqa: FBT001
    otherwise = book.methods["calliper"].u if level.heights_u is None else level.heights_u
    rows = [(*row[:_WITHOUT_U], row[3] if len(row) > _WITHOUT_U else otherwise) for row in level.heights or ()]
    points, u = _framed(rows, lateral_is_plus_x, book)
    if _SPOT not in book.parameters:
        return _Heights(points, _places(points, book), np.full(len(u), u.max()), None)
    points, u = spots_of(points, u, _value(_SPOT, book), _value("flat_chance", book))
    return _Heights(points, _places(points, book), u, None)


def _places(points: Array, book: Rulebook) -> list[str]:
    return [place_at(angle_of(x, y), book) for x, y, _ in points.tolist()]


def _judged(value: float, u: float, expected: float, noise: Noise | None) -> tuple[float, float]:
    """A width and its u, where noise is known without what it alone would give."""
    if noise is None:
        return value, u
    return (0.0 if noise.flat else less_noise(value, expected)), max(u, noise.range_sd)


def _framed(rows: Sequence[Sequence[float]], lateral_is_plus_x: bool, book: Rulebook) -> tuple[Array, Array]:  # noqa: FBT001
    """The points seen from the middle of the foot, x towards the lateral side, and the u of each."""
    points = _checked(rows, book)
    points[:, 0] *= 1.0 if lateral_is_plus_x else -1.0
    points[:, :2] -= (points[:, :2].max(axis=0) + points[:, :2].min(axis=0)) / 2
    return np.ascontiguousarray(points[:, :3]), points[:, 3]


def _checked(heights: Sequence[Sequence[float]], book: Rulebook) -> Array:
    """The distinct points as an array, one row each: x, y, height and its u."""
    at: dict[tuple[float, float], Sequence[float]] = {}
    for x, y, height, u in heights:
        spot = (round(x, _SAME_SPOT), round(y, _SAME_SPOT))
        if spot in at and at[spot][2] != height:
            _refuse(
                f"[{x:g}, {y:g}, {height:g}]",
                "one height for each position",
                f"{at[spot][2]:g} and {height:g} are given for x {x:g}, y {y:g}: measure there again.",
            )
        at.setdefault(spot, (x, y, height, u))
    if len(at) < _FEWEST:
        detail = f"Heights at {len(at)} different positions: too few to tell how level a foot is."
        _refuse(len(at), "heights at 4 positions or more, all round the bearing surface", detail)
    points = np.array(list(at.values()), dtype=np.float64)
    extent = float(np.ptp(points[:, :2], axis=0).max())
    least, most = book.quantities["shoe_length"].range or (0.0, math.inf)
    if not least <= extent <= most:
        _refuse(
            round(extent, 1),
            f"positions that span {least:g} to {most:g} mm",
            f"The positions span {extent:.4g} mm, which is no foot: check that they are in mm.",
        )
    if spread(points) <= _value("trace", book):
        _refuse(len(at), "positions on both sides of the foot", "The positions lie on one straight line.")
    return points


def _flatness(heights: _Heights, book: Rulebook) -> Reading:
    if heights.noise is not None and heights.noise.flat:
        return Reading("flatness", "foot", 0.0, heights.noise.range_sd)
    zone, places = minimum_zone(heights.points), heights.places
    expected = 0.0 if heights.noise is None else heights.noise.range_mean
    width, wide_u = _judged(zone.width, float(np.linalg.norm(zone.weights * heights.u)), expected, heights.noise)
    where = ""
    if width > wide_u:
        order = np.argsort(-np.abs(zone.weights))
        touching = [int(point) for point in order if abs(zone.weights[point]) > 1e-6]  # noqa: PLR2004  (rounding)
        high = places_title([places[point] for point in touching if zone.weights[point] > 0], book)
        low = places_title([places[point] for point in touching if zone.weights[point] < 0], book)
        where = messages_of(book).say("where.high_and_low", high=high, low=low)
    return Reading("flatness", "foot", width, wide_u, where)


def _tilts(slope: Slope, u: Array) -> Iterator[Reading]:
    for quantity, along, weights in (
        ("tilt_fore_aft", slope.along_y, slope.weights_y),
        ("tilt_sideways", slope.along_x, slope.weights_x),
    ):
        spread_of_slope = float(np.linalg.norm(weights * u))
        yield Reading(
            quantity, "foot", math.degrees(math.atan(along)), math.degrees(spread_of_slope / (1.0 + along**2))
        )


def _rock(laid: Seat, heights: _Heights, book: Rulebook) -> Reading:
    rock, places = laid.rock, heights.places
    expected = 0.0 if heights.noise is None else heights.noise.range_mean
    depth, rock_u = _judged(rock.depth, rock.u, expected, heights.noise)
    where = ""
    if rock.hinge is not None and depth > rock_u:
        first, *others = dict.fromkeys(place_title(places[point], book) for point in rock.hinge)
        where = messages_of(book).say(
            "where.rocks_about_line" if others else "where.rocks_across",
            first=first,
            last=others[0] if others else "",
            down=place_title(places[rock.point], book),
        )
    return Reading("rock", "foot", depth, rock_u, where)


def _gaps(laid: Seat, heights: _Heights, messages: Messages) -> Iterator[Reading]:
    widest, noise = int(laid.gaps.argmax()), heights.noise
    for number, place in enumerate(dict.fromkeys(heights.places)):
        point = max(heights.at(place), key=laid.gaps.__getitem__)
        expected, gap_u = 0.0 if noise is None else noise.below[number], float(laid.u[point])
        if noise is not None:  # where it bears there is a gap no more than the height is sure
            gap_u = max(gap_u, float(heights.u[point]))
        gap = float(laid.gaps[point])
        if noise is not None:
            gap = 0.0 if noise.flat else less_noise(gap, expected)
        where = _spot(heights.points[point], messages)
        if point == widest and gap > gap_u:
            where = messages.say("where.widest", where=where)
        yield Reading("gap", place, gap, gap_u, where)


def _spot(point: Array, messages: Messages) -> str:
    """Where a point lies from the middle of the foot, in words."""
    return messages.say(
        "where.ahead" if point[1] >= 0 else "where.behind",
        across=f"{abs(point[0]):.0f}",
        side=messages.named("side", "lateral" if point[0] >= 0 else "medial"),
        along=f"{abs(point[1]):.0f}",
    )


def _in_range(reading: Reading, book: Rulebook) -> Reading:
    quantity = book.quantities[reading.quantity]
    least, most = quantity.range or (-math.inf, math.inf)
    unit = quantity.unit or ""
    if not least <= float(reading.value) <= most:
        name = reading.quantity.replace("_", " ")
        _refuse(
            round(float(reading.value), 3),
            f"heights that give a {name} of {least:g} to {most:g} {unit}",
            f"They give a {name} of {shown(float(reading.value), unit)}: check the heights and their unit.",
        )
    return reading


def _value(name: str, book: Rulebook) -> float:
    value = book.parameters[name].value
    if value is None:
        raise ValueError(f"the rulebook's parameter {name} has no value")
    return value


def _refuse(value: str | float, allowed: str, detail: str) -> NoReturn:
    raise BadInput([Problem(HEIGHTS, value, allowed, detail)])
