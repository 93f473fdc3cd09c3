"""Conforming, failing or too uncertain: what becomes of readings of which hardly anything is known."""

from __future__ import annotations

from collections.abc import Callable
from statistics import NormalDist
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from fitcheck.assessment.assess import assess
from fitcheck.assessment.models import Assessment, Unassessed
from fitcheck.errors import BadInput
from fitcheck.explanation.explain import explain
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.validation import parse_fitting
from rules import first_rulebook, localized, shipped_rulebook

Changed = Callable[..., dict[str, Any]]


def judged(raw: dict[str, Any]) -> Assessment:
    return assess(Fitting.model_validate(raw))


def unsure(assessment: Assessment) -> dict[str, Unassessed]:
    return {
        f"{each.quantity}@{each.place}": each for each in assessment.unassessed or () if each.why == "too_uncertain"
    }


def conforming(assessment: Assessment) -> set[str]:
    return {f"{each.quantity}@{each.place}" for each in assessment.conforms}


def test_a_width_of_which_nothing_is_known_neither_conforms_nor_releases(changed: Changed) -> None:
    """Width 2.4 with u = 100 was once told as conforming, and the foot released."""
    assessment = judged(changed(observations__heel_fit__medial__width={"value": 2.4, "u": 100}))
    assert assessment.decision == "incomplete"
    assert "width@medial_heel" not in conforming(assessment)
    assert "heel_fit.width@medial_heel" in assessment.not_assessed
    [needed] = assessment.still_needed
    assert needed.field == "observations.heel_fit.medial.width"
    assert "measure again, standard uncertainty (u) at most 5.05 mm" in needed.say
    assert unsure(assessment)["width@medial_heel"].how == needed.say


def test_width_length_and_gap_of_absurd_uncertainty_are_not_released(changed: Changed) -> None:
    raw = changed(
        observations__heel_fit__medial__width={"value": 2.4, "u": 100},
        observations__heel_fit__medial__length={"value": 11, "u": 100},
        observations__levelness__gaps__toe={"value": 0, "u": 30},
    )
    assert judged(raw).decision not in {"release", "go_on"}


def test_measured_as_well_as_is_asked_it_conforms(changed: Changed) -> None:
    """At the u that is asked for it is above one half: statistics.NormalDist, limits -0.5 mm (the hand) to 1/4 in."""
    again = judged(changed(observations__heel_fit__medial__width={"value": 2.4, "u": 5.05}))
    assert unsure(again) == {}
    assert "width@medial_heel" in conforming(again)
    spread = NormalDist(2.4, 5.05)
    assert spread.cdf(25.4 / 4) - spread.cdf(-0.5) > 0.5
    spread = NormalDist(2.4, 5.06)
    assert spread.cdf(25.4 / 4) - spread.cdf(-0.5) < 0.5


def test_what_this_stage_does_not_require_is_told_and_holds_nothing_up(changed: Changed) -> None:
    raw = changed(observations__history={"last_shod": "2026-01-21", "fitted": "2026-03-04"})
    raw["observations"]["toe_fit"]["clip_height"] = {"value": 13, "u": 30}
    assessment = judged(raw)
    assert "clip_height@toe" in unsure(assessment)
    assert assessment.decision == "release"


@pytest.mark.parametrize("u", [0.5, 3, 12])
def test_on_its_limit_a_reading_conforms_whatever_its_chance(changed: Changed, u: float) -> None:
    """1/4 in is the most that a width may be on a regular draught fore foot; the edge does not fire."""
    assessment = judged(changed(observations__heel_fit__medial__width={"value": "1/4", "unit": "in", "u": u / 25.4}))
    assert "width@medial_heel" in conforming(assessment)


def test_two_lengths_that_differ_more_likely_than_not_are_found(changed: Changed) -> None:
    """Each with u = 3, alike: 0.637 of differing by more than 2 mm, by the normal distribution; once conforming."""
    raw = changed(
        observations__heel_fit__medial__length={"value": 11, "u": 3},
        observations__heel_fit__lateral__length={"value": 11, "u": 3},
    )
    chance = 2 * NormalDist(0, 3 * 2**0.5).cdf(-2)
    assert chance == pytest.approx(0.637, abs=1e-3)
    for assessment in (judged(raw), explain(Fitting.model_validate(raw))):
        [found] = [each for each in assessment.findings if each.rule == "branches-uneven"]
        assert found.confidence == pytest.approx(chance, abs=1e-3)


def test_a_u_beyond_the_quantitys_own_range_is_an_error() -> None:
    raw = {"foot": "left_fore", "stage": "hot_fit", "work": "draught"}
    with pytest.raises(BadInput) as refused:
        parse_fitting({**raw, "observations": {"toe_fit": {"overhang": {"value": 0, "u": 1000}}}})
    [problem] = refused.value.problems
    assert problem.field == "observations.toe_fit.overhang"


def test_the_first_contracts_book_knows_no_such_doubt(changed: Changed) -> None:
    raw = changed(observations__heel_fit__medial__width={"value": 2.4, "u": 100})
    assessment = assess(Fitting.model_validate(raw), first_rulebook())
    assert "width@medial_heel" in conforming(assessment)


def test_what_is_asked_for_is_said_in_german_too(changed: Changed) -> None:
    raw = changed(observations__heel_fit__medial__width={"value": 2.4, "u": 100})
    [needed] = assess(Fitting.model_validate(raw), localized(shipped_rulebook(), "de")).still_needed
    assert "nochmals messen, Standardunsicherheit (u) höchstens 5,05 mm" in needed.say


@settings(max_examples=60, deadline=None)
@example(width=0, u=0, length=-1.2e-07, length_u=0)
@given(width=st.floats(-20, 20), u=st.floats(0, 60), length=st.floats(-20, 60), length_u=st.floats(0, 60))
def test_each_reading_conforms_fails_or_is_too_uncertain_and_never_two_of_these(
    width: float, u: float, length: float, length_u: float
) -> None:
    raw = {
        "foot": "left_fore",
        "stage": "hot_fit",
        "work": "draught",
        "shoe": {"thickness": 11},
        "observations": {
            "heel_fit": {"medial": {"width": {"value": width, "u": u}, "length": {"value": length, "u": length_u}}}
        },
    }
    assessment = explain(parse_fitting(raw))
    fired = {f"{each.measured.quantity}@{each.place}" for each in assessment.findings if each.measured is not None}
    for name in ("width@medial_heel", "length@medial_heel"):
        told = (name in fired, name in conforming(assessment), name in unsure(assessment))
        assert sum(told) == 1
