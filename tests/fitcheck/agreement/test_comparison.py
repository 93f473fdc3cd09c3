"""Two raters held against each other; invented feet of the Low Meadow yard."""

from __future__ import annotations

import doctest
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitcheck.agreement import (
    GRADES,
    TOOL,
    Comparison,
    Judgement,
    Kappa,
    NotComputed,
    Share,
    Subject,
    compare,
    every_pair,
    judgement_of,
    most_disagreed,
    numbers_compared,
    overriding,
    share,
)
from fitcheck.agreement.comparison import OnCriterion
from fitcheck.agreement.judgement import JudgedGrade
from fitcheck.agreement.outcome import Interval
from fitcheck.assessment.assess import assess
from fitcheck.assessment.models import Assessment
from fitcheck.errors import BadInput
from fitcheck.fitting.models import Fitting

Grades = dict[str, JudgedGrade | None]
APPRENTICE, ASSESSOR = "A-3", "S-1"


def foot(number: int) -> Subject:
    return Subject(f"H-{number:03}", "left_fore", "2026-03-04")


def judged(rater: str, *grades: Grades) -> list[Judgement]:
    return [Judgement(rater, foot(number), each) for number, each in enumerate(grades)]


def on(found: Comparison, criterion: str) -> OnCriterion:
    each = found.on(criterion)
    assert each is not None
    return each


def assessed(root: Path, case: str) -> Assessment:
    raw = (root / "cases_demo" / f"{case}.json").read_text(encoding="utf-8")
    return assess(Fitting.model_validate(json.loads(raw)))


# A judgement from an assessment.


def test_a_criterion_has_the_worst_grade_of_its_findings_joined_ones_included(root: Path) -> None:
    assessment = assessed(root, "high-nail-thin-wall")
    found = judgement_of(assessment, rater=TOOL, horse="H-017", visit="2026-03-04")
    assert found.grades["nails"] == "critical"
    assert found.grades["heel_fit"] == "good"
    assert found.subject == Subject("H-017", assessment.foot, "2026-03-04", "nailed")


def test_what_is_missing_is_not_good(root: Path) -> None:
    found = judgement_of(assessed(root, "incomplete"), rater=TOOL, horse="H-017", visit="V")
    assert "going" in found.grades
    assert found.grades["going"] is None
    assert found.grades["clinches"] is None, "one clinch was not looked at"
    assert found.grades["nails"] == "good"


def test_a_good_foot_is_judged_good_with_the_numbers_that_were_read(good: dict[str, Any]) -> None:
    assessment = assess(Fitting.model_validate(good))
    found = judgement_of(assessment, rater=TOOL, horse="H-017", visit="V")
    assert found.grades["shoe"] is None, "the shoe itself was not looked at, and is not required"
    assert {grade for name, grade in found.grades.items() if name != "shoe"} == {"good"}
    (length,) = [one.value for one in assessment.measurements if (one.quantity, one.place) == ("length", "medial_heel")]
    assert found.readings["length@medial_heel"] == length


def test_a_grade_that_is_none_and_a_number_that_is_none_are_refused() -> None:
    with pytest.raises(BadInput, match=r"grades\.nails: .*good, minor, major, critical or none"):
        Judgement(ASSESSOR, foot(1), {"nails": "fair"})  # type: ignore[dict-item]  # the fault under test
    with pytest.raises(BadInput, match=r"marks\.nails: .*a finite number"):
        Judgement(ASSESSOR, foot(1), {}, marks={"nails": float("nan")})


def test_an_override_changes_only_what_it_names() -> None:
    (tools,) = judged(TOOL, {"nails": "major", "finish": "good"})
    found = overriding(tools, rater=ASSESSOR, grades={"nails": "minor"})
    assert (found.rater, found.subject) == (ASSESSOR, tools.subject)
    assert found.grades == {"nails": "minor", "finish": "good"}
    assert tools.grades["nails"] == "major"


# Two raters.


def test_only_what_both_judged_counts_and_the_rest_is_counted_apart() -> None:
    judgements = [
        *judged(APPRENTICE, {"nails": "good"}, {"nails": None}, {"nails": "minor"}, {"nails": "good"}),
        *judged(ASSESSOR, {"nails": "good"}, {"nails": "major"}, {"nails": "major"}),
        Judgement(ASSESSOR, foot(9), {"nails": "good"}),
    ]
    found = compare(judgements, APPRENTICE, ASSESSOR)
    assert (found.subjects, found.only_first, found.only_second) == (3, 1, 1)
    nails = on(found, "nails")
    assert (nails.judged, nails.only_first, nails.only_second) == (2, 0, 1)
    assert (nails.first_graver, nails.second_graver) == (0, 1)
    assert nails.same == share(1, 2)
    assert found.on("levelness") is None


def test_differences_name_foot_and_both_grades_the_widest_apart_first() -> None:
    judgements = [
        *judged(APPRENTICE, {"nails": "good", "finish": "major"}, {"nails": "good", "finish": "good"}),
        *judged(ASSESSOR, {"nails": "minor", "finish": "major"}, {"nails": "critical", "finish": "good"}),
    ]
    found = compare(judgements, APPRENTICE, ASSESSOR).differences
    told = [(each.subject, each.criterion, each.first, each.second, each.steps) for each in found]
    assert told == [(foot(1), "nails", "good", "critical", 3), (foot(0), "nails", "good", "minor", 1)]


def test_the_worst_grade_of_a_foot_is_taken_over_what_both_judged() -> None:
    judgements = [
        *judged(APPRENTICE, {"nails": "good", "finish": "major", "history": "critical"}),
        *judged(ASSESSOR, {"nails": "major", "finish": "good", "history": None}),
    ]
    found = compare(judgements, APPRENTICE, ASSESSOR)
    assert found.worst.same == share(1, 1), "major and major, on different criteria"
    assert isinstance(found.grades, Share)
    assert (found.grades.part, found.grades.whole, found.grades.counted_as) == (0, 2, 1)


def test_criteria_stand_by_the_share_of_feet_on_which_the_two_differ() -> None:
    all_good: Grades = {"finish": "good", "nails": "good", "scorch": "good", "history": None}
    judgements = [
        *judged(APPRENTICE, *[all_good] * 4),
        *judged(
            ASSESSOR,
            {"finish": "minor", "nails": "major", "scorch": "good", "history": "good"},
            {"finish": None, "nails": "good", "scorch": "good", "history": "good"},
            {"finish": "good", "nails": "good", "scorch": "good", "history": "good"},
            {"finish": None, "nails": "good", "scorch": "good", "history": "good"},
        ),
    ]
    ranked = most_disagreed(compare(judgements, APPRENTICE, ASSESSOR))
    assert [each.criterion for each in ranked] == ["finish", "nails", "scorch"]
    assert [each.different for each in ranked] == [share(1, 2), share(1, 4), share(0, 4)]


def test_raters_who_share_no_foot_are_told_so() -> None:
    judgements = [*judged(APPRENTICE, {"nails": "good"}), Judgement(ASSESSOR, foot(9), {"nails": "good"})]
    found = compare(judgements, APPRENTICE, ASSESSOR)
    assert (found.subjects, found.criteria, found.differences) == (0, (), ())
    assert found.worst.same == NotComputed("no_common_foot")
    assert isinstance(found.grades, NotComputed)
    assert every_pair(judgements) == ()


def test_one_rater_has_nobody_to_agree_with_and_a_foot_judged_twice_is_not_counted_twice() -> None:
    once = judged(APPRENTICE, {"nails": "good"})
    with pytest.raises(BadInput, match="two different raters"):
        compare(once, APPRENTICE, APPRENTICE)
    with pytest.raises(BadInput, match=r"A-3 judged this foot twice"):
        compare([*once, *once], APPRENTICE, ASSESSOR)


def test_every_two_raters_with_a_foot_in_common_are_compared_once() -> None:
    judgements = [
        *judged(APPRENTICE, {"nails": "good"}),
        *judged(TOOL, {"nails": "good"}),
        *judged(ASSESSOR, {"nails": "minor"}),
        Judgement("S-2", foot(9), {"nails": "good"}),
    ]
    pairs = [(each.first, each.second) for each in every_pair(judgements)]
    assert pairs == [(APPRENTICE, TOOL), (APPRENTICE, ASSESSOR), (TOOL, ASSESSOR)]


GIVEN = st.lists(
    st.tuples(*[st.dictionaries(st.sampled_from(["nails", "finish"]), st.sampled_from([*GRADES, None]))] * 2),
    max_size=8,
)


@given(GIVEN)
def test_which_rater_is_named_first_turns_only_the_sides(pairs: list[tuple[Grades, Grades]]) -> None:
    judgements = [*judged(APPRENTICE, *[one for one, _ in pairs]), *judged(ASSESSOR, *[two for _, two in pairs])]
    there, back = compare(judgements, APPRENTICE, ASSESSOR), compare(judgements, ASSESSOR, APPRENTICE)
    assert there.grades == back.grades
    assert {(each.criterion, each.same, each.second_graver, each.only_first) for each in there.criteria} == {
        (each.criterion, each.same, each.first_graver, each.only_second) for each in back.criteria
    }
    for one in there.criteria:
        for weights, kappa in one.kappas.items():
            other = on(back, one.criterion).kappas[weights]
            if isinstance(kappa, Kappa):
                assert isinstance(other, Kappa)
                assert other.value == pytest.approx(kappa.value, abs=1e-12)
            else:
                assert other == kappa
    assert {(each.subject, each.criterion, each.steps) for each in there.differences} == {
        (each.subject, each.criterion, -each.steps) for each in back.differences
    }


# Numbers.


def _read(rater: str, *lengths: float | None) -> list[Judgement]:
    return [
        Judgement(rater, foot(number), {}, {"length@toe": length} if length is not None else {}, {"nails": 7.0})
        for number, length in enumerate(lengths)
    ]


def test_a_reading_that_one_rater_lacks_leaves_its_foot_out() -> None:
    judgements = [*_read(APPRENTICE, 10, 12, None, None, 15), *_read(ASSESSOR, 11, 12, 13, None, 15)]
    (found,) = numbers_compared(judgements, [APPRENTICE, ASSESSOR])
    assert (found.name, found.raters, found.subjects, found.left_out) == ("length@toe", (APPRENTICE, ASSESSOR), 3, 1)
    (alone,) = numbers_compared(_read(APPRENTICE, 10, 12), [APPRENTICE])
    assert alone.forms == NotComputed("one_rater")


def test_marks_are_compared_apart_from_readings() -> None:
    judgements = [*_read(APPRENTICE, 10, 12), *_read(ASSESSOR, 11, 12)]
    (found,) = numbers_compared(judgements, [APPRENTICE, ASSESSOR], "marks")
    assert found.name == "nails"
    assert isinstance(found.forms, NotComputed)
    assert "every number is the same" in found.forms.why


def test_intervals_overlap_when_some_value_lies_in_both() -> None:
    assert Interval(0.1, 0.4).overlaps(Interval(0.4, 0.5))
    assert not Interval(0.1, 0.4).overlaps(Interval(0.41, 0.5))
    assert not Interval(0.41, 0.5).overlaps(Interval(0.1, 0.4))


def test_the_page_on_agreement_shows_what_really_comes_out(root: Path) -> None:
    page = root / "docs" / "agreement.md"
    done = doctest.testfile(str(page), module_relative=False)
    assert (done.failed, done.attempted) == (0, 9)


# Weight.

IMPORTS = """
import sys, fitcheck.assessment.assess
before = "fitcheck.agreement" in sys.modules
import fitcheck.agreement
print(before, *[name for name in ("numpy", "scipy", "pandas", "statsmodels") if name in sys.modules])
"""


def test_assessing_never_imports_agreement_and_agreement_imports_no_heavy_library(root: Path) -> None:
    command = [sys.executable, "-c", IMPORTS]
    done = subprocess.run(command, cwd=root, capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False"]
