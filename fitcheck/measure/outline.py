"""The fit of the outline: overhang and heel width along the wall, branch lengths, and where the nail holes stand."""

from __future__ import annotations

from collections.abc import Iterator

from fitcheck.fitting.models import Fitting
from fitcheck.measure.results import Readings
from rules import Reading, Rulebook

__all__ = ["outline_fit"]


def outline_fit(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading]:
    """What the traces of hoof and shoe show; nothing where no outline is given.

    Raises fitcheck.errors.BadInput when the traces cannot be those of a foot and its shoe in one frame.
    """
    outline = fitting.observations.outline
    if outline is None:
        return
    # Only here, so that a fitting without traces is assessed without loading the libraries of numbers and geometry.
    from fitcheck.measure.outline_readings import outline_readings  # noqa: PLC0415

    yield from outline_readings(outline, fitting.observations.nails or [], readings, book)
