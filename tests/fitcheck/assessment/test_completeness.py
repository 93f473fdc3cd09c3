"""Missing is never good: what was not observed keeps a foot from being released, and is named."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest

from fitcheck.assessment.assess import assess
from fitcheck.assessment.models import Assessment
from fitcheck.fitting.models import Fitting
from rules import shipped_rulebook
from rules.loading.translation import localized

Changed = Callable[..., dict[str, Any]]


def judged(raw: dict[str, Any]) -> Assessment:
    return assess(Fitting.model_validate(raw))


def test_the_good_foot_is_released_with_nothing_found(good: dict[str, Any]) -> None:
    assessment = judged(good)
    assert assessment.decision == "release"
    assert assessment.findings == ()
    assert assessment.actions == ()
    assert assessment.still_needed == ()


REQUIRED = {
    "the medial branch's length": "observations__heel_fit__medial__length",
    "the lateral branch's length": "observations__heel_fit__lateral__length",
    "the medial width": "observations__heel_fit__medial__width",
    "the lateral width": "observations__heel_fit__lateral__width",
    "the medial branch": "observations__heel_fit__medial",
    "all of the heel fit": "observations__heel_fit",
    "the toe's overhang": "observations__toe_fit__overhang",
    "all of the toe fit": "observations__toe_fit",
    "all gaps": "observations__levelness__gaps",
    "all of the levelness": "observations__levelness",
    "all nails": "observations__nails",
    "one nail's exit height": "observations__nails__3__exit_height",
    "one nail's sound": "observations__nails__3__sound",
    "one nail's reaction": "observations__nails__3__reaction",
    "one nail's blood": "observations__nails__3__blood",
    "one nail's clinch": "observations__nails__3__clinch",
    "one nail's head": "observations__nails__3__head",
    "the room at the frog": "observations__heel_fit__medial__frog_gap",
    "the nail line": "observations__toe_fit__lateral_overhang",
    "the sole, tried by a blade": "observations__scorch__sole_pressure",
    "the walk": "observations__going",
    "the hand's judgement": "observations__finish__hand",
    "all of the finish": "observations__finish",
    "the trot-up": "observations__soundness__trot_up",
    "all of the soundness": "observations__soundness",
    "the shoe's thickness, which the lengths are judged against": "shoe__thickness",
    "the whole shoe": "shoe",
}


@pytest.mark.parametrize("path", REQUIRED.values(), ids=[f"without {name}" for name in REQUIRED])
def test_a_finished_foot_is_not_released(path: str, changed: Changed) -> None:
    assessment = judged(changed(**{path: ...}))
    assert assessment.decision == "incomplete"
    assert assessment.still_needed
    assert assessment.not_assessed


@pytest.mark.parametrize(
    ("stage", "lacking"),
    [
        pytest.param("hot_fit", "heel_fit", id="hot fit wants heel fit"),
        pytest.param("hot_fit", "toe_fit", id="hot fit wants toe fit"),
        pytest.param("hot_fit", "levelness", id="hot fit wants levelness"),
        pytest.param("hot_fit", "scorch", id="hot fit wants scorch"),
        pytest.param("nailed", "heel_fit", id="nailed wants heel fit"),
        pytest.param("nailed", "toe_fit", id="nailed wants toe fit"),
        pytest.param("nailed", "levelness", id="nailed wants levelness"),
        pytest.param("nailed", "nails", id="nailed wants nails"),
    ],
)
def test_each_stage_requires_its_observations(stage: str, lacking: str, changed: Changed) -> None:
    whole = judged(changed(stage=stage))
    assert whole.decision == "go_on"
    assessment = judged(changed(stage=stage, **{f"observations__{lacking}": ...}))
    assert assessment.decision == "incomplete"
    assert lacking in {needed.criterion for needed in assessment.still_needed}
    assert any(name.partition(".")[0] == lacking for name in assessment.not_assessed)


@pytest.mark.parametrize("stage", ["hot_fit", "nailed"])
def test_soundness_is_not_required_before_the_end(stage: str, changed: Changed) -> None:
    assert judged(changed(stage=stage, observations__soundness=...)).decision == "go_on"


@pytest.mark.parametrize(
    ("language", "told"),
    [("en", "end of the iron. Or judge by eye: right, short"), ("de", "Oder nach Augenmaß: richtig, kurz")],
)
def test_another_way_to_observe_is_named_by_one_or(language: str, told: str, changed: Changed) -> None:
    raw = changed(observations__heel_fit={})
    needed = assess(Fitting.model_validate(raw), localized(shipped_rulebook(), language)).still_needed
    said = " ".join(each.say for each in needed)
    assert told in said
    assert not re.search("(Or|Oder): (Or|Oder)", said)


def test_rocking_must_be_looked_for_while_the_shoe_can_be_tried(changed: Changed) -> None:
    raw = changed(stage="hot_fit", observations__levelness__rocks=...)
    assert judged(raw).decision == "incomplete"


def test_a_cold_fitted_shoe_needs_no_scorch(changed: Changed) -> None:
    raw = changed(hot_fitted=False, observations__scorch=...)
    raw["observations"]["levelness"]["sole_pressure"] = False
    assessment = judged(raw)
    assert assessment.decision == "release"
    assert not any(name.startswith("scorch") for name in assessment.not_assessed)


def test_unsaid_whether_hot_or_cold_is_taken_as_hot(changed: Changed) -> None:
    assert judged(changed(hot_fitted=..., observations__scorch=...)).decision == "incomplete"


def test_an_empty_list_of_nails_is_not_an_observation(changed: Changed) -> None:
    assessment = judged(changed(observations__nails=[]))
    assert assessment.decision == "incomplete"
    assert {"nails", "clinches"} <= set(assessment.not_assessed)


def test_empty_sections_are_not_observations(changed: Changed) -> None:
    empty: dict[str, Any] = {
        f"observations__{name}": {}
        for name in ("heel_fit", "toe_fit", "levelness", "scorch", "finish", "soundness", "going")
    }
    assessment = judged(changed(**empty))
    assert {"heel_fit", "toe_fit", "levelness", "scorch", "finish", "going"} <= set(assessment.not_assessed)


def test_what_is_missing_is_named_by_its_field_with_how_to_observe_it(changed: Changed) -> None:
    assessment = judged(changed(observations__heel_fit__lateral__width=..., shoe=...))
    fields = {needed.field: needed.say for needed in assessment.still_needed}
    assert set(fields) == {"observations.heel_fit.lateral.width", "shoe.thickness"}
    assert "heel_fit.width@lateral_heel" in assessment.not_assessed
    assert "heel_fit.length@medial_heel" in assessment.not_assessed
    assert all(fields.values())


def test_a_reading_that_could_not_be_wholly_judged_does_not_conform(changed: Changed) -> None:
    assessment = judged(changed(shoe=...))
    assert ("length", "medial_heel") not in {(each.quantity, each.place) for each in assessment.conforms}


def test_the_heat_of_the_shoe_is_missed_where_a_limit_looks_at_it(changed: Changed) -> None:
    assert "scorch.shoe_heat" in judged(changed(observations__scorch__shoe_heat=...)).not_assessed


def test_a_fault_outweighs_what_is_missing(changed: Changed) -> None:
    major = judged(changed(observations__heel_fit__medial__width=-2, observations__soundness=...))
    assert major.decision == "put_right"
    assert major.still_needed
    critical = judged(changed(observations__nails__0__blood=True, observations__soundness=...))
    assert critical.decision == "stop_and_refer"


def test_everything_read_is_found_wrong_or_conforms_or_is_named(good: dict[str, Any]) -> None:
    assessment = judged(good)
    conforming = {(each.criterion, each.quantity, each.place) for each in assessment.conforms}
    assert ("toe_fit", "overhang", "toe") in conforming
    assert ("heel_fit", "branch_difference", "foot") in conforming
    assert ("nails", "first_exit_ratio", "nail:lateral:1") in conforming
    assert ("clinches", "clinch", "nail:medial:1") in conforming


def hole(branch: str, number: int, **said: Any) -> dict[str, Any]:
    return {"branch": branch, "hole": number, **said}


BARE_HOLES = {
    "no hole is given": [],
    "holes are named and not looked at": [hole("medial", 1), hole("lateral", 1)],
    "the lateral branch was not looked at": [hole(*each, to_white_line=0) for each in (("medial", 1), ("medial", 2))],
    "the medial branch was not looked at": [hole("medial", 1), hole("lateral", 3, to_white_line="on_line")],
}


@pytest.mark.parametrize("trial", ["hot", "cold"])
@pytest.mark.parametrize("holes", BARE_HOLES.values(), ids=list(BARE_HOLES))
def test_the_trial_wants_a_hole_of_each_branch_against_the_white_line(
    holes: list[dict[str, Any]], trial: str, changed: Changed
) -> None:
    """Before nailing nothing else tells whether a nail will run close (LA 119-120: holes exactly on the white line)."""
    raw = changed(stage="hot_fit", hot_fitted=trial == "hot", observations__nails=..., shoe__holes=holes)
    if trial == "cold":
        del raw["observations"]["scorch"]
        raw["observations"]["levelness"]["sole_pressure"] = False
    assessment = judged(raw)
    assert assessment.decision == "incomplete"
    [needed] = assessment.still_needed
    assert (needed.criterion, needed.field) == ("toe_fit", "shoe.holes[].to_white_line")
    assert needed.say.startswith("At least one hole of each branch.")
    assert "nails.to_white_line" in assessment.not_assessed
    raw["shoe"]["holes"] = [hole("medial", 2, to_white_line="on_line"), hole("lateral", 3, to_white_line=0.5)]
    assert judged(raw).decision == "go_on"


def test_later_stages_want_no_hole_against_the_white_line(changed: Changed) -> None:
    raw = changed(stage="nailed")
    for nail in raw["observations"]["nails"]:
        nail.pop("hole_inset", None)
    assert judged(raw).decision == "go_on"
