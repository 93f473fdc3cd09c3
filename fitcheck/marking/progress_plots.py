"""Somebody's progress as SVG: the marks over the days, and the share of good feet for each criterion.

Pure functions of a progress; text is escaped, nothing but presentation attributes styles it, and what must be told
apart differs in shape, not only in shade.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from itertools import pairwise
from statistics import fmean
from typing import Final

from fitcheck.drawing.interval_plot import IntervalRow, interval_plot
from fitcheck.drawing.plot import GRID, LEFT, MARGIN, PERCENT, TICKS, drawn, heading
from fitcheck.drawing.shades import DASHES, HAIR, HEAVY, INK, PAPER, UNSEEN
from fitcheck.drawing.svg import Node, label, line, node, number
from fitcheck.marking.progress import MarkPoint, Progress, mark_text
from fitcheck.text.catalogue import Messages, messages_of
from rules import Rulebook, marking_of

__all__ = ["marks_plot", "shares_plot"]

_RIGHT: Final = 520.0
_TOP: Final = 44.0
_HEIGHT: Final = 200.0
_RADIUS: Final = 4.0
_SHADE: Final = "#dcdcdc"
_FEWEST_DAYS: Final = 2
_DAY_WIDTH: Final = 76.0
"""Room for a day by name."""


def shares_plot(progress: Progress, book: Rulebook) -> str:
    """For each criterion the share of feet on which nothing had to be put right, with its interval."""
    rows, messages = progress.criteria, messages_of(book)
    return interval_plot(
        [
            IntervalRow(
                row.title,
                None if row.share is None or row.low is None or row.high is None else (row.share, row.low, row.high),
                messages.say("progress.plot.good_of", good=row.good, of=row.feet),
                messages.say("progress.plot.not_assessed"),
            )
            for row in rows
        ],
        head=messages.say("progress.plot.shares"),
        key=messages.say("progress.plot.shares_key"),
        title=messages.say("progress.plot.shares_title", title=book.title),
        description=f"{' '.join(row.say for row in rows)} {progress.say}",
    )


def marks_plot(progress: Progress, book: Rulebook) -> str:
    """The mark of each foot over the days; feet without a whole mark stand beneath, each kind with its own sign."""
    bottom, messages = _TOP + _HEIGHT, messages_of(book)
    parts: list[Node] = [heading(messages.say("progress.plot.marks"))]
    for tick in TICKS:
        parts.append(label(f"{tick} %", LEFT - MARGIN, _up(tick) + 4, anchor="end", fill=UNSEEN))
        parts.append(line((LEFT, _up(tick)), (_RIGHT, _up(tick)), stroke=GRID, stroke_width=HAIR))
    for _, band in marking_of(book).best_first:
        y = _up(band.from_)
        if band.from_:
            parts.append(line((LEFT, y), (_RIGHT, y), stroke=INK, stroke_width=HAIR, stroke_dasharray=DASHES))
        parts.append(label(band.title, _RIGHT + MARGIN, y - 2))
    days = [date.fromisoformat(point.day).toordinal() for point in progress.marks]
    places = list(_places(days))
    parts += _line_and_band(progress.marks, places)
    for point, x in zip(progress.marks, places, strict=True):
        parts.append(_point(point, x, bottom, messages))
    parts += _days(dict(zip(days, places, strict=True)), bottom, messages)
    parts.append(label(messages.say("progress.plot.marks_key"), MARGIN, bottom + 56, fill=UNSEEN))
    text = " ".join(f"{_point_text(point, messages)}." for point in progress.marks)
    title = messages.say("progress.plot.marks_title", title=book.title)
    return drawn(parts, bottom + 56 + MARGIN, title=title, description=f"{progress.trend.say} {text}")


def _line_and_band(points: Sequence[MarkPoint], places: Sequence[float]) -> Iterator[Node]:
    """The mean of each day's whole marks as a line, in a band from their least to their greatest."""
    of_day: dict[float, list[float]] = {}
    for point, x in zip(points, places, strict=True):
        if point.percent is not None:
            of_day.setdefault(x, []).append(point.percent)
    if len(of_day) < _FEWEST_DAYS:
        return
    above = [f"{number(x)} {number(_up(max(marks)))}" for x, marks in of_day.items()]
    below = [f"{number(x)} {number(_up(min(marks)))}" for x, marks in reversed(of_day.items())]
    yield node("path", d=f"M{'L'.join([*above, *below])}Z", fill=_SHADE)
    means = [(x, _up(fmean(marks))) for x, marks in of_day.items()]
    yield from (line(one, other, stroke=INK, stroke_width=HEAVY) for one, other in pairwise(means))


def _days(places: Mapping[int, float], bottom: float, messages: Messages) -> Iterator[Node]:
    """The axis with a tick for each day, and as many of them by name as there is room for; the last always."""
    yield line((LEFT, bottom), (_RIGHT, bottom), stroke=INK, stroke_width=HAIR)
    named: list[float] = []
    for day in sorted(places, reverse=True):
        x = places[day]
        yield line((x, bottom), (x, bottom + 4), stroke=INK, stroke_width=HAIR)
        if all(abs(x - other) >= _DAY_WIDTH for other in named):
            named.append(x)
            yield label(messages.day(date.fromordinal(day)), x, bottom + 36, anchor="middle")


def _places(days: Sequence[int]) -> Iterator[float]:
    """Where each day lies; a single day lies in the middle."""
    if not days:
        return
    first, span = days[0], days[-1] - days[0]
    for day in days:
        yield _across((day - first) / span) if span else (LEFT + _RIGHT) / 2


def _point(point: MarkPoint, x: float, bottom: float, messages: Messages) -> Node:
    title = node("title", _point_text(point, messages))
    if point.percent is not None:
        return node("g", title, node("circle", cx=x, cy=_up(point.percent), r=_RADIUS, fill=INK))
    y = bottom + 16
    if point.state == "incomplete":
        ring = node("circle", cx=x, cy=y, r=_RADIUS, fill=PAPER, stroke=INK, stroke_width=HEAVY)
        return node("g", title, ring)
    strokes = [
        line((x - _RADIUS, y - way), (x + _RADIUS, y + way), stroke=INK, stroke_width=HEAVY)
        for way in (_RADIUS, -_RADIUS)
    ]
    return node("g", title, *strokes)


def _point_text(point: MarkPoint, messages: Messages) -> str:
    day, foot = messages.day(date.fromisoformat(point.day)), messages.named("foot", point.foot)
    mark = mark_text(point, messages)
    if point.band is None:
        return messages.say("progress.plot.point", day=day, foot=foot, mark=mark)
    return messages.say("progress.plot.point_band", day=day, foot=foot, mark=mark, band=point.band.title)


def _across(share: float) -> float:
    return LEFT + share * (_RIGHT - LEFT)


def _up(percent: float) -> float:
    return _TOP + _HEIGHT * (1 - percent / PERCENT)
