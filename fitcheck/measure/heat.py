"""Heat at the inner side of the horn as the first contract has it: perfect contact, and the end of contact.

Only a rulebook with ``horn_diffusivity`` asks for it; others have the whole course (see :mod:`heat_inside`).

The horn is taken as a half-space whose surface is held at the shoe's heat from the moment of contact:
``T = Ts + (Ti - Ts) erf(x / (2 sqrt(a t)))``.  Shoe and char that cool are left out, which errs on the hot side; so is
the heat that runs on inwards when the shoe is taken away, which errs on the other.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from statistics import NormalDist
from typing import NamedTuple

from fitcheck.fitting.input_value import MeasuredValue
from fitcheck.fitting.models import Fitting, Scorch
from fitcheck.measure.listed import stated_times
from fitcheck.measure.results import Readings, Remark, Span, around, of_range, span_of
from fitcheck.text.catalogue import messages_of
from rules import Reading, Rulebook
from rules.limits import guard_factor
from rules.model.records import Scaled

__all__ = ["Contact", "heat", "seconds_to_reach", "temperature", "temperature_span"]

LIMIT_RULE = "horn-heated"
"""The rule whose upper limit is the harmful temperature."""

_HORN = ("sole_thickness", "wall_thickness")
_MM = 1e-3  # m
_THINNEST = 1e-6  # m; an uncertainty wider than the horn must not make its depth negative
_NORMAL = NormalDist()


class Contact(NamedTuple):
    """One hold of the hot shoe: shoe and horn in degC, diffusivity in m2/s, time in s, depth of horn in m."""

    shoe: Span
    horn: Span
    diffusivity: Span
    time: Span
    depth: Span


def temperature(shoe: float, horn: float, diffusivity: float, time: float, depth: float) -> float:
    """Temperature (degC) at ``depth`` (m, above 0) after ``time`` (s, 0 or more) under a surface held at ``shoe``.

    ``shoe`` and ``horn`` (before contact) in degC, ``diffusivity`` in m2/s.

    >>> round(temperature(-15, 20, 0.138e-6, 60 * 86400, 0.677), 2)  # frost in the ground for 60 days
    0.0
    """
    of_shoe, of_horn = _shares(diffusivity, time, depth)
    # Weighted ends rather than a difference: rounding then never leaves the range between horn and shoe.
    return shoe * of_shoe + horn * of_horn


def _shares(diffusivity: float, time: float, depth: float) -> tuple[float, float]:
    """How much of the temperature is the shoe's and how much the horn's: together 1."""
    spread = 2 * math.sqrt(diffusivity * time)
    if spread == 0:  # no time, or too little for a double to tell
        return 0.0, 1.0
    reach = depth / spread
    return math.erfc(reach), math.erf(reach)


def temperature_span(contact: Contact) -> Span:
    """The coolest and hottest (degC) that the inside may be.

    The temperature rises or falls with each figure alone, so its extremes lie at the ends of the spans.  Whatever the
    shares, it rises with shoe and horn.
    """
    shares = [_shares(*corner) for corner in itertools.product(contact.diffusivity, contact.time, contact.depth)]
    shoe, horn = contact.shoe, contact.horn
    return Span(
        min([shoe.low * of_shoe + horn.low * of_horn for of_shoe, of_horn in shares]),
        max([shoe.high * of_shoe + horn.high * of_horn for of_shoe, of_horn in shares]),
    )


def seconds_to_reach(limit: float, shoe: float, horn: float, diffusivity: float, depth: float) -> float:
    """Contact time (s) until the inside comes to ``limit`` (degC); infinite when it never does.

    Units as in :func:`temperature`.
    """
    if horn >= limit:
        return 0.0
    if shoe <= limit:
        return math.inf
    reach = _inverse_erfc((limit - horn) / (shoe - horn))
    return (depth / (2 * reach)) ** 2 / diffusivity


def _inverse_erfc(share: float) -> float:
    """The number whose erfc is ``share`` (above 0, below 1)."""
    return -_NORMAL.inv_cdf(share / 2) / math.sqrt(2)


def heat(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading | Remark]:
    """Temperature at the inner side of the horn (degC) and the contact time that is left (s), at the worst.

    Needs the shoe's heat by colour, the contact time, and the thickness of sole or wall: the thinner one counts.
    Every application counts as one continuous hold.  Readings are taken ``k`` standard uncertainties to either side,
    all at their worst together, ``k`` that of a guarded limit.

    Raises fitcheck.errors.BadInput when further contact times stand without the longest, or exceed it.
    """
    scorch = fitting.observations.scorch
    if scorch is None or "horn_diffusivity" not in book.parameters:
        return
    held = _held(scorch, book)
    colour = readings.get(("shoe_heat", "foot"))
    horns = [readings[name, "foot"] for name in _HORN if (name, "foot") in readings]
    if held is None or colour is None or not horns:
        return
    k = guard_factor(book.levels["guarded"].probability)
    depths = [around(horn, k) for horn in horns]
    contact = Contact(
        shoe=span_of(book.parameters[f"heat_{colour.value}"]),
        horn=span_of(book.parameters["horn_temperature"]),
        diffusivity=span_of(book.parameters["horn_diffusivity"]),
        time=Span(max(0.0, held.value - k * held.u), held.value + k * held.u),
        depth=Span(
            max(_THINNEST, min([depth.low for depth in depths]) * _MM),
            max(_THINNEST, min([depth.high for depth in depths]) * _MM),
        ),
    )
    thinner = min(horns, key=lambda horn: float(horn.value)).quantity
    span = temperature_span(contact)
    where = messages_of(book).say(f"where.under_{thinner.removesuffix('_thickness')}")
    yield of_range("inside_temperature", "foot", span.low, span.high, book, where)
    yield from _time_left(contact, book)
    yield Remark("heat")
    if scorch.further_contact_times or len(scorch.holds or ()) > 1:
        yield Remark("heat_adds_up")


def _time_left(contact: Contact, book: Rulebook) -> Iterator[Reading]:
    """The worst case itself, not a spread: it has no uncertainty of its own."""
    rule = book.rules.get(LIMIT_RULE)
    most = book.quantities["time_left"].range
    if rule is None or rule.high is None or isinstance(rule.high, Scaled) or most is None:
        return
    reached = seconds_to_reach(
        rule.high, contact.shoe.high, contact.horn.high, contact.diffusivity.high, contact.depth.low
    )
    left = min(most[1], max(0.0, reached - contact.time.high))
    yield Reading("time_left", "foot", left, 0.0, messages_of(book).say("where.at_worst"))


def _held(scorch: Scorch, book: Rulebook) -> MeasuredValue | None:
    """All applications as one hold (s); None when no contact time was given in figures."""
    times = stated_times(scorch, book)
    return _together(times) if times else None


def _together(times: Sequence[MeasuredValue]) -> MeasuredValue:
    return MeasuredValue(math.fsum(time.value for time in times), math.hypot(*(time.u for time in times)))
