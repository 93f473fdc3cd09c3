"""The fitting as outside clients send it: the contract's names, contradictions, closed words."""

from __future__ import annotations

import copy
import math
from collections.abc import Callable
from typing import Any

import pytest
from pydantic import ValidationError

from fitcheck.assessment.assess import assess
from fitcheck.fitting.models import Fitting

Changed = Callable[..., dict[str, Any]]


def round_the_wall(radius: float, step: int = 5) -> list[list[float]]:
    """Points (mm) on a circle from heel to heel, the toe towards +y, every ``step`` degrees."""
    turns = [math.radians(angle) for angle in range(-150, 151, step)]
    return [[round(radius * math.sin(turn), 2), round(radius * math.cos(turn), 2)] for turn in turns]


EVERY_FIELD: dict[str, Any] = {
    "foot": "left_fore",
    "stage": "finished",
    "work": "draught",
    "hoof_form": "regular",
    "hot_fitted": True,
    "horse": {"id": "H-101", "ueln": None, "transponder": None},
    "person": {"id": "A-3", "role": "apprentice"},
    "assessor": {"id": "S-1"},
    "visit": "2026-03-04-H-101",
    "hoof": {"wall_thickness": 11, "sole_thickness": 10, "wall_height": 95},
    "shoe": {"thickness": 11, "length": 160},
    "observations": {
        "heel_fit": {
            "medial": {"length": 11, "width": 2.4, "frog_gap": 8},
            "lateral": {"length": 11, "width": "tight", "frog_gap": 8},
        },
        "toe_fit": {
            "overhang": 0,
            "medial_overhang": 0,
            "lateral_overhang": 0,
            "wall_rasped_back": False,
            "clip": "none",
            "clip_height": None,
        },
        "levelness": {
            "rocks": False,
            "gaps": {"toe": 0, "medial_heel": 0.2},
            "heights": [[x, y, 0.1] for x, y in round_the_wall(62, step=50)],
            "medial_height": 60,
            "lateral_height": 60,
        },
        "nails": [
            {
                "branch": "medial",
                "hole": 1,
                "exit_height": 22,
                "wall_height": 70,
                "position": 0.2,
                "hole_inset": 9,
                "sound": "firm",
                "reaction": "none",
                "blood": False,
                "clinch": "flush",
            }
        ],
        "scorch": {
            "arcs": [[-140, 140]],
            "coverage": 0.98,
            "sole_scorch": 0,
            "sole_pressure": False,
            "shoe_heat": "black",
            "contact_time": 6,
        },
        "finish": {"hand": "smooth", "rasped_above_clinches": False},
        "soundness": {"trot_up": "sound"},
        "history": {"last_shod": "2026-01-21", "fitted": "2026-03-04", "old_hole_drop": 11},
        "outline": {
            "hoof": round_the_wall(68),
            "shoe": round_the_wall(69.5),
            "nail_holes": [[-54, 20], [54, 20]],
            "lateral": "+x",
        },
    },
    "notes": "free text",
}


def test_every_field_of_the_contract_is_taken() -> None:
    fitting = Fitting.model_validate(EVERY_FIELD)
    assert fitting.observations.outline is not None
    assert fitting.observations.history is not None


def test_every_field_of_the_contract_is_written_back() -> None:
    assert lost(EVERY_FIELD, Fitting.model_validate(EVERY_FIELD).model_dump(mode="json")) == []


def lost(sent: Any, written: Any, path: str = "") -> list[str]:
    """The fields of ``sent`` that ``written`` has not; it may have more."""
    if isinstance(sent, dict):
        return [
            name
            for key, value in sent.items()
            for name in (lost(value, written[key], f"{path}.{key}") if key in written else [f"{path}.{key}"])
        ]
    if isinstance(sent, list):
        assert len(sent) == len(written)
        return [name for one, other in zip(sent, written, strict=True) for name in lost(one, other, path)]
    return []


def test_a_field_that_is_lost_is_named() -> None:
    assert lost({"a": [{"b": 1, "c": 1}]}, {"a": [{"b": 1, "d": 1}], "e": 1}) == [".a.c"]


def test_the_slope_of_the_wall_and_further_contacts_may_be_given_and_need_not_be(changed: Changed) -> None:
    """Both are beyond the contract, so no client need know of them."""
    without = Fitting.model_validate(changed())
    assert without.hoof is not None
    assert without.hoof.wall_angle is None
    fitting = Fitting.model_validate(
        changed(hoof__wall_angle={"value": 53, "u": 1.5}, observations__scorch__further_contact_times=[4, 3.5])
    )
    slopes = [each for each in assess(fitting).measurements if each.quantity == "wall_angle"]
    assert [(each.place, each.value, each.u, each.unit) for each in slopes] == [("foot", 53.0, 1.5, "deg")]
    assert fitting.observations.scorch is not None
    assert [given.value for given in fitting.observations.scorch.further_contact_times or ()] == [4, 3.5]


def test_an_assessment_has_the_fields_of_the_contract(good: dict[str, Any]) -> None:
    assessment = assess(Fitting.model_validate(good)).model_dump(mode="json")
    assert {
        "id",
        "created",
        "foot",
        "stage",
        "rulebook",
        "decision",
        "findings",
        "actions",
        "conforms",
        "not_assessed",
        "measurements",
        "cautions",
    } <= assessment.keys()


def test_a_finding_has_the_fields_of_the_contract() -> None:
    finding = assess(Fitting.model_validate(EVERY_FIELD)).model_dump(mode="json")["findings"][0]
    assert {
        "rule",
        "criterion",
        "place",
        "grade",
        "confidence",
        "measured",
        "limit",
        "finding",
        "action",
        "amount",
        "caution",
        "rests_on",
        "sources",
    } <= finding.keys()


def test_only_foot_stage_work_and_observations_are_required() -> None:
    fitting = Fitting.model_validate({"foot": "left_fore", "stage": "hot_fit", "work": "riding", "observations": {}})
    assert fitting.hoof_form == "regular"
    assert assess(fitting).decision == "incomplete"


def every_object(raw: Any, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    paths: list[tuple[str | int, ...]] = []
    if isinstance(raw, dict):
        paths.append(path)
        for key, value in raw.items():
            paths += every_object(value, (*path, key))
    elif isinstance(raw, list):
        for number, value in enumerate(raw):
            paths += every_object(value, (*path, number))
    return paths


@pytest.mark.parametrize("path", every_object(EVERY_FIELD), ids=lambda path: ".".join(map(str, path)) or "(top)")
def test_an_unknown_key_is_refused_in_every_object(path: tuple[str | int, ...]) -> None:
    raw = copy.deepcopy(EVERY_FIELD)
    here: Any = raw
    for step in path:
        here = here[step]
    here["colour"] = 1
    with pytest.raises(ValidationError) as caught:
        Fitting.model_validate(raw)
    assert any(error["loc"][: len(path)] == path for error in caught.value.errors())


@pytest.mark.parametrize(
    ("edits", "field"),
    [
        pytest.param({"observations__toe_fit__clip": "none"}, "clip_height", id="a clip height without a clip"),
        pytest.param({"hot_fitted": False}, "hot_fitted", id="scorch on a cold-fitted foot"),
        pytest.param({"observations__history__last_shod": "2026-03-05"}, "fitted", id="fitted before last shod"),
        pytest.param({"observations__nails__1__hole": 1}, "nails.1.hole", id="one hole twice"),
    ],
)
def test_a_contradiction_names_its_field(edits: dict[str, Any], field: str, changed: Changed) -> None:
    with pytest.raises(ValidationError) as caught:
        Fitting.model_validate(changed(**edits))
    (error,) = caught.value.errors()
    assert error["ctx"]["field"] == field
    assert error["ctx"]["allowed"]


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("foot", "near_fore"),
        ("stage", "shod"),
        ("work", "plough"),
        ("hoof_form", "flat"),
        ("hot_fitted", 1),
        ("observations__nails__0__blood", "no"),
        ("observations__nails__0__hole", 0),
        ("observations__nails__0__hole", 1.5),
        ("observations__nails__0__hole", True),
        ("observations__nails__0__sound", "dull"),
        ("observations__soundness__trot_up", ""),
        ("observations__history__fitted", "2026-02-30"),
        ("observations__history__fitted", "04/03/2026"),
        ("observations__history__fitted", 20260304),
        ("observations__levelness__gaps", {"heel": 1}),
        ("observations__scorch__arcs", [[0, 200]]),
        ("observations__scorch__further_contact_times", 4),
        ("observations__scorch__further_contact_times", [-1]),
        ("observations__scorch__further_contact_times", [1] * 21),
        ("hoof__wall_angle", 29.9),
        ("hoof__wall_angle", 100.1),
        ("hoof__wall_angle", {"value": 53, "unit": "mm"}),
        ("horse", {"transponder": "12"}),
        ("horse", {"ueln": "GBR000000000000"}),
        ("person", {"id": ""}),
        ("visit", "a\nb"),
        ("notes", "x" * 2001),
    ],
)
def test_what_is_not_a_word_or_form_of_the_contract_is_refused(path: str, value: Any, changed: Changed) -> None:
    with pytest.raises(ValidationError):
        Fitting.model_validate(changed(**{path: value}))
