"""The imprint of the hot shoe round the bearing wall: how much it marked, and the longest run it left bare."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import Final, NamedTuple

from fitcheck.errors import BadInput, Problem
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.observables import ARCS
from fitcheck.measure.levelness import bears_at
from fitcheck.measure.results import Readings
from fitcheck.measure.stations import place_at, wall_end
from fitcheck.text.catalogue import Messages, messages_of
from fitcheck.text.format import amount_of, places_title, shown
from rules import Reading, Rulebook

__all__ = ["Run", "bare_runs", "scorch", "scorched_runs"]

_OPPOSITE: Final = {
    "medial_heel": "lateral_heel",
    "lateral_heel": "medial_heel",
    "medial_quarter": "lateral_quarter",
    "lateral_quarter": "medial_quarter",
}


class Run(NamedTuple):
    """A stretch of the bearing wall, from and to in degrees."""

    first: float
    last: float

    @property
    def length(self) -> float:
        """Its length (deg)."""
        return self.last - self.first


def scorched_runs(arcs: Iterable[Sequence[float]], end: float) -> list[Run]:
    """The union of the arcs (deg) within the wall from ``-end`` to ``end``: runs apart from one another, in order."""
    clipped = sorted(Run(max(-end, first), min(end, last)) for first, last in arcs)
    runs: list[Run] = []
    for run in clipped:
        if run.length <= 0:
            continue
        if runs and run.first <= runs[-1].last:
            runs[-1] = Run(runs[-1].first, max(runs[-1].last, run.last))
        else:
            runs.append(run)
    return runs


def bare_runs(scorched: Sequence[Run], end: float) -> list[Run]:
    """What the marked runs leave of the wall, in order."""
    edges = [-end, *(edge for run in scorched for edge in run), end]
    gaps = (Run(first, last) for first, last in zip(edges[::2], edges[1::2], strict=True))
    return [run for run in gaps if run.length > 0]


def scorch(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading]:
    """Coverage (share of the bearing wall) and the longest bare arc (deg) at the place where its middle lies.

    Each edge of a run that is not the wall's own end has the uncertainty of an angle.  Where gaps are known, the bare
    arc says whether the horn is low there and where it bears.  Raises fitcheck.errors.BadInput for an arc that runs
    backwards.
    """
    seen = fitting.observations.scorch
    if seen is None or seen.arcs is None:
        return
    _forwards(seen.arcs)
    end, u = wall_end(book), book.instruments["deg"].u
    scorched = scorched_runs(seen.arcs, end)
    share = min(1.0, math.fsum(run.length for run in scorched) / (2 * end))
    free = sum(_free_edges(run, end) for run in scorched)
    yield Reading("coverage", "foot", share, math.sqrt(free) * u / (2 * end))
    bare = bare_runs(scorched, end)
    if not bare:
        yield Reading("bare_arc", "toe", 0.0, 0.0, "marked from heel to heel")
        return
    longest = max(bare, key=lambda run: run.length)
    place = place_at((longest.first + longest.last) / 2, book)
    where = "; ".join([_in_words(longest, end, messages_of(book)), *_high_or_low(place, fitting, readings, book)])
    yield Reading("bare_arc", place, longest.length, math.sqrt(_free_edges(longest, end)) * u, where)


def _forwards(arcs: Sequence[Sequence[float]]) -> None:
    problems = [
        Problem(
            f"{ARCS}.{number}",
            f"[{first:g}, {last:g}]",
            "[from, to] with from no greater than to, in degrees",
            f"The arc runs backwards, from {first:g} to {last:g} deg. Go from the medial towards the lateral side.",
        )
        for number, (first, last) in enumerate(arcs)
        if first > last
    ]
    if problems:
        raise BadInput(problems)


def _free_edges(run: Run, end: float) -> int:
    return (run.first > -end) + (run.last < end)


def _in_words(run: Run, end: float, messages: Messages) -> str:
    """Where a run lies, as one reads it off round the foot."""
    first, last = f"{abs(run.first):.0f}", f"{abs(run.last):.0f}"
    if (run.first, run.last) == (-end, end):
        return messages.say("where.whole_wall")
    if run.first >= 0:
        return messages.say("where.run_beside", first=first, last=last, side=messages.named("side", "lateral"))
    if run.last <= 0:
        return messages.say("where.run_beside", first=last, last=first, side=messages.named("side", "medial"))
    return messages.say("where.run_over_toe", medial=first, lateral=last)


def _high_or_low(place: str, fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[str]:
    """What the gaps, computed from heights or given, say of a bare place: low or not, and where the horn bears."""
    gap, messages = readings.get(("gap", place)), messages_of(book)
    if gap is None:
        return
    if not _open(gap):
        yield messages.say("where.no_gap")
        return
    yield messages.say("where.low", gap=shown(float(gap.value), "mm", book.language))
    bears = bears_at(fitting, book) or _closed(place, readings)
    if bears:
        yield messages.say("where.bears", places=places_title(bears, book))


def _closed(place: str, readings: Readings) -> list[str]:
    """Where gaps read by hand say that horn bears: across the foot from ``place``, otherwise where it is closest."""
    closed = [name for (quantity, name), other in readings.items() if quantity == "gap" and not _open(other)]
    across = _OPPOSITE.get(place, "")
    if across in closed:
        return [across]
    return [min(closed, key=lambda name: float(readings["gap", name].value))] if closed else []


def _open(gap: Reading) -> bool:
    """Whether a gap is more than its uncertainty, and enough to be read out."""
    return float(gap.value) > gap.u and amount_of(float(gap.value), "mm") > 0
