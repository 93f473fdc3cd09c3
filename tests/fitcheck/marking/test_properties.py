"""What holds of every sheet of marks, over random findings and overrides."""

from __future__ import annotations

from fractions import Fraction
from itertools import combinations

from hypothesis import given, settings
from hypothesis import strategies as st

from fitcheck.assessment.models import Finding
from fitcheck.marking import Override, mark_of
from fitcheck.marking.deductions import count, found_among
from fitcheck.marking.sheet import Tally
from rules import marking_of
from rules.model.records import RANK, Grade
from tests.support.marked import BOOK, SINGLES, assessed, finding, overridden

GRADES: tuple[Grade, ...] = ("minor", "minor", "major", "major", "critical")
PLACES = ("toe", "medial_heel", "lateral_heel", "foot", "nail:medial:1", "nail:lateral:2")
BANDS = [name for name, _ in reversed(marking_of(BOOK).best_first)]


@st.composite
def findings(draw: st.DrawFn, grades: tuple[Grade, ...] = GRADES) -> list[Finding]:
    """Single findings, and joined ones that rest on any of them or on each other, each id once."""
    made: dict[str, Finding] = {}
    for _ in range(draw(st.integers(0, 7))):
        criterion = draw(st.sampled_from(sorted(SINGLES)))
        one = finding(criterion, draw(st.sampled_from(grades)), draw(st.sampled_from(PLACES)))
        made.setdefault(one.id, one)
    for number in range(draw(st.integers(0, 3)) if made else 0):
        on = draw(st.lists(st.sampled_from(sorted(made)), min_size=1, max_size=3, unique=True))
        criterion = made[on[0]].criterion
        one = finding(criterion, draw(st.sampled_from(grades)), rule=f"joined-{number}", on=tuple(on))
        made[one.id] = one
    return list(made.values())


def rank(tally: Tally) -> tuple[int, float, int]:
    """How good a reckoning is: stopped below everything else."""
    if tally.state == "stopped":
        return 0, 0.0, 0
    mark = tally.mark if tally.mark is not None else tally.so_far
    return 1, mark or 0.0, BANDS.index(tally.band.name) if tally.band else 0


@settings(max_examples=300, deadline=None)
@given(findings(), st.sampled_from([{}, {"without": "finish"}, {"stage": "hot_fit"}]), st.data())
def test_more_findings_never_raise_the_mark(all_of: list[Finding], edits: dict[str, str], data: st.DataObject) -> None:
    fewer = data.draw(st.lists(st.sampled_from(all_of), unique_by=lambda each: each.id)) if all_of else []
    assert rank(mark_of(assessed(*all_of, **edits), BOOK).tool) <= rank(mark_of(assessed(*fewer, **edits), BOOK).tool)


@settings(max_examples=200, deadline=None)
@given(findings(), st.data())
def test_the_order_of_findings_does_not_matter(all_of: list[Finding], data: st.DataObject) -> None:
    one = mark_of(assessed(*all_of), BOOK).tool
    other = mark_of(assessed(*data.draw(st.permutations(all_of))), BOOK).tool
    assert (one.mark, one.state, one.band, sorted(one.stopped_by)) == (
        other.mark,
        other.state,
        other.band,
        sorted(other.stopped_by),
    )
    for mine in one.criteria:
        theirs = next(each for each in other.criteria if each.criterion == mine.criterion)
        assert (mine.mark, mine.taken_off) == (theirs.mark, theirs.taken_off)
        assert {each.finding: each.takes for each in mine.findings} == {
            each.finding: each.takes for each in theirs.findings
        }


@settings(max_examples=200, deadline=None)
@given(findings(grades=("minor", "major")))
def test_what_is_counted_is_the_dearest_way_without_a_fault_twice(all_of: list[Finding]) -> None:
    """Against every subset, tried one by one, in fractions."""
    found = found_among(all_of, BOOK)
    for criterion in SINGLES:
        here = [each for each in found.values() if each.criterion == criterion]
        marks = marking_of(BOOK).marks[criterion].marks
        best = Fraction(0)
        for size in range(len(here) + 1):
            for chosen in combinations(here, size):
                if not any(one.id in other.parts for one in chosen for other in chosen):
                    shares = (Fraction(marking_of(BOOK).deductions[each.grade].percent, 100) for each in chosen)
                    best = max(best, sum(shares, Fraction(0)) * marks)
        assert Fraction(count(here, marks, BOOK).taken, 100) == min(best, Fraction(marks))


def test_many_joined_findings_on_one_part_are_counted_at_once() -> None:
    """By hand: forty times 10 of nails' 20 are more than there is; tried one by one it would never end."""
    low = finding("nails", "minor", "nail:medial:1")
    joined = [finding("nails", "major", f"nail:lateral:{at}", rule="joined", on=(low.id,)) for at in range(1, 41)]
    (nails,) = (each for each in mark_of(assessed(low, *joined), BOOK).tool.criteria if each.criterion == "nails")
    assert sum(each.takes for each in nails.findings) == 400
    assert (nails.mark, nails.taken_off) == (0.0, 20.0)


@settings(max_examples=200, deadline=None)
@given(findings())
def test_a_mark_lies_between_nought_and_the_whole_and_is_the_sum_of_its_parts(all_of: list[Finding]) -> None:
    tally = mark_of(assessed(*all_of), BOOK).tool
    assert (tally.state == "stopped") == any(each.grade == "critical" for each in all_of)
    if tally.mark is None:
        assert tally.band is None
        return
    assert 0 <= tally.mark <= tally.of
    marks = [Fraction(repr(each.mark)) for each in tally.criteria if each.mark is not None]
    assert sum(marks, Fraction(0)) == Fraction(repr(tally.mark))
    for each in tally.criteria:
        assert each.mark is None or Fraction(repr(each.mark)) + Fraction(repr(each.taken_off)) == each.of


@given(findings())
@settings(max_examples=50, deadline=None)
def test_overriding_nothing_changes_nothing(all_of: list[Finding]) -> None:
    said = assessed(*all_of)
    assert mark_of(said, BOOK, []) == mark_of(said, BOOK)
    assert mark_of(said, BOOK).assessor is None


@settings(max_examples=150, deadline=None)
@given(findings().filter(bool), st.data())
def test_overrides_count_in_the_order_in_which_they_come_whatever_their_clocks_say(
    all_of: list[Finding], data: st.DataObject
) -> None:
    said = assessed(*all_of)
    made: list[Override] = []
    for number, one in enumerate(data.draw(st.lists(st.sampled_from(all_of), min_size=1, max_size=3))):
        grade = data.draw(st.sampled_from(sorted(RANK)))
        change = {"what": data.draw(st.sampled_from(["strike", "regrade"])), "finding": one.id}
        change |= {"grade": grade} if change["what"] == "regrade" else {}
        first = one.grade if change["what"] == "strike" or grade != one.grade else None
        if first is not None:
            override = overridden(said, change)
            made.append(override.model_copy(update={"created": f"2026-03-04T10:00:0{number}.000Z"}))
    sheet = mark_of(said, BOOK, made)
    clocks = data.draw(st.permutations([override.created for override in made]))
    again = [override.model_copy(update={"created": at}) for override, at in zip(made, clocks, strict=True)]
    assert mark_of(said, BOOK, again).assessor == sheet.assessor
    assert sheet.tool == mark_of(said, BOOK).tool
    assert sheet.decision == said.decision


@settings(max_examples=150, deadline=None)
@given(findings().filter(bool), st.data())
def test_striking_a_finding_never_lowers_the_mark(all_of: list[Finding], data: st.DataObject) -> None:
    said = assessed(*all_of)
    struck = data.draw(st.lists(st.sampled_from([each.id for each in all_of]), min_size=1, unique=True))
    sheet = mark_of(said, BOOK, [overridden(said, *({"what": "strike", "finding": name} for name in struck))])
    assert sheet.assessor is not None
    assert rank(sheet.assessor) >= rank(sheet.tool)
