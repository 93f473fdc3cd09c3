"""The readings that measured heights give, in the rulebook's quantities and places, and the heights it cannot be."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final, NoReturn

import numpy as np

from fitcheck.errors import BadInput, Problem
from fitcheck.fitting.fit_observations import Levelness
from fitcheck.fitting.observables import HEIGHTS
from fitcheck.measure.planes import Array, Slope, least_squares, minimum_zone, spread
from fitcheck.measure.seating import Seat, bears_on, seat
from fitcheck.measure.stations import angle_of, place_at
from fitcheck.text.catalogue import Messages, messages_of
from fitcheck.text.format import place_title, places_title, shown
from rules import Reading, Rulebook

__all__ = ["bearing_places", "level_readings"]

_FEWEST: Final = 4  # three points are always level
_WITHOUT_U: Final = 3  # numbers of a row that states no uncertainty
_SAME_SPOT: Final = 3  # decimals of a millimetre beyond which two positions are the same


def level_readings(level: Levelness, lateral_is_plus_x: bool, book: Rulebook) -> Iterator[Reading]:  # noqa: FBT001
    """All readings of levelness from its heights: rows x, y, height (mm, toe towards +y), and u where one is stated.

    Each height has the largest u that is stated of any, or the calliper's; positions are taken as exact, as a slope
    turns little of their error into height.  Raises BadInput naming the heights.
    """
    heights = level.heights or ()
    points, places = _framed(heights, lateral_is_plus_x, book)
    otherwise = book.methods["calliper"].u if level.heights_u is None else level.heights_u
    u = max((row[3] if len(row) > _WITHOUT_U else otherwise for row in heights), default=otherwise)
    laid = seat(points, _value("press", book))
    for reading in (
        _flatness(points, places, u, book),
        *_tilts(least_squares(points), u),
        _rock(laid, places, u, book),
        *_gaps(points, laid, places, u, messages_of(book)),
    ):
        yield _in_range(reading, book)


def bearing_places(heights: Sequence[Sequence[float]], lateral_is_plus_x: bool, book: Rulebook) -> list[str]:  # noqa: FBT001
    """The places of the three points that a flat shoe laid on the heights rests on, each once."""
    points, places = _framed(heights, lateral_is_plus_x, book)
    return list(dict.fromkeys(places[point] for point in bears_on(points)))


def _framed(heights: Sequence[Sequence[float]], lateral_is_plus_x: bool, book: Rulebook) -> tuple[Array, list[str]]:  # noqa: FBT001
    """The points seen from the middle of the foot, x towards the lateral side, and the place of each."""
    points = _checked(heights, book)
    points[:, 0] *= 1.0 if lateral_is_plus_x else -1.0
    points[:, :2] -= (points[:, :2].max(axis=0) + points[:, :2].min(axis=0)) / 2
    return points, [place_at(angle_of(x, y), book) for x, y, _ in points.tolist()]


def _checked(heights: Sequence[Sequence[float]], book: Rulebook) -> Array:
    """The distinct points as an array, one row each."""
    at: dict[tuple[float, float], Sequence[float]] = {}
    for x, y, height, *_ in heights:
        spot = (round(x, _SAME_SPOT), round(y, _SAME_SPOT))
        if spot in at and at[spot][2] != height:
            _refuse(
                f"[{x:g}, {y:g}, {height:g}]",
                "one height for each position",
                f"{at[spot][2]:g} and {height:g} are given for x {x:g}, y {y:g}: measure there again.",
            )
        at.setdefault(spot, (x, y, height))
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


def _flatness(points: Array, places: Sequence[str], u: float, book: Rulebook) -> Reading:
    zone = minimum_zone(points)
    where = ""
    wide = zone.width > (wide_u := u * float(np.linalg.norm(zone.weights)))
    if wide:
        order = np.argsort(-np.abs(zone.weights))
        touching = [int(point) for point in order if abs(zone.weights[point]) > 1e-6]  # noqa: PLR2004  (rounding)
        high = places_title([places[point] for point in touching if zone.weights[point] > 0], book)
        low = places_title([places[point] for point in touching if zone.weights[point] < 0], book)
        where = messages_of(book).say("where.high_and_low", high=high, low=low)
    return Reading("flatness", "foot", zone.width, wide_u, where)


def _tilts(slope: Slope, u: float) -> Iterator[Reading]:
    for quantity, along, weights in (
        ("tilt_fore_aft", slope.along_y, slope.weights_y),
        ("tilt_sideways", slope.along_x, slope.weights_x),
    ):
        spread_of_slope = u * float(np.linalg.norm(weights))
        yield Reading(
            quantity, "foot", math.degrees(math.atan(along)), math.degrees(spread_of_slope / (1.0 + along**2))
        )


def _rock(laid: Seat, places: Sequence[str], u: float, book: Rulebook) -> Reading:
    rock = laid.rock
    rock_u = u * rock.factor
    where = ""
    if rock.hinge is not None and rock.depth > rock_u:
        first, *others = dict.fromkeys(place_title(places[point], book) for point in rock.hinge)
        where = messages_of(book).say(
            "where.rocks_about_line" if others else "where.rocks_across",
            first=first,
            last=others[0] if others else "",
            down=place_title(places[rock.point], book),
        )
    return Reading("rock", "foot", rock.depth, rock_u, where)


def _gaps(points: Array, laid: Seat, places: Sequence[str], u: float, messages: Messages) -> Iterator[Reading]:
    widest = int(laid.gaps.argmax())
    for place in dict.fromkeys(places):
        here = [point for point, name in enumerate(places) if name == place]
        point = max(here, key=laid.gaps.__getitem__)
        gap, gap_u = float(laid.gaps[point]), u * float(laid.factors[point])
        where = _spot(points[point], messages)
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
