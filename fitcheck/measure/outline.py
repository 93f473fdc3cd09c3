"""The fit of the outline: overhang and heel width along the wall, branch lengths, and where the nail holes stand."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from fitcheck.fitting.models import Fitting
from fitcheck.measure.results import Readings, Remark
from rules import Reading, Rulebook
from rules.lazy import lazily

if TYPE_CHECKING:
    from fitcheck.measure.outline_readings import outline_readings
else:
    outline_readings = lazily("fitcheck.measure.outline_readings", "outline_readings")

__all__ = ["outline_fit"]


def outline_fit(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading | Remark]:
    """What the traces of hoof and shoe show; nothing where no outline is given.

    Raises fitcheck.errors.BadInput when the traces cannot be those of a foot and its shoe in one frame.
    """
    outline = fitting.observations.outline
    if outline is None:
        return
    yield from outline_readings(outline, fitting.observations.nails or [], readings, book)
