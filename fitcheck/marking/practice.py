"""What a day's marks by hand tell an apprentice to practise, what lost most first, and a plot of it."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from typing import Final, NamedTuple

from fitcheck.drawing.shades import HAIR, INK, PAPER, UNSEEN
from fitcheck.drawing.svg import FACE, Node, label, line, node, written
from fitcheck.fitting.models import FittedFoot
from fitcheck.marking.by_hand import HandGrade, HandMarks
from fitcheck.text.catalogue import messages_of
from rules import Rulebook
from rules.model.records import RANK

__all__ = ["Looked", "Practice", "PracticeRow", "Remark", "practice_of", "practice_plot"]

_WIDTH: Final = 640.0
_LEFT: Final = 150.0
_RIGHT: Final = 560.0
_TOP: Final = 40.0
_ROW: Final = 26.0
_BAR: Final = 14.0
_MARGIN: Final = 12.0
_TICKS: Final = (0, 25, 50, 75, 100)
_GRID: Final = "#b4b4b4"
_SHADE: Final = "#7a7a7a"
_PERCENT: Final = 100
_RANKS: Final[dict[str | None, int]] = dict(RANK.items())


class Looked(NamedTuple):
    """One foot as one assessor marked it."""

    assessment: str
    horse: str
    foot: FittedFoot
    day: str
    by_hand: HandMarks


class Remark(NamedTuple):
    """A foot on which a criterion was not good, or about which there is a comment."""

    assessment: str
    horse: str
    foot: FittedFoot
    day: str
    assessor: str
    grade: HandGrade | None
    comment: str


class PracticeRow(NamedTuple):
    """One criterion over all marks of the days."""

    criterion: str
    title: str
    looks_at: str
    seen: int
    """Marks in which it was looked at."""
    lost: float
    """Percent of its marks that were lost, over these."""
    remarks: tuple[Remark, ...]
    """Where it was not good, the gravest first."""


class Practice(NamedTuple):
    """What to practise."""

    looks: int
    """Marks by hand; a foot that two assessors marked counts twice."""
    rows: tuple[PracticeRow, ...]
    """Criteria that were looked at, what lost most first."""
    comments: tuple[Remark, ...]


def practice_of(looks: Iterable[Looked], book: Rulebook) -> Practice:
    """What ``looks``, all of one person's work, tell to practise, in the language of ``book``."""
    every = list(looks)
    rows = [row for name in book.criteria if (row := _row(name, every, book)) is not None]
    comments = tuple(_remark(each, None) for each in every if each.by_hand.comment)
    return Practice(len(every), tuple(sorted(rows, key=lambda row: -row.lost)), comments)


def _row(name: str, looks: Iterable[Looked], book: Rulebook) -> PracticeRow | None:
    seen = [
        (each, mark)
        for each in looks
        for mark in each.by_hand.criteria
        if mark.criterion == name and mark.mark is not None
    ]
    if not seen:
        return None
    of = sum(Fraction(repr(mark.of)) for _, mark in seen)
    got = sum(Fraction(repr(mark.mark)) for _, mark in seen)
    faults = [_remark(each, mark.grade) for each, mark in seen if mark.grade is not None and mark.grade != "good"]
    faults.sort(key=lambda remark: -_RANKS.get(remark.grade, 0))
    criterion = book.criteria[name]
    lost = float((of - got) * _PERCENT / of)
    return PracticeRow(name, criterion.title, criterion.looks_at, len(seen), lost, tuple(faults))


def _remark(each: Looked, grade: HandGrade | None) -> Remark:
    by_hand = each.by_hand
    return Remark(each.assessment, each.horse, each.foot, each.day, by_hand.assessor.id, grade, by_hand.comment or "")


def practice_plot(practice: Practice, book: Rulebook) -> str:
    """For each criterion the share of its marks that was lost, as SVG with presentation attributes alone."""
    messages = messages_of(book)
    bottom = _TOP + _ROW * len(practice.rows)
    parts: list[Node] = [label(messages.say("practice.plot"), _MARGIN, 22, size=13, bold=True)]
    for tick in _TICKS:
        x = _LEFT + (_RIGHT - _LEFT) * tick / _PERCENT
        parts.append(line((x, _TOP - 6), (x, bottom), stroke=_GRID, stroke_width=HAIR))
        parts.append(label(messages.say("practice.percent", share=tick), x, bottom + 14, anchor="middle", fill=UNSEEN))
    said = []
    for number, row in enumerate(practice.rows):
        y = _TOP + _ROW * (number + 0.5)
        width = (_RIGHT - _LEFT) * row.lost / _PERCENT
        share = messages.say("practice.percent", share=f"{row.lost:.0f}")
        parts.append(label(row.title, _LEFT - _MARGIN, y + 4, anchor="end", size=11))
        parts.append(
            node("rect", x=_LEFT, y=y - _BAR / 2, width=width, height=_BAR, fill=_SHADE, stroke=INK, stroke_width=HAIR)
        )
        parts.append(label(share, _LEFT + width + 6, y + 4))
        said.append(messages.say("practice.said", title=row.title, share=share))
    height = bottom + 24
    return written(
        node(
            "svg",
            node("title", messages.say("practice.plot")),
            node("desc", " ".join(said)),
            node("rect", x=0, y=0, width=_WIDTH, height=height, fill=PAPER),
            node("g", *parts, font_family=FACE),
            xmlns="http://www.w3.org/2000/svg",
            viewBox=f"0 0 {_WIDTH:g} {height:g}",
            role="img",
        )
    )
