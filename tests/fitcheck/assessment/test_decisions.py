"""How a decision comes: what holds a foot up, what follows each stage, and what a rulebook does not judge."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from fitcheck.assessment.assess import assess
from fitcheck.assessment.models import Assessment
from fitcheck.explanation.explain import explain
from fitcheck.fitting.validation import parse_fitting
from fitcheck.marking import mark_of
from fitcheck.pairs import pairs_of
from fitcheck.report.marks_text import render_marks
from fitcheck.report.terminal import render
from fitcheck.vocabulary import GRAVEST_FIRST
from rules import Rulebook, first_rulebook, load_rulebook, localized, shipped_rulebook
from rules.model.records import STAGES
from tests.support.yard_books import OURS, yard_folder

Changed = Callable[..., dict[str, Any]]
FIRST, SHIPPED = first_rulebook(), shipped_rulebook()


def judged(raw: dict[str, Any], book: Rulebook = SHIPPED) -> Assessment:
    return assess(parse_fitting(raw, book), book)


@pytest.fixture
def cold(changed: Changed) -> Callable[..., dict[str, Any]]:
    """The good foot on a cold trial."""

    def made(**edits: Any) -> dict[str, Any]:
        raw = changed(stage="hot_fit", hot_fitted=False, observations__scorch=..., **edits)
        raw["observations"]["levelness"]["sole_pressure"] = False
        return raw

    return made


@pytest.mark.parametrize(
    ("stage", "decision", "step"),
    [("hot_fit", "go_on", "nail_on"), ("nailed", "go_on", "clinch_and_finish"), ("finished", "release", None)],
)
def test_only_a_finished_foot_is_released_and_any_other_goes_on_to_the_next_step(
    stage: str, decision: str, step: str | None, changed: Changed
) -> None:
    assessment = judged(changed(stage=stage))
    assert (assessment.decision, assessment.next) == (decision, step)
    assert ("next" in assessment.model_dump()) == (step is not None)


@pytest.mark.parametrize("stage", ["hot_fit", "nailed", "finished"])
def test_by_the_first_rulebook_every_stage_ends_in_a_release_and_nothing_new_is_answered(
    stage: str, changed: Changed
) -> None:
    assessment = judged(changed(stage=stage, observations__heel_fit__medial__width=3.5), FIRST)
    assert assessment.decision == "release"
    assert [finding.grade for finding in assessment.findings] == ["minor"]
    answer = assessment.model_dump(mode="json")
    assert "next" not in answer
    assert "blocks" not in answer["findings"][0]


def test_findings_say_whether_they_hold_the_foot_up(changed: Changed) -> None:
    raw = changed(work="harness", observations__heel_fit__medial__width=-2, observations__heel_fit__lateral__width=3.5)
    blocks = {finding.rule: finding.blocks for finding in judged(raw).findings}
    assert (blocks["heel-width-tight"], blocks["heel-width-wide"]) == (True, False)


@pytest.mark.parametrize("stage", ["nailed", "finished"])
def test_a_major_finding_that_does_not_block_is_told_and_lets_the_foot_pass(
    stage: str, changed: Changed, tmp_path: Path
) -> None:
    lenient = f"[rules.heel-width-tight]\nblocks = false\n{OURS}"
    book = load_rulebook(yard_folder(tmp_path, heel_fit=lenient))
    raw = changed(stage=stage, observations__heel_fit__medial__width=-2)
    assessment = judged(raw, book)
    assert [(finding.grade, finding.blocks) for finding in assessment.findings] == [("major", False)]
    assert assessment.actions
    assert assessment.decision == {"nailed": "go_on", "finished": "release"}[stage]
    told = explain(parse_fitting(raw, book), book).explanation.decision
    assert (told.decided_by, told.other_findings) == ((), ("heel-width-tight@medial_heel",))


def test_a_major_finding_of_a_pair_that_does_not_block_holds_no_visit_up(changed: Changed, tmp_path: Path) -> None:
    lenient = f"[rules.pair-branches-far-uneven]\nblocks = false\n{OURS}"
    book = load_rulebook(yard_folder(tmp_path, pair=lenient))
    long = changed(foot="right_fore", observations__heel_fit__medial__length=25)
    fore = pairs_of([parse_fitting(changed(), book), parse_fitting(long, book)], book)[0]
    assert [finding.blocks for finding in fore.findings if finding.grade == "major"] == [False]


def test_a_yards_book_inherits_which_step_follows(tmp_path: Path, changed: Changed) -> None:
    book = load_rulebook(yard_folder(tmp_path))
    assert dict(book.decisions) == dict(SHIPPED.decisions)
    assert judged(changed(stage="nailed"), book).decision == "go_on"


@pytest.mark.parametrize("book", [FIRST, SHIPPED], ids=lambda book: book.version)
def test_a_cold_trial_needs_no_imprint(cold: Changed, book: Rulebook) -> None:
    assessment = judged(cold(), book)
    assert assessment.decision == ("release" if book is FIRST else "go_on")
    assert not [line for line in assessment.not_assessed if line.startswith("scorch")]
    assert judged(cold(observations__toe_fit=...), book).decision == "incomplete"


@pytest.mark.parametrize("book", [FIRST], ids=lambda book: book.version)
@pytest.mark.parametrize("language", ["en", "de"])
def test_a_bare_foot_is_never_let_go_on_by_a_book_that_does_not_judge_it(book: Rulebook, language: str) -> None:
    raw = {"foot": "left_fore", "stage": "dressed", "work": "draught", "observations": {}, "hoof": {"wall_height": 20}}
    raw["observations"] = {"history": {"last_shod": "2025-03-04", "fitted": "2026-03-04"}}
    assessment = judged(raw, localized(book, language))
    assert (assessment.decision, assessment.findings, assessment.next) == ("incomplete", (), None)
    [needed] = assessment.still_needed
    assert (needed.criterion, needed.field) == ("stage", "stage")
    assert ("dressed" if language == "en" else "zubereitet") in needed.say
    sheet = render_marks(mark_of(assessment, localized(book, language)), title="x", language=language)
    assert ("missing: stage" if language == "en" else "fehlt: Arbeitsstand") in sheet
    assert needed.say in " ".join(render(assessment, localized(book, language), title="x", width=500).split())


@pytest.mark.parametrize("form", ["bear", "wide", "narrow"])
@pytest.mark.parametrize("book", [FIRST], ids=lambda book: book.version)
def test_a_form_without_limits_of_its_own_is_judged_as_far_as_limits_go_and_never_released(
    form: str, book: Rulebook, changed: Changed
) -> None:
    whole = judged(changed(hoof_form=form), book)
    assert (whole.decision, [needed.field for needed in whole.still_needed]) == ("incomplete", ["hoof_form"])
    bled = judged(changed(hoof_form=form, observations__nails__0__blood=True), book)
    assert bled.decision == "stop_and_refer"
    assert explain(parse_fitting(changed(hoof_form=form), book), book).decision == "incomplete"


WIDTHS: tuple[dict[str, Any], ...] = (
    {},
    {"observations__heel_fit__medial__width": 5},
    {"observations__heel_fit__lateral__width": 0.2},
)


@pytest.mark.parametrize("stance", ["base_wide", "base_narrow"])
@pytest.mark.parametrize("edits", WIDTHS)
def test_a_stance_is_judged_alike_however_it_is_sent(stance: str, edits: dict[str, Any], changed: Changed) -> None:
    found = {
        (book.version, *(finding.id for finding in judged(raw, book).findings))
        for raw in (changed(hoof_form=stance, **edits), changed(stance=stance, **edits))
        for book in (FIRST, SHIPPED)
    }
    assert len(found) == len({FIRST.version, SHIPPED.version})


def test_a_form_beside_a_stance_is_told_to_the_first_rulebook_as_the_form(changed: Changed) -> None:
    raw = changed(hoof_form="acute", stance="base_wide")
    first = explain(parse_fitting(raw, FIRST), FIRST).explanation.situation
    now = explain(parse_fitting(raw, SHIPPED), SHIPPED).explanation.situation
    assert (first.hoof_form, first.stance) == ("acute", None)
    assert (now.hoof_form, now.stance) == ("acute", "base_wide")


def test_decisions_stand_in_order_of_gravity() -> None:
    assert GRAVEST_FIRST == ("stop_and_refer", "put_right", "incomplete", "go_on", "release")


def test_stages_stand_in_order_of_the_work() -> None:
    assert STAGES == ("dressed", "hot_fit", "nailed", "finished")
