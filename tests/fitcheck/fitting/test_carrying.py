"""What stands of one look at a foot in the next, field by field: limits.md, section 9 (common practice, no source)."""

from __future__ import annotations

import copy
from typing import Any, Final

import pytest

from fitcheck.fitting.carrying import Carried, carried_from, completed

NAIL: Final = {
    "branch": "medial",
    "hole": 1,
    "exit_height": 22,
    "wall_height": 70,
    "position": 0.2,
    "hole_inset": 9,
    "to_white_line": 0,
    "width": 5,
    "sound": "firm",
    "reaction": "none",
    "blood": False,
    "head": "seated",
    "clinch": "flush",
}
WHOLE: Final[dict[str, Any]] = {
    "foot": "left_fore",
    "work": "riding",
    "hoof_form": "acute",
    "stance": "base_wide",
    "hot_fitted": True,
    "visit": "V-1",
    "horse": {"id": "H-1"},
    "person": {"id": "A-1"},
    "hoof": {"wall_thickness": 11, "wall_angle": 50, "coronet_overhang": {"medial": 2, "lateral": 1}},
    "shoe": {"thickness": 11, "refit": True, "new_thickness": 12, "calks": {"medial": 5, "lateral": 6}},
    "observations": {
        "dressing": {"axis": "straight", "sole": "whole"},
        "seen": [{"what": "crack", "place": "toe"}],
        "heel_fit": {"medial": {"length": 11, "width": 2}, "lateral": {"length": 12}},
        "toe_fit": {"overhang": 0, "clip": "seated", "clip_height": 10},
        "levelness": {"rocks": False, "gaps": {"toe": 0, "medial_heel": 0.1}, "medial_height": 60},
        "scorch": {
            "coverage": 0.98,
            "sole_scorch": 0,
            "sole_pressure": False,
            "contact_time": 6,
            "shoe_heat": "cherry",
        },
        "nails": [NAIL, {**NAIL, "branch": "lateral", "exit_height": 23}],
        "nails_even": {"medial": "even"},
        "finish": {"hand": "smooth"},
        "going": {"before": "sound", "trot_up": "sound"},
        "history": {"fitted": "2026-03-04"},
        "outline": {"hoof": [], "shoe": [], "lateral": "+x"},
    },
    "notes": "quiet",
}


def before(stage: str) -> dict[str, Any]:
    """The foot at that stage, with what can be observed there."""
    fitting = copy.deepcopy(WHOLE) | {"stage": stage}
    seen = fitting["observations"]
    if stage == "dressed":
        del fitting["shoe"], fitting["hot_fitted"]
        fitting["observations"] = {name: seen[name] for name in ("dressing", "seen", "history")}
    elif stage == "hot_fit":
        seen["nails"] = [
            {key: nail[key] for key in ("branch", "hole", "hole_inset", "to_white_line")} for nail in seen["nails"]
        ]
        del seen["nails_even"], seen["finish"]
    return fitting


def carried(stage: str, stage_before: str, /, **sent: Any) -> dict[str, Any]:
    """What is carried, by path, into a fitting that has nothing but what was ``sent``."""
    document = {"foot": "left_fore", "stage": stage, "observations": {}} | sent
    found = carried_from(document, before(stage_before), "one")
    assert {each.assessment for each in found} <= {"one"}
    return {each.field: each.value for each in found}


ALWAYS: Final = {
    "work",
    "hoof_form",
    "stance",
    "hoof.wall_thickness",
    "hoof.wall_angle",
    "hoof.coronet_overhang.medial",
    "hoof.coronet_overhang.lateral",
}
SHOE: Final = {f"shoe.{key}" for key in ("thickness", "refit", "new_thickness", "calks.medial", "calks.lateral")}
DRESSING: Final = {"observations.dressing.axis", "observations.dressing.sole", "observations.seen"}
IMPRINT: Final = {"hot_fitted"} | {
    f"observations.scorch.{key}" for key in ("coverage", "sole_scorch", "contact_time", "shoe_heat")
}


def nails(*keys: str) -> set[str]:
    return {f"observations.nails.{number}.{key}" for number in (0, 1) for key in keys}


HOLES: Final = nails("hole_inset", "to_white_line")
DRIVEN: Final = HOLES | nails("wall_height", "exit_height", "sound", "reaction", "blood", "position")


@pytest.mark.parametrize(
    ("stage", "stage_before", "stands"),
    [
        ("dressed", "dressed", ALWAYS | DRESSING),
        ("hot_fit", "dressed", ALWAYS | DRESSING),
        ("hot_fit", "hot_fit", ALWAYS | SHOE | DRESSING | IMPRINT | HOLES),
        # Which nails were driven is not to be seen from the holes.
        ("nailed", "hot_fit", ALWAYS | SHOE | DRESSING | IMPRINT),
        ("nailed", "nailed", ALWAYS | SHOE | DRESSING | IMPRINT | DRIVEN | {"observations.nails_even.medial"}),
        ("finished", "nailed", ALWAYS | SHOE | DRESSING | IMPRINT | DRIVEN | {"observations.nails_even.medial"}),
        ("finished", "dressed", ALWAYS | DRESSING),
    ],
)
def test_what_is_left_out_stands_by_the_two_stages(stage: str, stage_before: str, stands: set[str]) -> None:
    assert carried(stage, stage_before).keys() == stands


def test_what_is_sent_stands_alone() -> None:
    found = carried(
        "nailed",
        "hot_fit",
        work="draught",
        hoof={"wall_thickness": 10, "coronet_overhang": {"medial": 0}},
        observations={"dressing": {"axis": "broken_back"}, "seen": [], "scorch": {"coverage": "patchy"}},
    )
    assert found.keys().isdisjoint({"work", "hoof.wall_thickness", "hoof.coronet_overhang.medial"})
    assert found.keys().isdisjoint({"observations.dressing.axis", "observations.seen", "observations.scorch.coverage"})
    assert found["hoof.coronet_overhang.lateral"] == 1
    assert found["observations.dressing.sole"] == "whole"
    assert found["observations.scorch.contact_time"] == 6


@pytest.mark.parametrize(
    ("sent", "gone"),
    [
        ({"hoof": {"toe_angle": 51}}, {"hoof.wall_angle"}),
        ({"shoe": {"refit": False}}, {"shoe.refit", "shoe.new_thickness"}),
        (
            {"observations": {"scorch": {"holds": [{"start": 0, "seconds": 3}]}}},
            {"observations.scorch.contact_time", "observations.scorch.shoe_heat"},
        ),
        ({"observations": {"scorch": {"arcs": [[-140, 140]]}}}, {"observations.scorch.coverage"}),
        ({"stance": "regular"}, {"stance"}),
        ({"hoof_form": "base_narrow"}, {"hoof_form", "stance"}),
        ({"hot_fitted": False}, IMPRINT),
    ],
)
def test_fields_that_say_one_thing_between_them_stand_together_or_not_at_all(
    sent: dict[str, Any], gone: set[str]
) -> None:
    assert carried("hot_fit", "hot_fit").keys() - carried("hot_fit", "hot_fit", **sent).keys() == gone


def test_a_form_that_is_a_stance_stands_for_both() -> None:
    earlier = before("hot_fit") | {"hoof_form": "base_wide", "stance": None}
    sent = {"stage": "nailed", "observations": {}}
    fields = {each.field for each in carried_from(sent, earlier, "one")}
    assert "hoof_form" in fields
    assert "hoof_form" not in {each.field for each in carried_from(sent | {"stance": "regular"}, earlier, "one")}


def test_the_fit_and_the_seat_stand_only_where_that_is_said() -> None:
    said = {name: {"as_before": True} for name in ("heel_fit", "toe_fit", "levelness")}
    found = carried("nailed", "hot_fit", observations=said)
    fit = {name for name in found if name.startswith(tuple(f"observations.{part}" for part in said))}
    assert fit == {
        "observations.heel_fit.medial.length",
        "observations.heel_fit.medial.width",
        "observations.heel_fit.lateral.length",
        "observations.toe_fit.overhang",
        "observations.toe_fit.clip",
        "observations.toe_fit.clip_height",
        "observations.levelness.rocks",
        "observations.levelness.gaps.toe",
        "observations.levelness.gaps.medial_heel",
        "observations.levelness.medial_height",
        # Of the seat, wherever it was said.
        "observations.levelness.sole_pressure",
    }
    assert "observations.outline" in found
    one = carried("nailed", "hot_fit", observations={"heel_fit": {"as_before": True, "medial": {"width_least": 1}}})
    assert "observations.heel_fit.medial.length" in one
    assert one.keys().isdisjoint({"observations.heel_fit.medial.width", "observations.outline"})
    assert "observations.toe_fit.overhang" not in one
    assert carried("nailed", "hot_fit", observations={"heel_fit": {"as_before": False}}) == carried("nailed", "hot_fit")


def test_of_nails_that_are_named_those_stand_that_were_there() -> None:
    named = [{"branch": "lateral", "hole": 1, "clinch": "flush"}, {"branch": "lateral", "hole": 2}]
    found = carried_from({"stage": "finished", "observations": {"nails": named}}, before("nailed"), "one")
    of_nails = [each for each in found if each.place is not None]
    assert {each.place for each in of_nails} == {"nail:lateral:1"}
    assert {each.field for each in of_nails} == {name for name in DRIVEN if ".0." in name}
    assert {each.value for each in of_nails if each.field.endswith("exit_height")} == {23}
    whole = completed({"stage": "finished", "observations": {"nails": named}}, found)
    assert whole["observations"]["nails"][0]["exit_height"] == 23
    assert whole["observations"]["nails"][1] == named[1]


def test_a_nail_that_is_observed_anew_at_nailed_was_driven_anew() -> None:
    sent = {"stage": "nailed", "observations": {"nails": [{"branch": "medial", "hole": 1, "exit_height": 24}]}}
    keys = {each.field.rpartition(".")[2] for each in carried_from(sent, before("nailed"), "one") if each.place}
    assert keys == {"hole_inset", "to_white_line", "wall_height", "position"}
    finished = {
        each.field.rpartition(".")[2] for each in carried_from(sent | {"stage": "finished"}, before("nailed"), "")
    }
    assert {"sound", "reaction", "blood"} <= finished


def test_an_empty_list_of_nails_says_that_there_is_none() -> None:
    found = carried("finished", "nailed", observations={"nails": []})
    assert not [name for name in found if ".nails." in name]


def test_at_another_visit_only_work_form_and_stance_stand() -> None:
    assert carried("dressed", "finished", visit="V-2").keys() == {"work", "hoof_form", "stance"}
    assert len(carried("finished", "finished", visit="V-1")) > 20


def test_what_was_carried_comes_from_where_it_was_observed() -> None:
    first, second = before("hot_fit"), {"stage": "nailed", "observations": {"nails": [NAIL]}}
    into_second = carried_from(second, first, "one")
    third = {"stage": "finished", "observations": {}}
    into_third = carried_from(third, completed(second, into_second), "two", into_second)
    origins = {(each.field, each.assessment) for each in into_third}
    assert {("hoof.wall_thickness", "one"), ("observations.scorch.coverage", "one")} <= origins
    assert {("observations.nails.0.exit_height", "two"), ("observations.nails.0.hole_inset", "two")} <= origins


def test_the_order_of_nails_does_not_matter_to_where_they_come_from() -> None:
    earlier = before("nailed")
    origins = [Carried("observations.nails.1.hole_inset", 9, "zero", "nail:lateral:1")]
    sent = {"stage": "finished", "observations": {"nails": [{"branch": "lateral", "hole": 1}]}}
    found = {each.field: each.assessment for each in carried_from(sent, earlier, "one", origins)}
    assert found["observations.nails.0.hole_inset"] == "zero"
    assert found["observations.nails.0.exit_height"] == "one"


def test_what_was_sent_stays_as_it_is() -> None:
    sent: dict[str, Any] = {"stage": "finished", "observations": {"nails": [{"branch": "medial", "hole": 1}]}}
    copied = copy.deepcopy(sent)
    whole = completed(sent, carried_from(sent, before("nailed"), "one"))
    assert sent == copied
    assert whole["observations"]["nails"][0]["sound"] == "firm"
    assert whole["work"] == "riding"


@pytest.mark.parametrize(
    "sent",
    [
        None,
        [],
        {"stage": ["nailed"]},
        {"stage": "nailed", "observations": 5, "hoof": "thick", "shoe": []},
        {"stage": "nailed", "observations": {"nails": "none", "scorch": 3, "heel_fit": "x", "dressing": [1]}},
        {"stage": "nailed", "observations": {"nails": [None, 3, {"branch": []}], "levelness": {"as_before": "yes"}}},
        {"stage": "nailed", "hoof_form": ["acute"], "visit": {}, "hoof": {"coronet_overhang": 3}},
    ],
)
def test_what_is_no_fitting_stays_wrong(sent: Any) -> None:
    found = carried_from(sent, before("nailed"), "one")
    whole = completed(sent, found)
    if isinstance(sent, dict):
        for key in ("observations", "hoof", "shoe"):
            assert isinstance(whole.get(key), dict) or key not in sent or whole[key] == sent[key]
    else:
        assert whole == sent
