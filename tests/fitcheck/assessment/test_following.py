"""A fitting that follows an assessment: judged with what was carried, and told what a second try changed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from fitcheck import BadInput, CannotFollow, Followed, Following, assess, explain, follow, parse_fitting
from fitcheck.assessment.models import Assessment
from rules import first_rulebook, load_rulebook
from tests.support.yard_books import OURS, yard_folder

Changed = Callable[..., dict[str, Any]]


@pytest.fixture
def nailed(changed: Changed) -> dict[str, Any]:
    """The good foot, nailed, without what only the finished foot shows."""
    raw = changed(stage="nailed", observations__finish=..., observations__soundness=...)
    for nail in raw["observations"]["nails"]:
        del nail["clinch"]
    return raw


def looked_at(raw: dict[str, Any], book: Any = None) -> Followed:
    fitting = parse_fitting(raw, book)
    return Followed(fitting, assess(fitting, book))


def finished_after(before: Followed, **observations: Any) -> dict[str, Any]:
    """What is observed of the finished foot alone, and that the rest is as before."""
    nails = [
        {"branch": nail.branch, "hole": nail.hole, "clinch": "flush"}
        for nail in before.fitting.observations.nails or ()
    ]
    said = {name: {"as_before": True} for name in ("heel_fit", "toe_fit", "levelness")}
    seen = {"nails": nails, "finish": {"hand": "smooth", "rasped_above_clinches": False}} | said
    return {
        "foot": before.fitting.foot,
        "stage": "finished",
        "follows": before.assessment.id,
        "observations": seen | {"going": {"trot_up": "sound"}} | observations,
    }


def again(assessment: Assessment) -> dict[str, Any]:
    """What is judged, without what differs by itself or tells where things come from."""
    document = assessment.model_dump(mode="json")
    for key in ("id", "created", "carried", "earlier_findings", "not_assessed", "unassessed", "next_due"):
        document.pop(key, None)
    for each in (*document["findings"], *document["measurements"]):
        each.pop("carried", None)
    return document


def test_a_finished_foot_that_follows_is_judged_as_if_all_had_been_sent(
    nailed: dict[str, Any], changed: Changed
) -> None:
    before = looked_at(nailed)
    following = follow(finished_after(before), before)
    assessment = assess(following)
    assert assessment.decision == "release"
    whole = assess(parse_fitting(changed(observations__history=...)))
    both = [{str(each) for each in again(one)["measurements"]} for one in (assessment, whole)]
    assert both[0] == both[1]
    assert {(each.quantity, each.place) for each in assessment.conforms} == {
        (each.quantity, each.place) for each in whole.conforms
    }
    assert assessment.carried == following.carried
    assert assessment.retry is None
    assert assessment.earlier_findings == ()


def test_without_as_before_the_fit_is_missing(nailed: dict[str, Any]) -> None:
    before = looked_at(nailed)
    raw = finished_after(before, heel_fit={})
    assessment = assess(follow(raw, before))
    assert assessment.decision == "incomplete"
    assert {each.criterion for each in assessment.still_needed} == {"heel_fit"}


def test_numbers_and_findings_say_that_they_were_carried(nailed: dict[str, Any]) -> None:
    nailed["observations"]["heel_fit"]["medial"]["width"] = -2
    nailed["observations"]["heel_fit"]["lateral"]["width"] = -2
    before = looked_at(nailed)
    told = assess(follow(finished_after(before, toe_fit={"overhang": 0}), before))
    carried = {(each.quantity, each.place): each.carried for each in told.measurements}
    assert carried["width", "medial_heel"] is carried["exit_height", "nail:medial:1"] is True
    assert carried["overhang", "toe"] is None
    by_rule = {finding.rule: finding.carried for finding in told.findings if finding.place in {"medial_heel", "foot"}}
    assert by_rule["heel-width-tight"] is True
    joined = next(finding for finding in told.findings if finding.measured is None)
    assert joined.carried is True, "it rests on the tight heels"
    fresh = assess(parse_fitting(nailed))
    assert '"carried"' not in fresh.model_dump_json()


def test_what_is_computed_from_a_carried_trace_is_carried(good: dict[str, Any]) -> None:
    heights = [[0, 60, 0.0], [-50, -40, 0.0], [50, -40, 0.0], [-45, 20, 0.1], [45, 20, 0.0], [0, 55, 0.0]]
    good["observations"]["levelness"] = {"rocks": False, "heights": heights}
    before = looked_at(good)
    told = assess(follow(finished_after(before, heel_fit={}), before))
    assert {each.carried for each in told.measurements if each.quantity == "flatness"} == {True}


def test_a_chain_carries_on_and_names_where_each_thing_was_observed(good: dict[str, Any], changed: Changed) -> None:
    hot = changed(stage="hot_fit", observations__finish=..., observations__soundness=..., observations__nails=...)
    first = looked_at(hot)
    nails = [{key: value for key, value in nail.items() if key != "clinch"} for nail in good["observations"]["nails"]]
    said = {name: {"as_before": True} for name in ("heel_fit", "toe_fit", "levelness")}
    raw = {"foot": "left_fore", "stage": "nailed", "observations": {"nails": nails} | said}
    into_second = follow(raw, first)
    second = Followed(into_second.fitting, assess(into_second))
    assert second.assessment.decision == "go_on"
    third = assess(follow(finished_after(second), second))
    assert third.decision == "release"
    origins = {each.field: each.assessment for each in third.carried or ()}
    assert origins["observations.heel_fit.medial.length"] == first.assessment.id
    assert origins["observations.nails.0.exit_height"] == second.assessment.id


def test_a_second_try_says_what_became_better_worse_and_what_is_left(changed: Changed) -> None:
    hot: dict[str, Any] = {"stage": "hot_fit", "observations__finish": ..., "observations__soundness": ...}
    first = looked_at(
        changed(
            observations__nails=...,
            observations__heel_fit__medial__width=-2,
            observations__toe_fit__overhang=5,
            observations__heel_fit__lateral__length=-1,
            observations__scorch__sole_scorch=9,
            **hot,
        )
    )
    raw = changed(
        observations__nails=...,
        observations__toe_fit__overhang=5,
        observations__levelness__rocks=True,
        observations__heel_fit__lateral__length=...,
        observations__scorch=...,
        **hot,
    )
    retry = assess(follow(raw, first)).retry
    assert retry is not None
    assert retry.assessment == first.assessment.id
    singles = {
        name: {(each.quantity, each.place, each.before, each.now) for each in getattr(retry, name) if each.quantity}
        for name in ("better", "worse", "left")
    }
    assert singles["better"] == {("width", "medial_heel", "major", "clear")}
    assert singles["worse"] == {("rocks", "foot", "clear", "major")}
    assert ("overhang", "toe", "major", "major") in singles["left"]
    assert ("length", "lateral_heel", "major", "not_assessed") in singles["left"], "not looked at is never better"
    assert any(what == "sole_scorch" and was == now for what, _, was, now in singles["left"]), "it was carried"


def test_another_stage_or_another_visit_is_no_second_try(nailed: dict[str, Any]) -> None:
    before = looked_at(nailed)
    assert assess(follow(finished_after(before), before)).retry is None
    assert assess(follow(nailed | {"visit": "another"}, before)).retry is None
    assert assess(follow(nailed, before)).retry is not None


def test_what_cannot_be_undone_is_told_at_the_next_visit_and_no_longer(nailed: dict[str, Any], tmp_path: Path) -> None:
    lenient = f"[rules.heel-width-tight]\nblocks = false\n{OURS}"
    book = load_rulebook(yard_folder(tmp_path, heel_fit=lenient))
    nailed["observations"]["heel_fit"]["medial"]["width"] = -2
    nailed["visit"] = "V-1"
    before = looked_at(nailed, book)
    [found] = [
        finding for finding in before.assessment.findings if finding.blocks is False and finding.grade == "major"
    ]
    bare = {"foot": "left_fore", "stage": "dressed", "work": "draught", "observations": {}, "visit": "V-2"}
    into_next = follow(bare, before, book)
    following = assess(into_next, book)
    assert [(each.assessment, each.finding) for each in following.earlier_findings or ()] == [
        (before.assessment.id, found)
    ]
    assert following.decision == "incomplete", "what is told once more holds nothing up"
    same_visit = Followed(into_next.fitting, following)
    shod = {**nailed, "visit": "V-2"}
    shod["observations"] = {**nailed["observations"], "heel_fit": {"medial": {"width": 2}}}
    later = assess(follow(shod, same_visit, book), book)
    assert [each.finding for each in later.earlier_findings or ()] == [found]
    after_next = assess(follow(bare | {"visit": "V-3"}, Followed(into_next.fitting, later), book), book)
    assert after_next.earlier_findings == ()


def test_a_finding_that_is_made_again_is_not_told_twice(nailed: dict[str, Any], tmp_path: Path) -> None:
    lenient = f"[rules.heel-width-tight]\nblocks = false\n{OURS}"
    book = load_rulebook(yard_folder(tmp_path, heel_fit=lenient))
    nailed["observations"]["heel_fit"]["medial"]["width"] = -2
    before = looked_at(nailed, book)
    told = assess(follow(finished_after(before), before, book), book)
    assert told.earlier_findings == ()
    assert "heel-width-tight@medial_heel" in {finding.id for finding in told.findings}


def test_by_the_rulebook_of_the_first_contract_it_can_follow_too(nailed: dict[str, Any]) -> None:
    book = first_rulebook()
    before = looked_at(nailed, book)
    assessment = assess(follow(finished_after(before), before, book), book)
    assert assessment.decision == "release"
    assert assessment.carried
    assert assessment.unassessed is None


def test_it_is_explained_as_it_is_assessed(nailed: dict[str, Any]) -> None:
    before = looked_at(nailed)
    following = follow(finished_after(before), before)
    explained = explain(following)
    assert explained.explanation.decision.decision == "release"
    assert explained.carried == following.carried


def problem_of(raw: dict[str, Any], before: Followed, reason: str | None) -> str:
    with pytest.raises(BadInput) as caught:
        follow(raw, before)
    assert getattr(caught.value, "reason", None) == reason
    assert isinstance(caught.value, CannotFollow) == (reason is not None)
    return caught.value.problems[0].field


@pytest.mark.parametrize(
    ("change", "reason", "field"),
    [
        ({"foot": "right_fore"}, "another", "foot"),
        ({"horse": {"id": "another"}}, "another", "horse.id"),
        ({"stage": "hot_fit", "observations": {}}, "later_stage", "stage"),
        ({"stage": "shod"}, None, "stage"),
        ({"observations": {"heel_fit": {"as_before": True, "medial": {"width": "tigth"}}}}, None, None),
        (
            {"visit": "another", "observations": {"toe_fit": {"as_before": True}}},
            None,
            "observations.toe_fit.as_before",
        ),
        ({"observations": 5}, None, "observations"),
    ],
)
def test_what_stands_against_following_is_told(
    change: dict[str, Any], reason: str | None, field: str | None, nailed: dict[str, Any]
) -> None:
    before = looked_at(nailed)
    found = problem_of(finished_after(before) | change, before, reason)
    assert found == (field or "observations.heel_fit.medial.width")


def test_a_horse_may_be_named_by_another_of_its_names(nailed: dict[str, Any]) -> None:
    before = looked_at(nailed)
    raw = finished_after(before) | {"horse": {"ueln": "276009100000123"}}
    assert isinstance(follow(raw, before), Following)


def test_what_stands_as_before_needs_an_assessment_before(good: dict[str, Any]) -> None:
    good["observations"]["levelness"]["as_before"] = True
    with pytest.raises(BadInput, match="follows is left out") as caught:
        parse_fitting(good)
    assert caught.value.problems[0].field == "observations.levelness.as_before"
    good["observations"]["levelness"]["as_before"] = False
    assert parse_fitting(good).follows is None


def test_a_fitting_that_follows_is_not_assessed_alone(good: dict[str, Any]) -> None:
    fitting = parse_fitting(good | {"follows": "one"})
    for assessing in (assess, explain):
        with pytest.raises(BadInput, match="is not at hand here") as caught:
            assessing(fitting)
        assert caught.value.problems[0].field == "follows"


def test_work_is_left_out_only_where_something_is_followed(good: dict[str, Any]) -> None:
    del good["work"]
    with pytest.raises(BadInput, match="work: This key is missing"):
        parse_fitting(good)
