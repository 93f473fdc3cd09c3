"""Levelness from measured heights of the bearing surface: flatness, tilt, rock, and the gaps below a flat shoe."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from fitcheck.fitting.models import Fitting
from fitcheck.measure.results import Readings, Remark
from rules import Reading, Rulebook
from rules.lazy import lazily

if TYPE_CHECKING:
    from fitcheck.measure.level_readings import bearing_places, level_readings
else:
    bearing_places = lazily("fitcheck.measure.level_readings", "bearing_places")
    level_readings = lazily("fitcheck.measure.level_readings", "level_readings")

__all__ = ["bears_at", "levelness"]


def levelness(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading | Remark]:
    """Flatness (mm), the two tilts (deg), rock (mm) and the largest gap (mm) at each place that has heights.

    Heights are of the bearing surface, higher being nearer the shoe.  The lateral side is the one that the outline
    names, otherwise +x.  Raises fitcheck.errors.BadInput for heights that cannot be those of a foot.
    """
    level = fitting.observations.levelness
    if level is not None and level.heights is not None:
        yield from level_readings(level, _lateral_is_plus_x(fitting), book)


def bears_at(fitting: Fitting, book: Rulebook) -> list[str]:
    """The places that a flat shoe laid on the measured heights rests on; none without heights."""
    level = fitting.observations.levelness
    if level is None or level.heights is None:
        return []
    return bearing_places(level, _lateral_is_plus_x(fitting), book)


def _lateral_is_plus_x(fitting: Fitting) -> bool:
    outline = fitting.observations.outline
    return outline is None or outline.lateral == "+x"
