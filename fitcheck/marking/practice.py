"""What a day's marks by hand tell an apprentice to practise, what lost most first."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from typing import Final, NamedTuple

from fitcheck.fitting.models import FittedFoot
from fitcheck.marking.by_hand import HandGrade, HandMarks
from rules import Rulebook
from rules.model.records import RANK

__all__ = ["Looked", "Practice", "PracticeRow", "Remark", "practice_of"]

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
