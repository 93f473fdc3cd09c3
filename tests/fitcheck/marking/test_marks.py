"""Marks of one foot and of a visit, against sums done by hand.

The scheme of the shipped book: heel fit 22, toe fit 14, levelness 20, nails 20, clinches 10, scorch 8, finish 6; a
minor finding takes a tenth of its criterion, a major one half.
"""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest

from fitcheck.assessment.assess import assess
from fitcheck.assessment.models import Assessment, Finding
from fitcheck.errors import BadInput
from fitcheck.explanation.explain import explain
from fitcheck.fitting.models import Fitting
from fitcheck.marking import mark_of, sheet_of_visit
from fitcheck.marking.sheet import CriterionMark, MarkSheet, VisitSheet
from fitcheck.pairs.visit import Assessed, visit_of
from rules import load_rulebook, marking_of
from tests.support.marked import BOOK, assessed, finding, overridden
from tests.support.yard_books import IDENTITY, yard_folder

OURS = 'status = "own choice"\nsources = ["own"]\nbasis = "So it is marked in this yard."\n'


def criterion(sheet: MarkSheet, name: str) -> CriterionMark:
    return next(each for each in sheet.tool.criteria if each.criterion == name)


HEELS = (
    finding("heel_fit", "major", "medial_heel"),
    finding("heel_fit", "major", "lateral_heel"),
)
BOTH = finding(
    "heel_fit",
    "major",
    rule="heels-both-tight",
    on=("heel-width-tight@medial_heel", "heel-width-tight@lateral_heel", "overhang@toe"),
)

WORKED: dict[str, tuple[tuple[Finding, ...], float, str]] = {
    "nothing found": ((), 100.0, "clean work"),
    "one minor at a heel: a tenth of 22": ((finding("heel_fit", "minor", "medial_heel"),), 97.8, "clean work"),
    "one major at the toe: half of 14": ((finding("toe_fit", "major", "toe"),), 93.0, "good work"),
    "both: 2.2 and 7 off": (
        (finding("heel_fit", "minor", "medial_heel"), finding("toe_fit", "major", "toe")),
        90.8,
        "good work",
    ),
    "three low nails: 3 x 2 off": (
        tuple(finding("nails", "minor", f"nail:medial:{hole}") for hole in (1, 2, 3)),
        94.0,
        "clean work",
    ),
    "two majors at the heels take all of 22": (HEELS, 78.0, "good work"),
    "more cannot be taken than there is": ((*HEELS, finding("heel_fit", "minor", "foot")), 78.0, "good work"),
    "two tight heels and the finding that joins them are one fault": ((*HEELS, BOTH), 78.0, "good work"),
    "heels, seat and nails: 22, 10 and 10 off": (
        (*HEELS, finding("levelness", "major", "toe"), finding("nails", "major", "nail:medial:1")),
        58.0,
        "more practice",
    ),
    "heels, seat and half the nails and toe: 22, 20, 10 and 7 off": (
        (
            *HEELS,
            finding("levelness", "major", "toe"),
            finding("levelness", "major", "medial_heel"),
            finding("nails", "major", "nail:medial:1"),
            finding("toe_fit", "major", "toe"),
        ),
        41.0,
        "not yet",
    ),
    "a late visit takes nothing": ((finding("history", "major", rule="interval-overdue"),), 100.0, "clean work"),
}


@pytest.mark.parametrize(("findings", "mark", "band"), WORKED.values(), ids=WORKED)
def test_a_sheet_comes_to_what_was_reckoned_by_hand(findings: tuple[Finding, ...], mark: float, band: str) -> None:
    tally = mark_of(assessed(*findings), BOOK).tool
    assert (tally.state, tally.mark, tally.of, tally.percent) == ("whole", mark, 100.0, mark)
    assert tally.band is not None
    assert tally.band.title == band
    assert tally.say == f"{mark:g} of 100: {band}."
    assert sum(each.mark for each in tally.criteria if each.mark is not None) == pytest.approx(mark)


JOINED: dict[str, tuple[tuple[Finding, ...], list[str], float]] = {
    "a joined finding graver than what it rests on takes its place": (
        (
            finding("clinches", "minor", "nail:medial:1", rule="clinch-thin"),
            finding("clinches", "minor", "nail:medial:2", rule="clinch-thin"),
            finding("nails", "minor", "nail:medial:1"),
            finding(
                "clinches",
                "major",
                rule="shoe-likely-lost",
                on=("nail-low@nail:medial:1", "clinch-thin@nail:medial:1", "clinch-thin@nail:medial:2"),
            ),
        ),
        ["shoe-likely-lost@foot"],
        5.0,
    ),
    "what it rests on takes the place of a joined finding that takes less": (
        (*HEELS, BOTH),
        ["heel-width-tight@lateral_heel", "heel-width-tight@medial_heel"],
        22.0,
    ),
    "two joined findings on the same two faults are no third and fourth fault": (
        (
            *HEELS,
            BOTH,
            finding("heel_fit", "major", rule="heels-contraction-risk", on=("heel-width-tight@medial_heel",)),
        ),
        ["heel-width-tight@lateral_heel", "heel-width-tight@medial_heel"],
        22.0,
    ),
    "what a joined finding replaces is one fault with it": (
        (
            finding("levelness", "minor", "toe"),
            finding("levelness", "minor", rule="shoe-rocks"),
            finding("levelness", "major", rule="foot-unlevel", on=("shoe-rocks@foot", "imprint-low@foot")),
        ),
        ["foot-unlevel@foot"],
        10.0,
    ),
    "a finding apart from the joined one is counted besides": (
        (
            finding("clinches", "minor", "nail:medial:1", rule="clinch-thin"),
            finding("clinches", "minor", "nail:lateral:1", rule="clinch-thin"),
            finding("clinches", "major", rule="shoe-likely-lost", on=("clinch-thin@nail:medial:1",)),
        ),
        ["clinch-thin@nail:lateral:1", "shoe-likely-lost@foot"],
        6.0,
    ),
}


@pytest.mark.parametrize(("findings", "counted", "off"), JOINED.values(), ids=JOINED)
def test_a_fault_is_never_counted_twice(findings: tuple[Finding, ...], counted: list[str], off: float) -> None:
    sheet = mark_of(assessed(*findings), BOOK)
    owner = criterion(sheet, findings[0].criterion)
    assert sorted(each.finding for each in owner.findings if each.counted) == counted
    assert owner.taken_off == off
    for each in owner.findings:
        assert each.counted or each.why.startswith("One fault with ")
        assert each.counted or each.takes == 0


def test_faults_of_one_joined_finding_in_two_criteria_take_off_each_in_its_own() -> None:
    """By hand: two majors at the heels take 22; the toe set back takes 7, the shoe too small nothing more."""
    toe = finding("toe_fit", "major", "toe", rule="toe-set-back-far")
    small = finding("toe_fit", "major", rule="shoe-too-small", on=(*(each.id for each in HEELS), toe.id))
    sheet = mark_of(assessed(*HEELS, toe, small), BOOK)
    assert (criterion(sheet, "heel_fit").mark, criterion(sheet, "toe_fit").mark) == (0.0, 7.0)
    assert sheet.tool.mark == 71.0


def test_a_critical_finding_leaves_no_mark_whatever_else_was_found() -> None:
    flinch = finding("nails", "critical", "nail:medial:2", rule="nail-flinch")
    sheet = mark_of(assessed(*HEELS, flinch, decision="stop_and_refer", without="finish"), BOOK)
    tally = sheet.tool
    assert (tally.state, tally.mark, tally.percent, tally.band, tally.so_far) == ("stopped", None, None, None, None)
    assert tally.stopped_by == ("nail-flinch@nail:medial:2",)
    assert "No mark" in tally.say
    assert "nail-flinch@nail:medial:2" in tally.say
    assert all(each.mark is None for each in tally.criteria)
    assert marking_of(BOOK).says["stop_stays"].text in sheet.says


def test_a_critical_finding_stops_the_mark_where_its_criterion_has_no_marks_either() -> None:
    lame = finding("soundness", "critical", rule="trot-lame")
    assert mark_of(assessed(lame, decision="stop_and_refer"), BOOK).tool.state == "stopped"


def test_what_was_not_observed_leaves_no_whole_mark_and_counts_neither_way() -> None:
    """By hand: without finish (6) 94 can be had; 7 are off at the toe."""
    tally = mark_of(assessed(finding("toe_fit", "major", "toe"), without="finish"), BOOK).tool
    assert (tally.state, tally.mark, tally.percent, tally.band) == ("incomplete", None, None, None)
    assert (tally.so_far, tally.so_far_of, tally.of) == (87.0, 94.0, 100.0)
    assert [(each.criterion, each.field) for each in tally.missing] == [("finish", "observations.finish.hand")]
    assert "So far 87 of 94, out of 100 in all. Missing: finish." in tally.say


def test_a_required_criterion_without_marks_is_missed_too() -> None:
    tally = mark_of(assessed(without="soundness"), BOOK).tool
    assert (tally.state, tally.so_far, tally.so_far_of) == ("incomplete", 100.0, 100.0)
    assert [each.criterion for each in tally.missing] == ["soundness"]


@pytest.mark.parametrize(
    ("edits", "of"),
    [
        ({"stage": "finished"}, 100.0),
        ({"fitted": "cold"}, 92.0),
        ({"stage": "nailed"}, 76.0),
        ({"stage": "hot_fit"}, 64.0),
    ],
    ids=["finished", "finished cold: no scorch", "nailed: heel, toe, seat, nails", "hot: heel, toe, seat, scorch"],
)
def test_each_stage_has_the_marks_of_what_it_requires(edits: dict[str, str], of: float) -> None:
    tally = mark_of(assessed(**edits), BOOK).tool
    assert (tally.mark, tally.of, tally.percent) == (of, of, 100.0)


def test_what_a_stage_does_not_require_is_shown_and_not_marked() -> None:
    sheet = mark_of(assessed(finding("finish", "major"), stage="nailed"), BOOK)
    found = criterion(sheet, "finish")
    assert (found.standing, found.mark, found.of) == ("unmarked", None, 0.0)
    assert found.findings[0].why == "Not counted. This stage does not require it: it is not marked."
    assert sheet.tool.mark == 76.0


def test_a_band_begins_at_its_own_mark() -> None:
    """By hand: 11, 7, 4 and 3 off leave 75; a thin clinch takes 1 more."""
    off = [finding("heel_fit", "major", "medial_heel"), finding("toe_fit", "major", "toe")]
    at_75 = mark_of(
        assessed(*off, finding("scorch", "major", rule="imprint-poor"), finding("finish", "major")), BOOK
    ).tool
    assert (at_75.mark, at_75.band and at_75.band.name) == (75.0, "good")
    below = mark_of(
        assessed(
            *off,
            finding("scorch", "major", rule="imprint-poor"),
            finding("finish", "major"),
            finding("clinches", "minor", "nail:medial:1", rule="clinch-thin"),
        ),
        BOOK,
    ).tool
    assert (below.mark, below.band and below.band.name) == (74.0, "practice")


def test_an_assessment_and_its_explanation_are_marked_alike(root: Path) -> None:
    for path in sorted((root / "cases_demo").glob("*.json")):
        if path.name.endswith(".answer.json"):
            continue
        raw = json.loads(path.read_text(encoding="utf-8"))
        fitting = Fitting.model_validate(raw, context={"book": BOOK})
        plain = assess(fitting, BOOK)
        explained = explain(fitting, BOOK).model_copy(update={"id": plain.id, "created": plain.created})
        sheet = mark_of(plain, BOOK)
        assert mark_of(explained, BOOK) == sheet
        state = {"stop_and_refer": "stopped", "incomplete": "incomplete"}.get(plain.decision)
        assert state is None or sheet.tool.state == state
        assert sheet.tool.state != "whole" or not plain.still_needed
        assert MarkSheet.model_validate_json(sheet.model_dump_json()) == sheet


def test_a_clean_band_never_stands_beside_something_to_put_right(root: Path) -> None:
    for path in sorted((root / "cases_demo").glob("*.json")):
        if not path.name.endswith(".answer.json"):
            said = assess(
                Fitting.model_validate(json.loads(path.read_text(encoding="utf-8")), context={"book": BOOK}), BOOK
            )
            band = mark_of(said, BOOK).tool.band
            assert band is None or band.name != "clean" or said.decision != "put_right"


def test_a_finding_on_a_criterion_that_the_book_lacks_is_not_marked() -> None:
    other = finding("heel_fit", "minor").model_copy(update={"criterion": "gait"})
    with pytest.raises(BadInput, match="has this criterion"):
        mark_of(assessed(other), BOOK)


def test_a_yard_marks_by_its_own_scheme(tmp_path: Path) -> None:
    """By hand: heels 26 and toe 2 instead of 18 and 10; a major takes 40 %: 10.4 off the 82 that were looked at."""
    book = load_rulebook(
        yard_folder(
            tmp_path,
            IDENTITY,
            marking=f"[marks.heel_fit]\nmarks = 26\n{OURS}[marks.toe_fit]\nmarks = 2\n{OURS}"
            f"[deductions.major]\npercent = 40\n{OURS}[bands.good]\ntitle = 'good'\n",
        )
    )
    sheet = mark_of(assessed(HEELS[0]), book)
    # The clips, 3, were not looked at: the first rulebook, which judged, has no criterion for them.
    assert (sheet.tool.so_far, sheet.tool.so_far_of) == (71.6, 82.0)
    assert sheet.marked_by.id == "low-meadow"
    assert sheet.judged_by.id == "shipped"


# A visit.


def visited(good: dict[str, Any], **feet: dict[str, Any]) -> tuple[VisitSheet, dict[str, Assessment]]:
    """The sheet of a visit with these feet, each the good one with some keys changed, and its assessments."""
    seen = []
    for foot, edits in feet.items():
        fitting = Fitting.model_validate({**copy.deepcopy(good), "foot": foot, **edits})
        seen.append((fitting, assess(fitting, BOOK)))
    said = {assessment.id: assessment for _, assessment in seen}
    return sheet_of_visit(visit_of(Assessed(*each) for each in seen), said, BOOK), said


def test_two_good_feet_and_their_pair_add_up(good: dict[str, Any]) -> None:
    sheet, _ = visited(good, left_fore={}, right_fore={})
    assert (sheet.tally.mark, sheet.tally.of, sheet.tally.percent) == (220.0, 220.0, 100.0)
    assert [pair.tally.mark if pair.tally else None for pair in sheet.pairs] == [20.0, None]
    assert sheet.feet_missing == ("left_hind", "right_hind")
    assert sheet.pairs[1].say.startswith("Not marked.")


def test_a_fault_of_the_pair_comes_off_the_pair(good: dict[str, Any]) -> None:
    """By hand: the wall of one foot is 13 mm higher, a major finding: 10 of the pair's 20 off."""
    higher = {"hoof": {"wall_thickness": 12, "sole_thickness": 11, "wall_height": 108}}
    sheet, _ = visited(good, left_fore={}, right_fore=higher)
    assert sheet.decision == "put_right"
    assert (sheet.tally.mark, sheet.tally.of) == (210.0, 220.0)
    assert sheet.tally.band is not None
    assert sheet.tally.band.name == "good"


def test_one_stopped_foot_leaves_the_visit_without_a_mark(good: dict[str, Any]) -> None:
    lame = {"observations": {**good["observations"], "soundness": {"trot_up": "lame"}}}
    unknown = {"observations": {**good["observations"], "soundness": None}}
    sheet, _ = visited(good, left_fore={}, left_hind=lame, right_hind=unknown)
    assert (sheet.tally.state, sheet.tally.mark, sheet.tally.band) == ("stopped", None, None)
    assert (sheet.tally.stopped_by, sheet.tally.incomplete) == (("left_hind",), ("right_hind",))
    assert [foot.tool.state for foot in sheet.feet] == ["whole", "stopped", "incomplete"]


def test_an_incomplete_foot_leaves_the_visit_incomplete_and_an_empty_one_too(good: dict[str, Any]) -> None:
    unknown = {"observations": {**good["observations"], "soundness": None}}
    sheet, _ = visited(good, left_fore={}, right_hind=unknown)
    assert (sheet.tally.state, sheet.tally.mark, sheet.tally.incomplete) == ("incomplete", None, ("right_hind",))
    empty, _ = visited(good)
    assert (empty.tally.state, empty.tally.say) == ("incomplete", "No mark: no foot was seen.")


def test_an_override_of_one_foot_counts_in_the_visit(good: dict[str, Any]) -> None:
    sheet, said = visited(good, left_fore={})
    (one,) = said.values()
    override = overridden(one, {"what": "set_mark", "criterion": "finish", "mark": 4.5})
    fitting = Fitting.model_validate({**good, "foot": "left_fore"})
    again = sheet_of_visit(visit_of([Assessed(fitting, one)]), said, BOOK, [override])
    assert (sheet.tally.mark, again.tally.mark) == (100.0, 98.5)


def test_a_visit_needs_the_assessments_that_it_counts(good: dict[str, Any]) -> None:
    fitting = Fitting.model_validate(good)
    with pytest.raises(BadInput, match="Give it with its id"):
        sheet_of_visit(visit_of([Assessed(fitting, assess(fitting, BOOK))]), {}, BOOK)
