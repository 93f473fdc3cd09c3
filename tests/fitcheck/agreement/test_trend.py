"""The share of good criteria over time, with an interval that is honest for small numbers."""

from __future__ import annotations

from datetime import date

import pytest

from fitcheck.agreement import Dated, Judgement, Subject, progress, progress_sentences
from fitcheck.agreement.judgement import JudgedGrade
from fitcheck.agreement.proportion import clustered_share

CRITERIA = ("heel_fit", "toe_fit", "nails", "clinches")


def worked(day: str, *grades: JudgedGrade | None, horse: str = "H-001") -> Dated:
    judgement = Judgement("S-1", Subject(horse, "left_fore", day), dict(zip(CRITERIA, grades, strict=True)))
    return Dated(date.fromisoformat(day), judgement)


WORK = [
    worked("2026-04-20", "good", "good", "good", "minor"),
    worked("2026-03-04", "good", "major", "good", None),
    worked("2026-03-18", "minor", "major", "good", "good"),
    worked("2026-05-02", None, None, None, None),
]


def test_months_come_in_order_and_count_only_what_was_assessed() -> None:
    found = progress(WORK)
    assert [(span.name, span.feet, span.good.part, span.good.whole) for span in found] == [
        ("2026-03", 2, 4, 7),
        ("2026-04", 1, 3, 4),
    ]
    assert found[0].good == clustered_share([(2, 3), (2, 4)])


@pytest.mark.parametrize(("by", "names"), [("day", ["2026-03-04", "2026-03-18", "2026-04-20"]), ("year", ["2026"])])
def test_stretches_can_be_days_or_years(by: str, names: list[str]) -> None:
    assert [span.name for span in progress(WORK, by="day" if by == "day" else "year")] == names


def test_single_criteria_can_be_followed() -> None:
    found = progress(WORK, criteria=["toe_fit"])
    assert [(span.name, span.good.part, span.good.whole) for span in found] == [("2026-03", 0, 2), ("2026-04", 1, 1)]


def test_progress_is_told_only_where_the_intervals_lie_apart() -> None:
    days = [f"{month}-{day:02}" for month in ("2026-03", "2026-04") for day in range(1, 21)]
    good: list[JudgedGrade] = ["good"] * 4
    bad: list[JudgedGrade] = ["major"] * 4
    better = [worked(day, *(bad if day < "2026-04" else good)) for day in days]
    assert progress_sentences(progress(better)) == (
        "2026-03: 0 of 80 criteria good on 20 feet (0 %, 95 % interval 0 % to 17 %).",
        "2026-04: 80 of 80 criteria good on 20 feet (100 %, 95 % interval 83 % to 100 %).",
        "The last lies above the first by more than chance.",
    )
    assert progress_sentences(progress(WORK))[-1] == (
        "The intervals of the first and the last overlap: a change is not shown yet."
    )
    worse = [worked(day, *(good if day < "2026-04" else bad)) for day in days]
    assert progress_sentences(progress(worse))[-1] == "The last lies below the first by more than chance."


def test_one_stretch_or_none_shows_no_progress() -> None:
    assert progress_sentences(progress(WORK[:1]))[-1] == "One stretch of time shows no progress yet."
    assert progress_sentences(progress([])) == ("Nothing was assessed.",)
