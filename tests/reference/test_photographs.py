"""Feet traced by taps on invented photographs, through the page's own reckoning and the service's JSON door.

JCGM 101:2008 (propagation of distributions by a Monte Carlo method) is the source of the procedure; what must hold is
our own demand.
"""

from __future__ import annotations

import ast
from pathlib import Path
from typing import Any, Final

import numpy as np
import pytest
from scipy.spatial import cKDTree

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
_SNAP: Final = 'import { snapped, wayAt } from "./trace/snap.js";'
_SNAPPED: Final = """return given.map(({ path, size, reach, taps }) => {
  const grey = { width: size, height: size, left: 0, top: 0, data: fs.readFileSync(path) };
  const to = (list) => list.map((tap, at) =>
    [...(snapped(grey, tap, wayAt(tap, list[at - 1], list[at + 1]), reach) ?? tap.slice(0, 2)), tap[2]]);
  const all = { ...taps, hoof: to(taps.hoof), shoe: to(taps.shoe) };
  return { hoof: all.hoof, shoe: all.shoe, sent: outlineOf(all, planeOf(all.by, all.scale, null), "left_fore") };
});"""
_WIDTHS: Final = [("width", "medial_heel"), ("width", "lateral_heel")]
_OTHERS: Final = [
    *(("overhang", place) for place in ("toe", "medial_quarter", "lateral_quarter")),
    *(("length", f"{side}_heel") for side in ("medial", "lateral")),
    ("trace_ratio", "foot"),
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
    return {key: value for key, (value, _) in _table(judged).items()} | {("trace_ratio", "foot"): 1.0}


def _holds_up(judged: Assessment) -> list[str]:
    return [each.id for each in judged.findings if each.blocks or each.grade != "minor"]


def _feet(by: str, many: int) -> list[PhotographedFoot]:
    rng = np.random.default_rng(11)
    return [
        PhotographedFoot(_RESOLUTIONS[number % 3], float(rng.uniform(0, 20)), by, seed=number) for number in range(many)
    ]


def _held(sent: list[dict[str, Any]]) -> None:
    """Widths lie within twice their u, and few of so many tracings of a good foot call it wrong, or leave it open."""
    true, within, wrong, unsure = _true(), dict.fromkeys([*_WIDTHS, *_OTHERS], 0), [], 0
    many = len(sent)
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


@pytest.mark.parametrize("by", ["card", "sheet"])
def test_widths_of_a_photograph_with_a_card_lie_within_twice_their_u_and_a_good_foot_is_not_called_wrong(
    tmp_path: Path, by: str
) -> None:
    feet = _feet(by, tries(15, full=3000))
    _held(run_in_node(tmp_path, _IMPORTS, _OUTLINES, [foot.taps() for foot in feet]))


def test_with_a_rule_alone_the_tilt_is_in_the_uncertainty(tmp_path: Path) -> None:
    feet = _feet("card", tries(10, full=1000))
    sent = run_in_node(tmp_path, _IMPORTS, _OUTLINES, [foot.by_rule() for foot in feet])
    by_card = run_in_node(tmp_path, _IMPORTS, _OUTLINES, [foot.taps() for foot in feet if foot.per_mm > 10])
    _held(sent)
    # Where the foot fills the picture the card is the surer.
    shares = [[each["scale"]["u"] / each["scale"]["mm"] for each in made] for made in (sent, by_card)]
    assert min(shares[0]) > max(shares[1])


def _off(foot: PhotographedFoot, name: str, taps: list[list[float]]) -> Any:
    """How far taps lie off the true line, in pixels."""
    line = foot.seen(true_lines(3000)[name == "shoe"])
    return cKDTree(line).query(np.array([tap[:2] for tap in taps]))[0]


def test_points_go_to_the_edge_on_a_photograph_with_shadow_and_noise(tmp_path: Path) -> None:
    feet = _feet("card", tries(2, full=120))
    sent = []
    off: dict[tuple[str, str], list[Any]] = {}
    for foot in feet:
        path = tmp_path / "grey"
        path.write_bytes(foot.picture().tobytes())
        taps = foot.taps()
        asked = [{"path": str(path), "size": foot.size, "reach": 6, "taps": taps}]
        [found] = run_in_node(tmp_path, (*_IMPORTS, _SNAP), _SNAPPED, asked)
        sent.append(found["sent"])
        for name in ("hoof", "shoe"):
            off.setdefault((name, "tapped"), []).extend(_off(foot, name, taps[name]))
            off.setdefault((name, "snapped"), []).extend(_off(foot, name, found[name]))
    size = {key: float(np.sqrt(np.mean(np.square(each)))) for key, each in off.items()}
    # The shoe's edge lies on its own shadow, dark beside dark: there little is won, and nothing lost.
    assert size["hoof", "snapped"] < 0.6 * size["hoof", "tapped"]
    assert size["shoe", "snapped"] < 1.1 * size["shoe", "tapped"]
    _held(sent)


def test_nothing_is_invented_or_judged_where_mud_hand_or_clip_hides_the_edge(tmp_path: Path) -> None:
    foot = PhotographedFoot(12.0, 12.0, seed=5)
    whole, wall, iron, toe = (foot.taps(scatter=0.01) for _ in range(4))
    wall["hoof"][13].append(1)  # the wall from one tap to the next but two
    del wall["hoof"][14:16]
    iron["shoe"][2].append(1)
    del iron["shoe"][3:6]
    toe["shoe"][6].append(1)
    del toe["shoe"][7:12]
    sent = run_in_node(tmp_path, _IMPORTS, _OUTLINES, [whole, wall, iron, toe])
    assert "hidden" not in sent[0]
    for outline, line in zip(sent[1:], ("hoof", "shoe", "shoe"), strict=True):
        [stretch] = outline["hidden"]
        steps = np.hypot(*np.diff(outline[line], axis=0).T)
        assert (steps > 25).sum() == 1, "one chord with no point on it"
        assert all(end in outline["hoof"] for end in stretch)
    tables = [_table(_judged(outline)) for outline in sent]
    assert {("width", "lateral_heel"), ("width", "medial_heel"), ("shoe_length", "foot")} <= set(tables[0])
    for table in tables[1:]:
        for key in {*_WIDTHS, ("overhang", "toe")} & set(table):
            # What is left of a stretch is judged by what was seen of it.
            assert table[key][0] == pytest.approx(tables[0][key][0], abs=0.5)
    assert ("shoe_length", "foot") not in tables[3]
    assert ("overhang", "toe") not in tables[3]


def test_a_branch_whose_end_is_hidden_is_not_told_as_uncovered(tmp_path: Path) -> None:
    """The last tap of the shoe says that it is hidden from there; no tap follows."""
    unsaid, said = (PhotographedFoot(12.0, 5.0, seed=3).taps(scatter=1.0) for _ in range(2))
    for taps in (unsaid, said):
        del taps["shoe"][-3:]
    said["shoe"][-1].append(1)
    sent = run_in_node(tmp_path, _IMPORTS, _OUTLINES, [unsaid, said])
    short, hidden = (_judged(outline, length=_true()["shoe_length", "foot"]) for outline in sent)
    assert "heel-not-covered@lateral_heel" in {each.id for each in short.findings}
    assert (hidden.decision, hidden.findings) == ("incomplete", ())
    assert ("length", "medial_heel") in _table(hidden)
    assert ("length", "lateral_heel") not in _table(hidden)
    # The other branch tells where the shoe ends.
    assert _table(hidden)["trace_ratio", "foot"][0] == pytest.approx(1, abs=0.02)


def test_the_photographs_are_drawn_by_nothing_of_what_they_try(root: Path) -> None:
    tree = ast.parse((root / "tests" / "support" / "photographed_foot.py").read_text(encoding="utf-8"))
    modules = {node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    modules |= {each.name for node in ast.walk(tree) if isinstance(node, ast.Import) for each in node.names}
    assert {name.partition(".")[0] for name in modules} == {"__future__", "dataclasses", "typing", "numpy", "PIL"}
