"""A visit: the gravest of its feet and pairs, what was seen and what was not."""

from __future__ import annotations

import copy
import itertools
import json
from collections.abc import Callable
from typing import Any

import pytest

from fitcheck.assessment.assess import assess
from fitcheck.errors import BadInput
from fitcheck.explanation.explain import explain
from fitcheck.fitting.models import Fitting
from fitcheck.pairs.visit import Assessed, VisitAssessment, visit_of

Changed = Callable[..., dict[str, Any]]
Foot = Callable[..., Assessed]


@pytest.fixture
def foot(good: dict[str, Any]) -> Foot:
    """A good foot, kept, with these keys of the fitting (and the time of its assessment) otherwise."""

    def make(name: str, at: str = "2026-03-04T10:00:00.000Z", **edits: Any) -> Assessed:
        fitting = Fitting.model_validate({**copy.deepcopy(good), "foot": name, **edits})
        return Assessed(fitting, assess(fitting).model_copy(update={"created": at}))

    return make


def readings_of(good: dict[str, Any], part: str, value: Any) -> dict[str, Any]:
    return {**good["observations"], part: value}


def test_four_good_feet_are_released(foot: Foot) -> None:
    visit = visit_of(map(foot, ("right_hind", "left_fore", "left_hind", "right_fore")))
    assert (visit.visit, visit.decision) == ("2026-03-04-H-101", "release")
    assert [each.foot for each in visit.feet] == ["left_fore", "right_fore", "left_hind", "right_hind"]
    assert visit.decided_by == tuple(each.foot for each in visit.feet)
    assert visit.feet_missing == ()
    assert [(pair.pair, pair.compared, pair.findings) for pair in visit.pairs] == [
        ("fore", True, ()),
        ("hind", True, ()),
    ]


def test_the_feet_that_were_not_seen_are_named(foot: Foot) -> None:
    visit = visit_of([foot("left_fore")])
    assert (visit.decision, visit.decided_by) == ("release", ("left_fore",))
    assert visit.feet_missing == ("right_fore", "left_hind", "right_hind")
    assert [pair.compared for pair in visit.pairs] == [False, False]


def test_a_visit_of_which_no_foot_was_seen_is_incomplete() -> None:
    visit = visit_of([])
    assert (visit.visit, visit.decision, visit.decided_by, visit.feet) == (None, "incomplete", (), ())
    assert len(visit.feet_missing) == 4


def test_the_gravest_foot_decides(foot: Foot, good: dict[str, Any]) -> None:
    lame = readings_of(good, "soundness", {"trot_up": "lame"})
    uneven = readings_of(good, "soundness", {"trot_up": "uneven"})
    unknown = readings_of(good, "soundness", None)
    feet = [foot("left_fore"), foot("right_fore", observations=unknown)]
    assert (visit_of(feet).decision, visit_of(feet).decided_by) == ("incomplete", ("right_fore",))
    feet.append(foot("left_hind", observations=uneven))
    assert (visit_of(feet).decision, visit_of(feet).decided_by) == ("put_right", ("left_hind",))
    feet.append(foot("right_hind", observations=lame))
    assert (visit_of(feet).decision, visit_of(feet).decided_by) == ("stop_and_refer", ("right_hind",))


def test_a_pair_may_hold_up_feet_that_are_each_released(foot: Foot) -> None:
    higher = {"hoof": {"wall_thickness": 12, "sole_thickness": 11, "wall_height": 108}}
    visit = visit_of([foot("left_fore"), foot("right_fore", **higher)])
    assert [each.decision for each in visit.feet] == ["release", "release"]
    assert (visit.decision, visit.decided_by) == ("put_right", ("pair:fore",))


def test_a_minor_finding_on_a_pair_holds_nothing_up(foot: Foot) -> None:
    other = {"shoe": {"thickness": 12, "length": 160}}
    visit = visit_of([foot("left_hind"), foot("right_hind", **other)])
    hind = visit.pairs[1]
    assert [finding.grade for finding in hind.findings] == ["minor"]
    assert visit.decision == "release"
    assert "pair:hind" not in visit.decided_by


def test_the_latest_assessment_of_a_foot_counts_also_where_the_shoe_came_off_again(
    foot: Foot, good: dict[str, Any]
) -> None:
    unlevel = readings_of(good, "levelness", {**good["observations"]["levelness"], "rocks": True})
    first = foot("left_fore", "2026-03-04T09:00:00Z", observations=unlevel)
    again = foot("left_fore", "2026-03-04T11:00:00+01:00", stage="hot_fit")
    visit = visit_of([again, first])
    [seen] = visit.feet
    assert (seen.stage, seen.decision, visit.decision) == ("hot_fit", "go_on", "go_on")
    assert seen.next == "nail_on"
    assert (seen.assessment, seen.earlier) == (again.assessment.id, (first.assessment.id,))
    assert seen.created == "2026-03-04T10:00:00.000Z"


def test_of_assessments_made_in_one_instant_the_later_stage_counts(foot: Foot) -> None:
    [seen] = visit_of([foot("left_fore"), foot("left_fore", stage="hot_fit"), foot("left_fore", stage="nailed")]).feet
    assert (seen.stage, len(seen.earlier)) == ("finished", 2)


def test_of_kept_assessments_the_number_is_the_order_whatever_the_clock_said(foot: Foot, good: dict[str, Any]) -> None:
    blood = readings_of(good, "soundness", {"trot_up": "lame"})
    released = foot("left_fore", "2026-03-04T12:00:00Z")._replace(number=1)
    stopped = foot("left_fore", "2026-03-04T09:00:00Z", observations=blood)._replace(number=2)
    for given in ([released, stopped], [stopped, released]):
        visit = visit_of(given)
        [seen] = visit.feet
        assert (seen.decision, visit.decision, seen.earlier) == (
            "stop_and_refer",
            "stop_and_refer",
            (released.assessment.id,),
        )
        assert seen.in_conflict == ()


def test_of_assessments_of_two_stores_the_gravest_counts_and_the_conflict_is_told(
    foot: Foot, good: dict[str, Any]
) -> None:
    blood = readings_of(good, "soundness", {"trot_up": "lame"})
    stopped = foot("left_fore", observations=blood)._replace(number=1)
    first = foot("left_fore", stage="hot_fit")._replace(number=2, origin="tablet")
    released = foot("left_fore", "2026-03-04T12:00:00Z")._replace(number=3, origin="tablet")
    for given in itertools.permutations([stopped, first, released]):
        [seen] = visit_of(given).feet
        assert (seen.decision, seen.assessment) == ("stop_and_refer", stopped.assessment.id)
        assert seen.earlier == (first.assessment.id,)
        assert seen.in_conflict == (released.assessment.id,)


def test_the_latest_of_each_foot_is_what_a_pair_compares(foot: Foot) -> None:
    feet = [
        foot("left_fore", "2026-03-04T10:00:00Z"),
        foot("right_fore", "2026-03-04T10:05:00Z", stage="nailed"),
        foot("right_fore", "2026-03-04T10:10:00Z"),
    ]
    for given in (feet, feet[::-1]):
        assert visit_of(given).pairs[0].compared
    fore = visit_of(feet[:2]).pairs[0]
    assert [each.reason for each in fore.not_compared] == ["stage"]


def test_an_explained_assessment_does_as_well_as_a_plain_one(good: dict[str, Any]) -> None:
    fitting = Fitting.model_validate(good)
    for each in (assess(fitting), explain(fitting)):
        assert visit_of([Assessed(fitting, each)]).decision == "release"


def test_feet_of_several_visits_or_horses_are_refused_with_their_names(foot: Foot) -> None:
    for edits, field in (({"visit": "2026-03-05"}, "visit"), ({"horse": {"id": "H-102"}}, "horse.id")):
        with pytest.raises(BadInput) as caught:
            visit_of([foot("left_fore"), foot("right_fore", **edits)])
        [problem] = caught.value.problems
        assert problem.field == field
        assert str(problem.value) in problem.detail
    assert visit_of([foot("left_fore", visit=None, horse=None), foot("right_fore")]).visit == "2026-03-04-H-101"


def test_an_assessment_that_is_not_its_fittings_is_refused(foot: Foot) -> None:
    one, other = foot("left_fore"), foot("right_fore")
    with pytest.raises(ValueError, match="not of its fitting"):
        visit_of([Assessed(one.fitting, other.assessment)])


def test_a_visit_can_be_sent_as_json_and_read_back(foot: Foot) -> None:
    visit = visit_of([foot("left_fore"), foot("right_fore")])
    assert VisitAssessment.model_validate(json.loads(visit.model_dump_json(by_alias=True))) == visit
