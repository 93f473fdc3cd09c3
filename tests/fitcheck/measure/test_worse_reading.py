"""Of two readings of one thing the worse counts, and where they would decide differently that is a finding.

That one more reading of the same quantity never makes a decision better is tried on random feet, whose numbers and
traces are drawn by tests/support/random_fittings.py, which knows nothing of the package.
"""

from __future__ import annotations

import copy
from collections.abc import Iterator
from typing import Any, Final

import pytest

from fitcheck.assessment.assess import assess
from fitcheck.assessment.models import Assessment
from fitcheck.fitting.validation import parse_fitting
from rules import first_rulebook
from tests.support.counts import tries
from tests.support.outlines import branches
from tests.support.random_fittings import random_fittings

_GRAVITY: Final = {"release": 0, "go_on": 0, "incomplete": 0, "put_right": 1, "stop_and_refer": 2}
"""What more readings may not lessen; an incomplete foot may become complete by what a trace shows besides."""


def _good() -> dict[str, Any]:
    return {
        "foot": "left_fore",
        "stage": "finished",
        "work": "draught",
        "hot_fitted": False,
        "hoof": {"wall_thickness": 12},
        "shoe": {"thickness": 11},
        "observations": {
            "heel_fit": {side: {"length": 11, "width": 2.4, "frog_gap": 9} for side in ("medial", "lateral")},
            "toe_fit": {"overhang": 0.5, "medial_overhang": 0.8, "lateral_overhang": 0.8, "wall_rasped_back": False}
            | {"clip": "seated", "clip_height": 12},
            "levelness": {
                "rocks": False,
                "sole_pressure": False,
                "gaps": {"toe": 0, "medial_heel": 0, "lateral_heel": 0},
            },
            "nails": [
                {"branch": side, "hole": hole, "exit_height": 24 - hole, "sound": "firm", "reaction": "none"}
                | {"blood": False, "clinch": "flush", "head": "seated"}
                for side in ("medial", "lateral")
                for hole in range(1, 5)
            ],
            "finish": {"hand": "smooth", "rasped_above_clinches": False},
            "going": {"trot_up": "sound", "walk": "free"},
        },
    }


_FLAT: Final = [[-55, 0, 5], [55, 0, 5], [0, 70, 5], [-45, -50, 5], [45, -50, 5], [-40, 55, 5], [40, 55, 5]]
_TRACE: Final = {"hoof": branches(60, 75, -62), "shoe": branches(62.4, 75.5, -73), "lateral": "+x"}


def _assessed(fitting: dict[str, Any]) -> Assessment:
    return assess(parse_fitting(fitting))


def _with(**parts: dict[str, Any]) -> dict[str, Any]:
    fitting = _good()
    for name, part in parts.items():
        fitting["observations"][name] = fitting["observations"].get(name, {}) | part
    return fitting


def test_the_foot_itself_is_good() -> None:
    assert _assessed(_good()).decision == "release"
    assert _assessed(_with(outline=_TRACE, levelness={"heights": _FLAT})).decision == "release"


def test_a_gap_felt_beside_flat_heights_is_a_gap() -> None:
    gaps = {"toe": 5, "medial_heel": 0, "lateral_heel": 0}
    found = _assessed(_with(levelness={"gaps": gaps, "heights": _FLAT}))
    assert found.decision == "put_right"
    rules = {(finding.rule, finding.place) for finding in found.findings}
    assert {("seat-gap-open", "toe"), ("readings-decide-differently", "toe")} <= rules


@pytest.mark.parametrize(
    ("read", "rule"),
    [({"width": -4}, "heel-width-tight"), ({"length": -6}, "heel-not-covered")],
    ids=("width", "length"),
)
def test_what_was_measured_bad_beside_a_good_trace_is_bad(read: dict[str, Any], rule: str) -> None:
    heel = {"medial": {"frog_gap": 9} | read, "lateral": {"frog_gap": 9}}
    found = _assessed(_with(outline=_TRACE, heel_fit=heel))
    assert found.decision == "put_right"
    rules = {(finding.rule, finding.place) for finding in found.findings}
    assert {(rule, "medial_heel"), ("readings-decide-differently", "medial_heel")} <= rules


def test_a_poor_coverage_beside_whole_arcs_is_poor() -> None:
    fitting = _with(scorch={"coverage": 0.3, "arcs": [[-150, 150]], "sole_scorch": 0, "sole_pressure": False})
    found = _assessed(fitting | {"hot_fitted": True})
    assert found.decision == "put_right"
    assert "imprint-poor" in {finding.rule for finding in found.findings}


def test_what_was_measured_good_beside_a_bad_trace_is_bad_as_well() -> None:
    short = {**_TRACE, "shoe": branches(62.4, 75.5, -56)}
    found = _assessed(_with(outline=short))
    assert {finding.place for finding in found.findings if finding.rule == "heel-not-covered"} == {
        "medial_heel",
        "lateral_heel",
    }


def test_a_difference_of_branches_may_come_of_one_hand_and_one_trace() -> None:
    heel = {"medial": {"length": 8.5, "frog_gap": 9}, "lateral": {"length": 8.5, "frog_gap": 9}}
    longer = {**_TRACE, "shoe": branches(62.4, 75.5, -75.9)}
    found = _assessed(_with(outline=longer, heel_fit=heel))
    assert [finding.rule for finding in found.findings if finding.measured and finding.place == "foot"] == [
        "branches-far-uneven"
    ]


def test_two_readings_that_decide_alike_only_disagree() -> None:
    heel = {"medial": {"width": 3.1, "frog_gap": 9}, "lateral": {"frog_gap": 9}}
    close = {**_TRACE, "shoe": branches(60.3, 75.5, -73)}
    rules = {finding.rule: finding for finding in _assessed(_with(outline=close, heel_fit=heel)).findings}
    assert "readings-decide-differently" not in rules
    assert rules["readings-disagree"].blocks is False or rules["readings-disagree"].grade == "minor"


def test_in_the_first_rulebook_the_computed_reading_stands_as_it_did() -> None:
    heel = {"medial": {"width": -4, "frog_gap": 9}, "lateral": {"frog_gap": 9}}
    found = assess(parse_fitting(_with(outline=_TRACE, heel_fit=heel)), first_rulebook())
    assert "heel-width-tight" not in {finding.rule for finding in found.findings}


def _fewer(fitting: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """The foot without one of the readings that it has twice."""
    seen = fitting["observations"]
    outline, level, scorch = seen.get("outline"), seen.get("levelness") or {}, seen.get("scorch") or {}
    twice: list[tuple[str, ...]] = []
    if outline:
        twice += [("heel_fit", side, name) for side in ("medial", "lateral") for name in ("width", "length")]
        twice += [("toe_fit", name) for name in ("overhang", "medial_overhang", "lateral_overhang")]
    if level.get("heights"):
        twice += [("levelness", "gaps", place) for place in ("toe", "medial_quarter", "medial_heel", "lateral_heel")]
    if scorch.get("arcs"):
        twice.append(("scorch", "coverage"))
    for *path, last in twice:
        less = copy.deepcopy(fitting)
        here: Any = less["observations"]
        for step in path:
            here = (here or {}).get(step)
        if here and here.get(last) is not None:
            del here[last]
            yield less


def test_one_more_reading_of_a_quantity_never_makes_a_decision_better() -> None:
    tried = 0
    for number, fitting in enumerate(random_fittings(1501, tries(6, full=2_000))):
        # Most random feet stop for a nail; without that, what is tried shows in the decision.
        for nail in fitting["observations"].get("nails", ()) if number % 4 else ():
            nail |= {"reaction": "none", "blood": False, "sound": "firm"}
        for less in _fewer(fitting):
            before, after = _assessed(less), _assessed(fitting)
            assert _GRAVITY[after.decision] >= _GRAVITY[before.decision], (less, fitting)
            tried += 1
    assert tried > 20
