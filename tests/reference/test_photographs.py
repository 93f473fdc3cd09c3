"""Feet traced by taps on invented photographs, through the page's own reckoning and the service's JSON door.

JCGM 101:2008 (propagation of distributions by a Monte Carlo method) is the source of the procedure; what must hold is
our own demand.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

import numpy as np
import pytest

from fitcheck.assessment.assess import assess
from fitcheck.assessment.models import Assessment
from fitcheck.fitting.validation import parse_fitting
from tests.support.counts import tries
from tests.support.page_modules import run_in_node
from tests.support.photographed_foot import PhotographedFoot, true_lines
from tests.support.whole_feet import good_foot

_IMPORTS: Final = (
    'import { outlineOf } from "./trace/geometry.js";',
    'import { planeOf } from "./trace/plane.js";',
)
_OUTLINES: Final = (
    """return given.map((taps) => outlineOf(taps, planeOf(taps.by, taps.scale, taps.length ?? null), "left_fore"));"""
)
_WIDTHS: Final = [("width", "medial_heel"), ("width", "lateral_heel")]
_OTHERS: Final = [
    *(("overhang", place) for place in ("toe", "medial_quarter", "lateral_quarter")),
    *(("length", f"{side}_heel") for side in ("medial", "lateral")),
    ("shoe_length", "foot"),
    ("branch_difference", "foot"),
]
_RESOLUTIONS: Final = (3.0, 6.0, 12.0)
"""Pixels to a millimetre."""


def _judged(outline: dict[str, Any], *, length: float | None = None) -> Assessment:
    """The good fore foot of the handbooks, with a tracing in the place of what a tracing shows."""
    fitting = good_foot("fore_tried")
    fitting["shoe"].pop("length")
    if length is not None:
        fitting["shoe"]["length"] = length
    for side in ("medial", "lateral"):
        fitting["observations"]["heel_fit"][side] = {"frog_gap": 9}
    for name in ("overhang", "medial_overhang", "lateral_overhang"):
        del fitting["observations"]["toe_fit"][name]
    fitting["observations"]["outline"] = outline
    return assess(parse_fitting(fitting))


def _table(judged: Assessment) -> dict[tuple[str, str], tuple[float, float]]:
    return {(each.quantity, each.place): (each.value, each.u) for each in judged.measurements}


def _true() -> dict[tuple[str, str], float]:
    hoof, shoe = true_lines(1200)
    made = {"hoof": hoof.tolist(), "shoe": shoe.tolist(), "lateral": "+x", "made": {"by": "scanner", "u": 1e-6}}
    judged = _judged(made)
    assert _holds_up(judged) == []
    return {key: value for key, (value, _) in _table(judged).items()}


def _holds_up(judged: Assessment) -> list[str]:
    return [each.id for each in judged.findings if each.blocks or each.grade != "minor"]


def _feet(by: str, many: int) -> list[PhotographedFoot]:
    rng = np.random.default_rng(11)
    return [
        PhotographedFoot(_RESOLUTIONS[number % 3], float(rng.uniform(0, 20)), by, seed=number) for number in range(many)
    ]


@pytest.mark.parametrize("by", ["card", "sheet"])
def test_widths_of_a_photograph_with_a_card_lie_within_twice_their_u_and_a_good_foot_is_not_called_wrong(
    tmp_path: Path, by: str
) -> None:
    many = tries(60, full=3000)
    feet = _feet(by, many)
    sent = run_in_node(tmp_path, _IMPORTS, _OUTLINES, [foot.taps() for foot in feet])
    true, within, wrong = _true(), dict.fromkeys([*_WIDTHS, *_OTHERS], 0), []
    unsure = 0
    for outline in sent:
        judged = _judged(outline, length=true["shoe_length", "foot"])
        table = _table(judged)
        for key in within:
            value, u = table.get(key, (np.nan, 0.0))
            within[key] += abs(value - true[key]) <= 2 * u
        wrong += [found] if (found := _holds_up(judged)) else []
        unsure += judged.decision == "incomplete"
    for key in within:
        assert within[key] / many >= (0.95 if key in _WIDTHS else 0.9), key
    assert len(wrong) / many < 0.05, wrong
    assert unsure / many < 0.05
