"""Actions in working order, with amounts; stop means stop."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from fitcheck.assessment.assess import assess
from fitcheck.assessment.models import Assessment, Finding
from fitcheck.fitting.models import Fitting
from rules import shipped_rulebook

Changed = Callable[..., dict[str, Any]]


def judged(raw: dict[str, Any]) -> Assessment:
    return assess(Fitting.model_validate(raw))


def found(assessment: Assessment, finding_id: str) -> Finding:
    (finding,) = [each for each in assessment.findings if each.id == finding_id]
    return finding


@pytest.mark.parametrize("stage", ["hot_fit", "nailed", "finished"])
def test_a_tight_heel_is_opened_to_the_least_of_the_band_in_whole_millimetres(stage: str, changed: Changed) -> None:
    """1/16 in (LA 119-120) is the least past the wall, 1.6 mm; from -1.5 mm that is 3.1 mm."""
    assessment = judged(changed(stage=stage, observations__heel_fit__lateral__width=-1.5))
    finding = found(assessment, "heel-width-tight@lateral_heel")
    assert finding.amount == 3.1
    assert finding.limit is not None
    assert finding.limit.unit == "mm"
    assert any("about 3 mm" in action for action in assessment.actions)


def test_before_nailing_no_nails_are_drawn(changed: Changed) -> None:
    draw = shipped_rulebook().steps["draw_nails"].text
    tight = {"observations__heel_fit__lateral__width": -1.5}
    assert draw not in judged(changed(stage="hot_fit", **tight)).actions
    for stage in ("nailed", "finished"):
        actions = judged(changed(stage=stage, **tight)).actions
        assert actions[0] == draw
        assert len(actions) == 2


def test_nails_are_not_drawn_for_a_clinch(changed: Changed) -> None:
    draw = shipped_rulebook().steps["draw_nails"].text
    assessment = judged(changed(observations__nails__0__clinch="proud"))
    assert assessment.decision == "put_right"
    assert draw not in assessment.actions


def test_iron_comes_before_foot_before_nails_before_finish(changed: Changed) -> None:
    assessment = judged(
        changed(
            observations__finish__hand="rough",
            observations__nails__1__exit_height=43,
            observations__seen=[{"what": "crack", "place": "toe", "deep": True}],
        )
    )
    orders = {each.action: each.order for each in assessment.findings}
    acted = [orders[action] for action in assessment.actions if action in orders]
    rank = ["welfare", "iron", "foot", "nails", "finish"]
    assert set(acted) == {"foot", "nails", "finish"}
    assert acted == sorted(acted, key=rank.index)


def test_minor_findings_are_noted_and_not_acted_on(changed: Changed) -> None:
    assessment = judged(changed(observations__heel_fit__lateral__width=1.0))
    assert [each.grade for each in assessment.findings] == ["minor"]
    assert assessment.decision == "release"
    assert assessment.actions == ()


def test_stop_means_stop(changed: Changed) -> None:
    """With a critical finding nothing else is done to the foot until it has been examined."""
    assessment = judged(changed(observations__nails__2__reaction="flinch", observations__heel_fit__lateral__width=-3))
    tight = found(assessment, "heel-width-tight@lateral_heel")
    assert assessment.decision == "stop_and_refer"
    assert tight.action not in assessment.actions
    assert assessment.actions[-1] == shipped_rulebook().steps["after_stop"].text
    assert found(assessment, "nail-flinch@nail:medial:3").action == assessment.actions[0]


def test_a_shoe_that_is_too_small_is_not_tinkered_with(changed: Changed) -> None:
    assessment = judged(
        changed(
            stage="hot_fit",
            observations__heel_fit__medial__length=-2,
            observations__heel_fit__lateral__length=5,
            observations__toe_fit__overhang=-3,
        )
    )
    joined = found(assessment, "shoe-too-small@foot")
    assert assessment.actions == (joined.action,)
    assert set(joined.rests_on) == {
        "heel-not-covered@medial_heel",
        "heel-too-short@lateral_heel",
        "toe-set-back-far@toe",
    }


def test_both_tight_heels_are_opened_before_anything_else(changed: Changed) -> None:
    assessment = judged(
        changed(stage="hot_fit", observations__heel_fit__medial__width=-1, observations__heel_fit__lateral__width=-2)
    )
    assert assessment.actions[0] == found(assessment, "heels-both-tight@foot").action
    assert len(assessment.actions) == 1


def test_a_joined_finding_is_as_sure_as_all_its_parts_together(changed: Changed) -> None:
    """Two independent widths, and the toe inside -0.5 to 1.6 mm at 0 +/- 0.5 mm: Phi(3.2) - Phi(-1), by table."""
    assessment = judged(
        changed(stage="hot_fit", observations__heel_fit__medial__width=-1, observations__heel_fit__lateral__width=-0.8)
    )
    parts = [found(assessment, f"heel-width-tight@{side}_heel").confidence or 0 for side in ("medial", "lateral")]
    together = parts[0] * parts[1] * (0.99931 - 0.15866)
    assert found(assessment, "heels-both-tight@foot").confidence == pytest.approx(together, abs=1e-3)


def test_a_joined_finding_that_is_less_likely_than_not_does_not_stand(changed: Changed) -> None:
    """Phi(0.4) and Phi(0.6) of two tight heels: 0.655 x 0.726 = 0.475, by table."""
    assessment = judged(
        changed(
            stage="hot_fit", observations__heel_fit__medial__width=-0.7, observations__heel_fit__lateral__width=-0.8
        )
    )
    assert {each.rule for each in assessment.findings} == {"heel-width-tight"}


def test_findings_stand_gravest_first(changed: Changed) -> None:
    assessment = judged(
        changed(
            observations__nails__2__blood=True,
            observations__heel_fit__lateral__width=1,
            observations__heel_fit__medial__width=-1,
        )
    )
    assert [each.grade for each in assessment.findings] == ["critical", "major", "minor"]


def test_each_action_stands_once(changed: Changed) -> None:
    assessment = judged(changed(observations__soundness__trot_up="uneven", observations__finish__hand="sharp"))
    assert len(set(assessment.actions)) == len(assessment.actions)
