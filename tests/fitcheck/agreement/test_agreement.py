"""Where a reading is given beside what it can be computed from, the two are compared."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

import fitcheck.measure
from fitcheck.assessment.assess import assess
from fitcheck.assessment.models import Assessment, Finding
from fitcheck.fitting.models import Fitting
from fitcheck.measure.disagreement import QUANTITY, Double, disagreements
from rules import Reading, first_rulebook, shipped_rulebook

Changed = Callable[..., dict[str, Any]]
Computing = Callable[..., None]
RULE = "readings-disagree"
DECIDING = "readings-decide-differently"


@pytest.fixture
def computing(monkeypatch: pytest.MonkeyPatch) -> Computing:
    """Lets one measure compute just the given readings, in the place of every other measure."""

    def become(*readings: Reading) -> None:
        monkeypatch.setattr(fitcheck.measure, "_measures_for", lambda _: (lambda *_: readings,))

    return become


def disagreed(assessment: Assessment) -> list[Finding]:
    return [finding for finding in assessment.findings if finding.rule in {RULE, DECIDING}]


def compared(given: list[Reading], computed: list[Reading]) -> list[Reading]:
    """The cross-checks of readings that were given with what was computed, straight from the function."""
    by_key = {(each.quantity, each.place): each for each in computed}
    doubles = [Double(each, by_key[each[:2]]) for each in given if each[:2] in by_key]
    return list(disagreements(doubles, (), shipped_rulebook()))


WIDTH = {"value": 2.4, "u": 0.3}  # with a computed u of 0.4 the joint one is 0.5 (mm)


def test_readings_further_apart_than_two_joint_uncertainties_disagree(changed: Changed, computing: Computing) -> None:
    computing(Reading("width", "medial_heel", 3.45, 0.4))
    (finding,) = disagreed(assess(Fitting.model_validate(changed(observations__heel_fit__medial__width=WIDTH))))
    assert finding.id == f"{RULE}@medial_heel"
    assert (finding.place, finding.criterion, finding.grade) == ("medial_heel", "heel_fit", "minor")
    assert finding.measured is not None
    assert (finding.measured.quantity, finding.measured.value, finding.measured.u) == (QUANTITY, 2.1, 0.0)
    assert finding.measured.where == "width: read 2.4, computed 3.45"
    assert finding.confidence == 1.0


@pytest.mark.parametrize("value", [1.4, 1.9, 2.4, 3.39, 3.4])
def test_readings_up_to_two_joint_uncertainties_apart_agree(
    value: float, changed: Changed, computing: Computing
) -> None:
    computing(Reading("width", "medial_heel", value, 0.4))
    assessment = assess(Fitting.model_validate(changed(observations__heel_fit__medial__width=WIDTH)))
    assert disagreed(assessment) == []
    (shown,) = [each for each in assessment.measurements if each.quantity == QUANTITY]
    assert (shown.place, shown.u) == ("medial_heel", 0.0)
    assert shown.value == pytest.approx(abs(value - 2.4) / 0.5)


@pytest.mark.parametrize("value", [1.39, 3.41])
def test_it_does_not_matter_which_of_the_two_is_larger(value: float, changed: Changed, computing: Computing) -> None:
    computing(Reading("width", "medial_heel", value, 0.4))
    assert len(disagreed(assess(Fitting.model_validate(changed(observations__heel_fit__medial__width=WIDTH))))) == 1


def test_what_is_computed_stands_in_the_place_of_what_was_given(changed: Changed, computing: Computing) -> None:
    computing(Reading("width", "medial_heel", -1.0, 0.1, "12 mm in front of the heel end"))
    assessment = assess(Fitting.model_validate(changed(observations__heel_fit__medial__width=WIDTH)))
    (width,) = [e for e in assessment.measurements if (e.quantity, e.place) == ("width", "medial_heel")]
    assert (width.value, width.u, width.where) == (-1.0, 0.1, "12 mm in front of the heel end")
    assert "heel-width-tight@medial_heel" in {finding.id for finding in assessment.findings}


@pytest.mark.parametrize(
    ("computed", "place", "criterion"),
    [
        (Reading("length", "lateral_heel", 30.0, 0.5), "lateral_heel", "heel_fit"),
        (Reading("overhang", "toe", 4.0, 0.5), "toe", "toe_fit"),
        (Reading("overhang", "medial_quarter", 9.0, 0.5), "medial_quarter", "toe_fit"),
        (Reading("gap", "medial_heel", 2.0, 0.03), "medial_heel", "levelness"),
        (Reading("hole_inset", "nail:lateral:3", 4.0, 0.5), "nail:lateral:3", "nails"),
        (Reading("coverage", "foot", 0.5, 0.02), "foot", "scorch"),
        (Reading("sole_scorch", "sole", 4.0, 0.5), "sole", "scorch"),
    ],
    ids=lambda value: value.quantity if isinstance(value, Reading) else None,
)
def test_a_disagreement_belongs_to_the_place_and_criterion_of_what_it_compares(
    computed: Reading, place: str, criterion: str, changed: Changed, computing: Computing
) -> None:
    computing(computed)
    (finding,) = disagreed(assess(Fitting.model_validate(changed())))
    assert (finding.place, finding.criterion) == (place, criterion)


def test_of_several_disagreements_at_one_place_the_largest_is_told(changed: Changed, computing: Computing) -> None:
    computing(Reading("width", "medial_heel", 6.0, 0.5), Reading("length", "medial_heel", 20.0, 0.5))
    (finding,) = disagreed(assess(Fitting.model_validate(changed())))
    assert finding.measured is not None
    assert finding.measured.where == "length: read 12, computed 20"


def test_disagreements_at_two_places_are_both_told(changed: Changed, computing: Computing) -> None:
    computing(Reading("width", "medial_heel", 9.0, 0.5), Reading("width", "lateral_heel", 9.0, 0.5))
    found = disagreed(assess(Fitting.model_validate(changed())))
    assert {finding.place for finding in found} == {"medial_heel", "lateral_heel"}


def test_a_word_of_the_eye_is_compared_with_its_own_uncertainty(changed: Changed, computing: Computing) -> None:
    """By the first rulebook tight stands for -1.5 with u 1.0 (common practice, no source); beside it u 0 adds nothing.

    By the shipped one a word has no number that another could be held against.
    """
    first = first_rulebook()
    computing(Reading("width", "medial_heel", 0.51, 0.0))
    tight = Fitting.model_validate(changed(observations__heel_fit__medial__width="tight"))
    (finding,) = disagreed(assess(tight, first))
    assert finding.measured is not None
    assert finding.measured.value == 2.01
    assert disagreed(assess(tight)) == []
    computing(Reading("width", "medial_heel", 0.49, 0.0))
    assert disagreed(assess(tight, first)) == []


def test_without_any_uncertainty_equal_readings_agree_and_unequal_ones_do_not(
    changed: Changed, computing: Computing
) -> None:
    fitting = Fitting.model_validate(changed(observations__heel_fit__medial__width={"value": 2.4, "u": 0}))
    computing(Reading("width", "medial_heel", 2.4, 0.0))
    assert disagreed(assess(fitting)) == []
    computing(Reading("width", "medial_heel", 2.5, 0.0))
    (finding,) = disagreed(assess(fitting))
    assert finding.measured is not None
    most = (shipped_rulebook().quantities[QUANTITY].range or (0.0, 0.0))[1]
    assert finding.measured.value == most


def test_however_far_apart_a_disagreement_stays_within_its_range(changed: Changed, computing: Computing) -> None:
    computing(Reading("width", "medial_heel", 60.0, 0.0))
    fitting = changed(observations__heel_fit__medial__width={"value": -60, "u": 0.000001})
    (finding,) = disagreed(assess(Fitting.model_validate(fitting)))
    assert finding.measured is not None
    assert finding.measured.value == 1000


def test_words_are_never_compared(changed: Changed, computing: Computing) -> None:
    computing(Reading("hand", "foot", "rough"), Reading("trot_up", "foot", "uneven"))
    assessment = assess(Fitting.model_validate(changed()))
    assert {finding.rule for finding in assessment.findings} >= {"surface-rough", "trot-uneven"}
    assert disagreed(assessment) == []
    assert [each for each in assessment.measurements if each.quantity == QUANTITY] == []


def test_a_word_and_a_number_are_never_compared() -> None:
    word, number = Reading("contact_time", "foot", "long"), Reading("contact_time", "foot", 90.0, 1.0)
    assert compared([word], [number]) == compared([number], [word]) == []


def test_nothing_is_compared_when_only_one_of_the_two_is_there(changed: Changed, computing: Computing) -> None:
    computing(Reading("width", "medial_heel", 9.0, 0.1), Reading("flatness", "foot", 3.0, 0.1))
    assessment = assess(Fitting.model_validate(changed(observations__heel_fit__medial__width=...)))
    assert [each for each in assessment.measurements if each.quantity == QUANTITY] == []
    computing()
    assessment = assess(Fitting.model_validate(changed()))
    assert [each for each in assessment.measurements if each.quantity == QUANTITY] == []


def test_the_same_quantity_at_another_place_is_not_compared() -> None:
    given = [Reading("width", "medial_heel", 2.4, 0.5)]
    assert compared(given, [Reading("width", "lateral_heel", 9.0, 0.5)]) == []


def test_a_cross_check_names_the_quantity_that_it_compares() -> None:
    (check,) = compared(
        [Reading("hole_inset", "nail:medial:2", 9.0, 3.0)], [Reading("hole_inset", "nail:medial:2", 4.0, 4.0)]
    )
    assert check == Reading(QUANTITY, "nail:medial:2", 1.0, 0.0, "hole inset: read 9, computed 4", "hole_inset")


def test_the_shipped_measures_compute_nothing_that_the_good_fitting_gives(good: dict[str, Any]) -> None:
    assessment = assess(Fitting.model_validate(good))
    assert [each for each in assessment.measurements if each.quantity == QUANTITY] == []
