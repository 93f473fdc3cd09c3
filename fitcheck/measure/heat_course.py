"""The whole course of heat behind the horn: its peak after all holds of the hot shoe, and the time left for one more.

Each hold counts at its own time, with iron that cools; between and after the holds there is air.  The course is
computed at the coolest and at the hottest end of all that is not known: the parameters, and how hot, how long and
through how much horn.  All the cool ends are taken together, and all the hot ones: the range is one of worst cases,
not a spread.  That dull iron has been seen to send more heat inwards than cherry red (FL 596) is left out.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Mapping, Sequence
from typing import Final, Literal, NamedTuple

from fitcheck.measure.heat_response import Properties, Response, response
from fitcheck.measure.results import Span, span_of
from rules import shipped_rulebook
from rules.model.figures import Parameter

__all__ = ["Course", "Foot", "Hold", "Tissue", "foot_of", "inside_at", "peak_in", "peak_inside", "time_left"]

Tissue = Literal["living", "dead"]
"""What lies behind the horn: perfused, or without blood as in the trials."""

_MM: Final = 1e-3  # m
_THINNEST: Final = 0.5  # mm; an uncertainty wider than the horn must not make its depth negative
_GOLDEN: Final = (math.sqrt(5) - 1) / 2
_NARROWINGS: Final = 11
"""Golden sections of the stretch round a peak: its moment is then known to half a hundredth of the stretch."""


class Hold(NamedTuple):
    """One application of the hot shoe: its start (s, on any clock), how long (s), how hot the iron was (degC)."""

    start_s: float
    seconds: Span
    iron_degc: Span


class Course(NamedTuple):
    """The peak behind the horn at the coolest and the hottest end (degC), and when it comes (s, on the same clock).

    It may come at any time between, as the ends do not differ in one thing alone.  Without a hold ``when_s`` is 0.
    """

    low_peak: float
    high_peak: float
    when_s: Span


class _Pulse(NamedTuple):
    """One hold at one end: from when to when (s), and how much hotter than the foot the iron was at first (K)."""

    start: float
    end: float
    rise: float


class Matter(NamedTuple):
    """What does not change with the fitting at one end of all that is not known: its matter, and the heat before."""

    properties: Properties
    before: float
    """Temperature of the foot before (degC)."""


class Foot(NamedTuple):
    """The foot at the coolest and at the hottest end of the parameters."""

    cool: Matter
    hot: Matter


class _End(NamedTuple):
    """The coolest or the hottest end of all that is not known."""

    response: Response
    pulses: list[_Pulse]
    before: float
    """Temperature of the foot before (degC)."""

    @property
    def rise(self) -> Callable[[float], float]:
        """How much warmer than before the inner side of the horn is (K) at a moment (s)."""
        pulses, gained, iron_time = self.pulses, self.response.gained, self.response.iron_time

        def rise_at(moment: float) -> float:
            total = 0.0
            for start, end, rise in pulses:
                if moment <= start:
                    break
                total += rise * math.exp((start - moment) / iron_time) * gained(moment - start, end - start)
            return total

        return rise_at


def foot_of(parameters: Mapping[str, Parameter] | None = None, tissue: Tissue = "living") -> Foot:
    """The foot as ``parameters`` have it, those of the shipped rulebook when None."""
    known = shipped_rulebook().parameters if parameters is None else parameters
    return Foot(_matter(known, tissue, hot=False), _matter(known, tissue, hot=True))


def peak_inside(
    holds: Sequence[Hold],
    horn_mm: Span,
    *,
    tissue: Tissue = "living",
    parameters: Mapping[str, Parameter] | None = None,
) -> Course:
    """The peak behind ``horn_mm`` of horn (mm) in the whole course of ``holds``, and after it.

    Holds do not overlap; one whose longest time reaches into the next ends there.  ``parameters`` are those of the
    shipped rulebook when None.

    >>> course = peak_inside([Hold(0, Span(80, 80), Span(800, 800))], Span(10, 10))  # FL: the longest that hurt none
    >>> round(course.low_peak), round(course.high_peak)
    (25, 41)
    >>> round(course.when_s.low), round(course.when_s.high)
    (321, 332)
    """
    return peak_in(foot_of(parameters, tissue), holds, horn_mm)


def peak_in(foot: Foot, holds: Sequence[Hold], horn_mm: Span) -> Course:
    """The same in a ``foot`` that is at hand."""
    (low, when_low), (high, when_high) = [_peak(end) for end in _ends(foot, holds, horn_mm)]
    return Course(low, high, Span(min(when_low, when_high), max(when_low, when_high)))


def inside_at(
    moment_s: float,
    holds: Sequence[Hold],
    horn_mm: Span,
    *,
    tissue: Tissue = "living",
    parameters: Mapping[str, Parameter] | None = None,
) -> Span:
    """The temperature (degC) behind ``horn_mm`` of horn (mm) at ``moment_s``, on the clock of the holds."""
    ends = _ends(foot_of(parameters, tissue), holds, horn_mm)
    # Long after, what took in more heat may have given more back.
    return Span(*sorted(end.before + end.rise(moment_s) for end in ends))


def time_left(
    limit_degc: float,
    iron_degc: Span,
    now_s: float,
    holds: Sequence[Hold],
    horn_mm: Span,
    *,
    foot: Foot | None = None,
    so_far: float | None = None,
) -> float:
    """How long (s) one more hold from ``now_s`` on may be before the peak can come to ``limit_degc`` in a living foot.

    It is taken at the hottest end.  0 where the holds so far reach the limit; infinite where the iron cools before
    one more could.  ``now_s`` is on the clock of the holds and not before the start of any.  ``foot``: as the shipped
    rulebook has it when None.  ``so_far``: the hottest peak of these holds (degC), where it is known already.
    """
    end = _end((foot or foot_of()).hot, holds, horn_mm, hot=True, until=now_s)
    if (_peak(end)[0] if so_far is None else so_far) >= limit_degc:
        return 0.0
    heat, iron_rise, rise = end.response, iron_degc.high - end.before, end.rise
    if iron_rise <= 0:
        return math.inf
    allowed, stored, reached, iron_time = limit_degc - end.before, heat.stored, heat.reached, heat.iron_time

    def sooner(after: float, at_after: float, grown: float) -> float:
        """Less the longest hold that leaves the inside below the limit ``after`` so many seconds from now."""
        part = at_after - (allowed - rise(now_s + after)) * grown / iron_rise
        return reached(part) - after if part > 0 else -math.inf

    def sooner_at(after: float) -> float:
        return sooner(after, stored(after), math.exp(after / iron_time))

    looks = heat.after_a_hold
    moments, values = [after for after, _, _ in looks], [sooner(*look) for look in looks]
    return max(0.0, -_greatest(sooner_at, moments, values)[0])


def _matter(known: Mapping[str, Parameter], tissue: Tissue, *, hot: bool) -> Matter:
    def of(name: str, *, cools: bool = False) -> float:
        """The parameter's own end; the other one where more of it cools the inside."""
        span = span_of(known[name])
        return span.high if hot is not cools else span.low

    iron = of("iron_thickness") * _MM * of("iron_heat_capacity")
    properties = Properties(
        horn_conductivity=of("horn_conductivity"),
        diffusivity=of("course_diffusivity"),
        conductance=of("surface_conductance"),
        tissue_conductivity=of("tissue_conductivity", cools=True),
        tissue_heat_capacity=of("tissue_heat_capacity", cools=True),
        perfusion=of("perfusion", cools=True) if tissue == "living" else 0.0,
        iron_time=iron / of("iron_loss", cools=True),
    )
    return Matter(properties, of("living_temperature" if tissue == "living" else "dead_temperature"))


def _ends(foot: Foot, holds: Sequence[Hold], horn_mm: Span) -> tuple[_End, _End]:
    return _end(foot.cool, holds, horn_mm, hot=False), _end(foot.hot, holds, horn_mm, hot=True)


def _end(matter: Matter, holds: Sequence[Hold], horn_mm: Span, *, hot: bool, until: float = math.inf) -> _End:
    """One end of all that is not known; a hold ends by ``until`` at the latest."""
    horn = max(_THINNEST, horn_mm.low if hot else horn_mm.high) * _MM
    in_order = sorted(holds)
    limits = [*(hold.start_s for hold in in_order), until][1:]
    pulses = []
    for hold, limit in zip(in_order, limits, strict=True):
        seconds, iron_degc = (hold.seconds.high, hold.iron_degc.high) if hot else (hold.seconds.low, hold.iron_degc.low)
        end = min(hold.start_s + max(0.0, seconds), limit)
        pulses.append(_Pulse(hold.start_s, end, max(0.0, iron_degc - matter.before)))
    return _End(response(matter.properties, horn), pulses, matter.before)


def _peak(end: _End) -> tuple[float, float]:
    """The highest temperature (degC) and when it comes (s)."""
    if not end.pulses:
        return end.before, 0.0
    moments: list[float] = []
    for pulse, after in zip(end.pulses, [*(each.start for each in end.pulses[1:]), math.inf], strict=True):
        turns = (pulse.start, pulse.end)
        moments += turns
        moments += [turn + later for turn in turns for later in end.response.after_a_turn if turn + later < after]
    moments.sort()
    rise = end.rise
    start, over, hotter = end.pulses[0]
    if len(end.pulses) == 1 and over > start and hotter > 0:
        highest, moment = _only_peak(rise, moments, (start + over) / 2 + end.response.steepest_at)
    else:
        highest, moment = _greatest(rise, moments, [rise(moment) for moment in moments])
    return end.before + highest, moment


def _only_peak(function: Callable[[float], float], moments: Sequence[float], about: float) -> tuple[float, float]:
    """The same as :func:`_greatest` where ``function`` has one peak, and that comes ``about`` when.

    As it has after one hold: what a moment of heat leaves behind has one peak, and iron that cools, on for a while,
    leaves a course of one peak of that (Ibragimov 1956: what is logarithmically concave is strongly unimodal).  Climbed
    to, it takes some 5 looks where all moments are 22: 48 us, and 17 so.
    """
    last = len(moments) - 1
    number = min(last, bisect_left(moments, about))
    value = function(moments[number])
    for step in (1, -1):
        while 0 <= number + step <= last and (further := function(moments[number + step])) > value:
            number, value = number + step, further
    return max(
        (value, moments[number]),
        _closed_in(function, moments[max(0, number - 1)], moments[min(last, number + 1)]),
    )


def _greatest(
    function: Callable[[float], float], moments: Sequence[float], values: Sequence[float]
) -> tuple[float, float]:
    """The greatest value of ``function`` and where it stands: each peak among ``moments`` is closed in on."""
    best = max(zip(values, moments, strict=True))
    last = len(moments) - 1
    for number, value in enumerate(values):
        before, after = max(0, number - 1), min(last, number + 1)
        if value > -math.inf and value >= values[before] and value >= values[after]:
            best = max(best, _closed_in(function, moments[before], moments[after]))
    return best


def _closed_in(function: Callable[[float], float], low: float, high: float) -> tuple[float, float]:
    """The greatest value between ``low`` and ``high``, where there is one peak, and where it stands: golden section."""
    left, right = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
    at_left, at_right = function(left), function(right)
    for _ in range(_NARROWINGS):
        if at_left >= at_right:
            high, right, at_right = right, left, at_left
            left = high - _GOLDEN * (high - low)
            at_left = function(left)
        else:
            low, left, at_left = left, right, at_right
            right = low + _GOLDEN * (high - low)
            at_right = function(right)
    return max((at_left, left), (at_right, right))
