"""How somebody's work goes over time: where it holds, how the marks run, and what to practise next.

A foot of a visit counts once, however often it was assessed there, and for each criterion with the worst that was
found: what had to be put right was not right at first.  Shares have the exact interval of :mod:`fitcheck.agreement`;
feet are taken to stand apart, which those of one visit do not quite.

What to practise next is the criterion with the lowest upper end of its interval, so that one bad foot of one does not
outweigh three of eight; where two are alike, the one that lost the greater part of its marks.  A trend is Kendall's
rank correlation of the mean marks of visits with days, told only where chance is unlikely to make it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from statistics import fmean
from typing import TYPE_CHECKING, Literal, NamedTuple

from pydantic import Field

from fitcheck.agreement.outcome import LEVEL, Interval, NotComputed
from fitcheck.agreement.proportion import Share, share
from fitcheck.assessment.models import Output
from fitcheck.documented import DayText, Uuid
from fitcheck.fitting.models import FittedFoot
from fitcheck.marking.sheet import BandView, CriterionMark, MarkSheet, State
from fitcheck.text.catalogue import Messages, capital, messages_of
from rules import Rulebook, marking_of
from rules.lazy import lazily
from rules.loading.marking import OF_VISITS
from rules.model.records import RANK

if TYPE_CHECKING:
    from scipy.stats import kendalltau
else:
    kendalltau = lazily("scipy.stats", "kendalltau")

__all__ = ["CriterionProgress", "DatedSheet", "MarkPoint", "Progress", "Trend", "mark_text", "progress_of"]

_PERCENT = 100
_FEWEST_DAYS = 2
_OF_FEET = "fewest_feet"


class DatedSheet(NamedTuple):
    """A sheet, the day of the work, and the visit: a name that no other visit has; None where it stands alone."""

    day: date
    visit: str | None
    sheet: MarkSheet

    @property
    def subject(self) -> tuple[str, str]:
        """Which foot it was, and when."""
        return (self.visit, self.sheet.foot) if self.visit is not None else (self.sheet.assessment, "")


class CriterionProgress(Output):
    """One criterion over all feet on which it was wholly observed and marked."""

    criterion: str
    title: str
    feet: int
    good: int
    """Feet on which nothing of it had to be put right."""
    share: float | None
    low: float | None
    """Lower end of the 95 % interval of the share, 0 to 1."""
    high: float | None
    lost: float | None
    """Percent of its marks that were taken off."""
    say: str


class MarkPoint(Output):
    """The mark of one foot of one visit, as it was last assessed there."""

    day: DayText
    foot: FittedFoot
    assessment: Uuid
    state: State
    percent: float | None
    band: BandView | None


class Trend(Output):
    """Which way whole marks run over the days."""

    way: Literal["up", "down", "not_shown", "too_few"]
    feet: int
    visits: int | None = Field(default=None, exclude_if=lambda visits: visits is None)
    """The visits with a whole mark; left out by a scheme that tells a trend by feet."""
    chance: float | None
    """How probable at least so strong a run is by chance alone; null where it was not reckoned."""
    say: str


class Progress(Output):
    """Everything that a person's sheets show, the earliest first."""

    feet: int
    assessments: int
    criteria: tuple[CriterionProgress, ...]
    marks: tuple[MarkPoint, ...]
    trend: Trend
    practise: str | None
    """The criterion to practise next; null where nothing had to be put right."""
    say: str
    """What to practise next, in a sentence."""


def progress_of(feet: Iterable[DatedSheet], book: Rulebook) -> Progress:
    """The progress of the person whose work ``feet`` are, in the order of keeping, by the scheme of ``book``.

    A foot's latest sheet is the last one, whatever its clock said; feet are ordered by day.  Of each
    sheet the tally that counts is taken.
    """
    ordered = list(feet)
    subjects: dict[tuple[str, str], list[DatedSheet]] = {}
    for each in ordered:
        subjects.setdefault(each.subject, []).append(each)
    criteria = tuple(
        _criterion(name, list(subjects.values()), book)
        for name, marks in marking_of(book).marks.items()
        if marks.marks and book.criteria[name].of == "foot"
    )
    points = sorted((_point(sheets[-1]) for sheets in subjects.values()), key=lambda point: point.day)
    practise = _to_practise(criteria)
    return Progress(
        feet=len(subjects),
        assessments=len(ordered),
        criteria=criteria,
        marks=tuple(points),
        trend=_trend(subjects, book),
        practise=None if practise is None else practise.criterion,
        say=_advice(practise, criteria, book),
    )


def _criterion(name: str, subjects: Sequence[Sequence[DatedSheet]], book: Rulebook) -> CriterionProgress:
    judged = [marks for sheets in subjects if (marks := [mark for sheet in sheets if (mark := _mark(name, sheet))])]
    good = sum(not any(_to_put_right(mark) for mark in marks) for marks in judged)
    found = share(good, len(judged))
    computed = [(mark.mark, mark.of) for marks in judged for mark in marks if mark.mark is not None]
    of = sum(whole for _, whole in computed)
    title = book.criteria[name].title
    return CriterionProgress(
        criterion=name,
        title=title,
        feet=len(judged),
        good=good,
        share=found.value if isinstance(found, Share) else None,
        low=found.interval.low if isinstance(found, Share) else None,
        high=found.interval.high if isinstance(found, Share) else None,
        lost=round(_PERCENT * (of - sum(left for left, _ in computed)) / of, 1) if of else None,
        say=_share_text(title, found, messages_of(book)),
    )


def _share_text(title: str, found: Share | NotComputed, messages: Messages) -> str:
    if isinstance(found, NotComputed):
        return messages.say("progress.not_assessed", title=title)
    low, high = (f"{_PERCENT * end:.0f}" for end in (found.interval.low, found.interval.high))
    feet = messages.counted("of_feet", found.whole)
    return messages.say("progress.share", title=title, part=found.part, feet=feet, low=low, high=high)


def mark_text(point: MarkPoint, messages: Messages) -> str:
    """The mark in percent, or why there is none, in short."""
    if point.percent is None:
        return messages.say(f"progress.mark.{point.state}")
    return f"{messages.number(f'{point.percent:g}')} %"


def _mark(name: str, sheet_of_day: DatedSheet) -> CriterionMark | None:
    """The criterion on one sheet, where it was wholly observed and has marks there."""
    return next(
        (
            each
            for each in sheet_of_day.sheet.counts.criteria
            if each.criterion == name and each.of and each.standing in {"assessed", "set"}
        ),
        None,
    )


def _to_put_right(mark: CriterionMark) -> bool:
    return any(RANK[finding.grade] >= RANK["major"] for finding in mark.findings)


def _point(sheet_of_day: DatedSheet) -> MarkPoint:
    tally = sheet_of_day.sheet.counts
    return MarkPoint(
        day=sheet_of_day.day.isoformat(),
        foot=sheet_of_day.sheet.foot,
        assessment=sheet_of_day.sheet.assessment,
        state=tally.state,
        percent=tally.percent,
        band=tally.band,
    )


def _to_practise(criteria: Iterable[CriterionProgress]) -> CriterionProgress | None:
    failing = [each for each in criteria if each.good < each.feet and each.high is not None]
    return min(failing, key=lambda each: (each.high or 0.0, -(each.lost or 0.0)), default=None)


def _advice(practise: CriterionProgress | None, criteria: Sequence[CriterionProgress], book: Rulebook) -> str:
    messages = messages_of(book)
    seen = max((each.feet for each in criteria), default=0)
    if not seen:
        return messages.say("progress.nothing_yet")
    few = marking_of(book).progress[_OF_FEET].value
    if practise is None:
        advice = messages.say("progress.nothing_bad", feet=messages.counted("of_feet", seen))
        return f"{advice} {messages.counted('progress.few', seen)}" if seen < few else advice
    feet = messages.counted("of_feet", practise.feet)
    title = messages.within(practise.title)
    advice = messages.say("progress.practise", title=title, bad=practise.feet - practise.good, feet=feet)
    if practise.feet < few:
        return f"{advice} {messages.say('progress.chance')}"
    alike = [messages.within(each.title) for each in criteria if each is not practise and _overlap(practise, each)]
    if alike:
        return f"{advice} {messages.say('progress.not_settled', titles=messages.listed(alike))}"
    return advice


def _overlap(one: CriterionProgress, other: CriterionProgress) -> bool:
    ends = (one.low, one.high, other.low, other.high)
    if any(end is None for end in ends):
        return False
    return Interval(one.low or 0.0, one.high or 0.0).overlaps(Interval(other.low or 0.0, other.high or 0.0))


def _trend(subjects: Mapping[tuple[str, str], Sequence[DatedSheet]], book: Rulebook) -> Trend:
    """Whole marks against days: the mean of each visit where the scheme asks for visits, or else foot by foot."""
    whole = [
        (visit, sheets[-1].day.toordinal(), percent)
        for (visit, _), sheets in subjects.items()
        if (percent := sheets[-1].sheet.counts.percent) is not None
    ]
    figures, messages = marking_of(book).progress, messages_of(book)
    by_visit = OF_VISITS in figures
    units: dict[object, list[tuple[int, float]]] = {}
    for number, (visit, day, percent) in enumerate(whole):
        units.setdefault(visit if by_visit else number, []).append((day, percent))
    points = [(min(day for day, _ in feet), fmean(percent for _, percent in feet)) for feet in units.values()]
    what, few = ("visits", figures[OF_VISITS].value) if by_visit else ("feet", figures[_OF_FEET].value)
    counted, visits = messages.counted(what, len(points)), len(points) if by_visit else None
    days = {day for day, _ in points}
    if len(points) < few or len(days) < _FEWEST_DAYS:
        span = messages.counted("unit.d", len(days))
        say = messages.say("progress.trend.too_few", feet=capital(counted), days=span)
        return Trend(way="too_few", feet=len(whole), visits=visits, chance=None, say=say)
    if len({percent for _, percent in points}) == 1:
        say = messages.say("progress.trend.alike")
        return Trend(way="not_shown", feet=len(whole), visits=visits, chance=None, say=say)
    found = kendalltau([day for day, _ in points], [percent for _, percent in points])
    chance = float(found.pvalue)
    if chance >= 1 - LEVEL:
        say = messages.say("progress.trend.level", feet=counted)
        return Trend(way="not_shown", feet=len(whole), visits=visits, chance=chance, say=say)
    way: Literal["up", "down"] = "up" if found.statistic > 0 else "down"
    say = messages.say(f"progress.trend.{way}", feet=counted)
    return Trend(way=way, feet=len(whole), visits=visits, chance=chance, say=say)
