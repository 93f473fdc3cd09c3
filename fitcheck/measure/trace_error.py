"""How far a trace is from what was traced: shaking points, a wandering hand, the frame of both, and the scale."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from fitcheck.fitting.models import Outline
from fitcheck.measure.curves import Floats
from rules import Rulebook

__all__ = ["TraceError", "error_of"]

_REACH: Final = 3.0  # wander further off than this many of its lengths is independent


@dataclass(frozen=True, slots=True)
class TraceError:
    """Standard uncertainties in each direction (mm), but for ``scale``, a share of every length.

    ``noise`` is of single points, independent of one another. ``wander`` goes along a trace and fades over ``length``
    (mm) as exp(-d^2 / (2 length^2)). ``frame`` is how far one whole trace lies off the other's frame.
    """

    noise: float
    wander: float = 0.0
    length: float = 1.0
    frame: float = 0.0
    scale: float = 0.0

    @property
    def point(self) -> float:
        """Standard uncertainty of one traced point in one direction (mm)."""
        return math.hypot(self.noise, self.wander)

    def wandering(self, gradient: Floats, step: float) -> float:
        """Variance that the wander of two traces brings to a sum over stations at equal steps (mm) along them.

        ``gradient``, shape (n, 2), are the derivatives to the places of either trace.
        """
        if not self.wander:
            return 0.0
        most = min(len(gradient), 1 + int(_REACH * self.length / step))
        total = float((gradient * gradient).sum())
        for lag in range(1, most):
            share = math.exp(-0.5 * (lag * step / self.length) ** 2)
            total += 2 * share * float((gradient[lag:] * gradient[:-lag]).sum())
        return 2 * self.wander**2 * total


def error_of(outline: Outline, book: Rulebook, shaking: float, averaged: int) -> TraceError:
    """The error of the traces of ``outline``, whose points shake by ``shaking`` (mm) and of which so many make one.

    What the client says of them (``made``, ``scale``) goes before the book's figures; a book without ``trace_wander``
    has independent points alone.
    """
    noise = _figure("trace", book)
    if "trace_wander" not in book.parameters:
        return TraceError(noise)
    wander, length = _figure("trace_wander", book), _figure("trace_wander_length", book)
    made, scale = outline.made, outline.scale
    relative = _figure("trace_scale", book)
    if made is not None and made.by == "photograph":
        # A line through taps is wrong from tap to tap.
        noise = wander = _figure("photograph_tap", book)
        length = _figure("photograph_taps_apart", book)
        relative = math.hypot(_figure("photograph_scale", book), _figure("photograph_tilt", book))
    if made is not None and made.u is not None:
        noise = wander = made.u
    noise = max(noise, shaking)
    if scale is not None:
        relative = (math.sqrt(2.0) * noise if scale.u is None else scale.u) / scale.mm
        if made is not None and made.by == "photograph":
            relative = math.hypot(relative, _figure("photograph_tilt", book))
    return TraceError(noise / math.sqrt(averaged), wander, length, _figure("trace_frame", book), relative)


def _figure(name: str, book: Rulebook) -> float:
    value = book.parameters[name].value
    if value is None:
        raise ValueError(f"the rulebook's parameter {name} has no value")
    return value
