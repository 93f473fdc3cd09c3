"""Feet with gross faults: none goes on, and what to do about many at once makes sense to whoever has to do it."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from typing import Any, Final

import pytest

from fitcheck.assessment.assess import assess
from fitcheck.assessment.models import Assessment
from fitcheck.fitting.models import Fitting
from rules import shipped_rulebook
from tests.support.bad_feet import FAULTS, bad_feet, with_faults
from tests.support.counts import tries

SEED: Final = 1913
FEET: Final = tries(150, full=5_000)
BOOK: Final = shipped_rulebook()
ONE_FAULT: Final = [(stage, fault.path, value) for fault in FAULTS for value in fault.values for stage in fault.stages]
CODES: Final = {name for name in (*BOOK.rules, *BOOK.joined) if "-" in name}
SHAPING: Final = r"(open|bring|cut|lengthen|bed|seat|set) "
NEW_SHOE: Final = ("take a larger shoe", "bigger one", "take a new shoe", "take a shoe")


def judged(raw: dict[str, Any]) -> Assessment:
    return assess(Fitting.model_validate(raw))


@pytest.mark.parametrize("stage", ["hot_fit", "nailed", "finished"])
def test_the_foot_that_faults_are_put_on_is_good(stage: str) -> None:
    assert judged(with_faults(stage, [])).decision == ("release" if stage == "finished" else "go_on")


@pytest.mark.parametrize(("stage", "path", "value"), ONE_FAULT, ids=str)
def test_one_gross_fault_in_any_field_stops_the_foot(stage: str, path: str, value: Any) -> None:
    assert judged(with_faults(stage, [(path, value)])).decision in {"put_right", "stop_and_refer", "incomplete"}


@pytest.mark.parametrize("height", [0, 9])
def test_a_shoe_whose_nails_all_come_out_low_is_not_let_go(height: float) -> None:
    low = [(f"observations.nails.{number}.exit_height", height) for number in range(8)]
    assert judged(with_faults("nailed", low)).decision == "put_right"


def test_a_shoe_with_all_nails_in_one_branch_is_not_let_go() -> None:
    raw = with_faults("nailed", [])
    raw["observations"]["nails"] = [each for each in raw["observations"]["nails"] if each["branch"] == "lateral"]
    assert judged(raw).decision == "put_right"


@pytest.mark.parametrize("at", [0.24, None])
def test_exits_far_apart_are_found_also_where_two_nails_stand_at_one_position_or_none_says_where(
    at: float | None,
) -> None:
    edits: list[tuple[str, Any]] = [
        (f"observations.nails.{number}.exit_height", (16, 40, 16)[number]) for number in range(3)
    ]
    edits += [(f"observations.nails.{number}.position", at) for number in range(2)]
    raw = with_faults("nailed", edits)
    del raw["observations"]["nails"][3]
    assert "nails-far-uneven@medial_quarter" in {finding.id for finding in judged(raw).findings}


def named_nails(action: str) -> Iterator[str]:
    for side, holes in re.findall(r"(medial|lateral) nails? ((?:\d+|,| |and|to)+)", action.lower()):
        numbers = re.sub(r"(\d+) to (\d+)", lambda run: " ".join(map(str, range(int(run[1]), int(run[2]) + 1))), holes)
        yield from (f"{side} {number}" for number in re.findall(r"\d+", numbers))


def faults_of(assessment: Assessment) -> Iterator[str]:
    """What is wrong with the list of actions, and with any sentence."""
    actions = [action.lower() for action in assessment.actions]
    times = Counter(nail for action in actions for nail in set(named_nails(action)))
    yield from (f"{count} steps for {nail}" for nail, count in times.items() if count > 1)
    for side in ("medial", "lateral"):
        heel = [each for each in actions if f"open the {side} heel" in each or f"bring the {side} heel in" in each]
        length = [each for each in actions if f"lengthen the {side} branch" in each or f"cut the {side} heel" in each]
        nails = [
            each
            for each in actions
            if re.search(f"(open|bring) the {side} branch (in )?(at|a little at) the nails", each)
        ]
        yield from (f"several amounts for one branch: {group}" for group in (heel, length, nails) if len(group) > 1)
    toe = [each for each in actions if "bring the toe in" in each or "toe of the shoe forward" in each]
    if len(toe) > 1:
        yield f"several amounts at the toe: {toe}"
    new_shoe = [each for each in actions if any(words in each for words in NEW_SHOE) and "lengthen" not in each]
    shaping = [
        each for each in actions if re.match(r"(open|bring|cut|lengthen|bed|seat|set) ", each) and each not in new_shoe
    ]
    if new_shoe and shaping and not all("if there is no sound horn" in each for each in new_shoe):
        yield f"steps on a shoe that is to be replaced: {new_shoe} {shaping}"
    sentences = [*assessment.actions, *(assessment.notes or ())]
    sentences += [text for finding in assessment.findings for text in (finding.finding, finding.action)]
    for text in sentences:
        if "_" in text or "{" in text or any(re.search(rf"\b{code}\b", text) for code in CODES):
            yield f"a code in a sentence: {text}"
        if re.search(r"about \d+[.,]\d", text):
            yield f"an amount that nobody can set: {text}"
    if assessment.stage != "hot_fit" and any("while there is heat" in text for text in sentences):
        yield "heat that is long gone"


def test_what_to_do_about_many_faults_at_once_contradicts_nothing_and_can_be_done() -> None:
    found = Counter(
        fault for raw in bad_feet(SEED, FEET) for assessment in [judged(raw)] for fault in faults_of(assessment)
    )
    assert found.most_common(5) == []


def test_like_notes_are_one_note() -> None:
    """Six nails at 14 mm, below 5/8 in (LA 131), of which two are measured and not low."""
    low = [(f"observations.nails.{number}.exit_height", 14) for number in (0, 1, 2, 4, 5, 6)]
    assessment = judged(with_faults("nailed", low))
    assert assessment.notes is not None
    assert "6 nails low: medial 1 to 3, lateral 1 to 3." in assessment.notes


def test_like_steps_are_one_step() -> None:
    """Above 1 5/8 in (LA 131), and each far enough from the quick that none of them stops the foot."""
    edits = [(f"observations.nails.{number}.exit_height", 42.0) for number in (0, 1, 2, 5)]
    edits.append(("observations.nails.2.hole_inset", 7.0))
    actions = judged(with_faults("nailed", edits)).actions
    assert [
        action for action in actions if "nail" in action and "Draw medial nails 1 to 3 and lateral nail 2" in action
    ]


def test_a_word_of_the_eye_is_told_as_a_word_and_nobody_says_how_sure_it_is() -> None:
    assessment = judged(with_faults("hot_fit", [("observations.heel_fit.medial.width", "tight")]))
    (finding,) = [each for each in assessment.findings if each.rule == "heel-seen-tight"]
    assert (finding.confidence, finding.amount) == (None, None)
    assert finding.measured is not None
    assert (finding.measured.quantity, finding.measured.value, finding.measured.unit) == ("width", "tight", None)
    assert not any(each.quantity == "width" and each.place == "medial_heel" for each in assessment.measurements)
