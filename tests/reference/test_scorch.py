"""The scorch map against a fine grid of angles, shapely's union of intervals, and a simulation (JCGM 101:2008)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, unary_union

from fitcheck.errors import BadInput
from fitcheck.fitting.models import Fitting
from fitcheck.measure import measured
from fitcheck.measure.scorch import scorch
from rules import Reading, shipped_rulebook

BOOK = shipped_rulebook()
END = 150.0
UNHURRIED = settings(deadline=None)  # a busy machine is no fault
DEG = BOOK.instruments["deg"].u
Arcs = Sequence[Sequence[float]]

edge = st.integers(-1800, 1800).map(lambda tenths: tenths / 10)
arc = st.tuples(edge, edge).map(sorted)
arcs_of = st.lists(arc, max_size=8)


def fitting_of(arcs: Arcs, **levelness: Any) -> Fitting:
    seen: dict[str, Any] = {"scorch": {"arcs": [list(map(float, each)) for each in arcs]}}
    if levelness:
        seen["levelness"] = levelness
    return Fitting.model_validate({"foot": "left_fore", "stage": "hot_fit", "work": "draught", "observations": seen})


def read(arcs: Arcs, readings_of: Mapping[tuple[str, str], Reading] | None = None) -> tuple[Reading, Reading]:
    coverage, bare = scorch(fitting_of(arcs), readings_of or {}, BOOK)
    assert isinstance(coverage, Reading)
    assert isinstance(bare, Reading)
    assert (coverage.quantity, coverage.place, bare.quantity) == ("coverage", "foot", "bare_arc")
    return coverage, bare


@UNHURRIED
@given(arcs_of)
def test_coverage_and_bare_arc_are_those_of_a_grid_of_angles(arcs: Arcs) -> None:
    """Edges lie on tenths of a degree, so the middles of the tenths are marked or bare as a whole."""
    middles = (np.arange(-1500, 1500) + 0.5) / 10
    marked = np.zeros(3000, dtype=bool)
    for first, last in arcs:
        marked |= (middles > first) & (middles < last)
    longest = run = 0
    for bare_tenth in ~marked:
        run = run + 1 if bare_tenth else 0
        longest = max(longest, run)
    coverage, bare = read(arcs)
    assert coverage.value == pytest.approx(marked.mean(), abs=1e-9)
    assert bare.value == pytest.approx(longest / 10, abs=1e-9)


@UNHURRIED
@given(arcs_of)
def test_coverage_is_the_length_of_shapelys_union(arcs: Arcs) -> None:
    wall = LineString([(-END, 0), (END, 0)])
    union = unary_union([LineString([(first, 0), (last, 0)]) for first, last in arcs if first < last])
    assert read(arcs)[0].value == pytest.approx(union.intersection(wall).length / (2 * END), abs=1e-9)


@UNHURRIED
@given(arcs_of, st.randoms(use_true_random=False), st.floats(0, 1))
def test_order_splitting_and_doubling_of_arcs_change_nothing(arcs: Arcs, chance: Any, part: float) -> None:
    pieces = [list(each) for each in arcs]
    for first, last in arcs:
        cut = min(last, max(first, first + part * (last - first)))
        pieces += [[first, cut], [cut, last]]
    chance.shuffle(pieces)
    assert read(pieces) == read(arcs)


@UNHURRIED
@given(arcs_of, arc)
def test_one_more_arc_never_lowers_coverage_nor_lengthens_the_bare_arc(arcs: Arcs, more: list[float]) -> None:
    (before, bare_before), (after, bare_after) = read(arcs), read([*arcs, more])
    assert float(after.value) >= float(before.value) - 1e-12
    assert float(bare_after.value) <= float(bare_before.value) + 1e-12


@UNHURRIED
@given(st.integers(-140, 100), st.integers(10, 40))
def test_the_mirrored_foot_has_its_bare_arc_on_the_other_side(first: int, length: int) -> None:
    last = min(first + length, 149)
    coverage, bare = read([[-150, first], [last, 150]])
    swapped, bare_swapped = read([[-150, -last], [-first, 150]])
    assert (swapped.value, swapped.u) == pytest.approx((coverage.value, coverage.u))
    assert bare_swapped.value == pytest.approx(bare.value)
    swap = {"medial": "lateral", "lateral": "medial"}
    side, _, spot = bare.place.partition("_")
    # A run whose middle is straight ahead stays at the toe.
    assert bare_swapped.place == (f"{swap[side]}_{spot}" if spot else "toe")


def test_each_edge_that_is_not_the_walls_end_adds_the_uncertainty_of_an_angle() -> None:
    coverage, bare = read([[-150, 110], [130, 150]])
    assert (bare.place, bare.value, bare.where) == ("lateral_heel", 20.0, "from 110 to 130 deg on the lateral side")
    assert bare.u == pytest.approx(2**0.5 * DEG)
    assert coverage.u == pytest.approx(2**0.5 * DEG / 300)
    coverage, bare = read([[-150, 110]])
    assert (bare.value, bare.u) == pytest.approx((40, DEG))
    assert (coverage.value, coverage.u) == pytest.approx((260 / 300, DEG / 300))


@pytest.mark.parametrize("arcs", [[[-150, -30], [40, 150]], [[-120, 60], [70, 140]], [[-150, -40], [-50, 90]]])
def test_the_propagated_uncertainties_agree_with_a_simulation_of_the_arcs(arcs: list[list[float]]) -> None:
    rng = np.random.default_rng(101)
    values = []
    for _ in range(4000):
        drawn = [[at if abs(at) == END else float(at + rng.normal(0, DEG)) for at in each] for each in arcs]
        values.append([float(each.value) for each in read(drawn)])
    spread = np.std(values, axis=0)
    coverage, bare = read(arcs)
    assert (coverage.u, bare.u) == pytest.approx(tuple(spread), rel=0.10)


def test_a_wholly_marked_wall_has_a_bare_arc_of_nought_at_the_toe() -> None:
    coverage, bare = read([[-160, 20], [20, 155]])
    assert (coverage.value, coverage.u) == (1.0, 0.0)
    assert (bare.place, bare.value, bare.u) == ("toe", 0.0, 0.0)


@pytest.mark.parametrize("arcs", [[], [[10, 10]], [[155, 170]]])
def test_arcs_that_mark_no_wall_leave_the_whole_of_it_bare(arcs: Arcs) -> None:
    coverage, bare = read(arcs)
    assert (coverage.value, coverage.u) == (0.0, 0.0)
    assert (bare.value, bare.u, bare.where) == (300.0, 0.0, "the whole wall, from heel to heel")


def test_an_arc_that_runs_backwards_is_refused_by_its_number() -> None:
    with pytest.raises(BadInput, match="runs backwards") as refused:
        read([[-150, 0], [150, 20], [3, 2]])
    fields = [problem.field for problem in refused.value.problems]
    assert fields == ["observations.scorch.arcs.1", "observations.scorch.arcs.2"]


def test_the_bare_arc_is_described_on_either_side_and_across_the_toe() -> None:
    assert read([[-150, -30], [40, 150]])[1].where == "from 30 deg medial to 40 deg lateral of the toe"
    assert read([[-90, 150]])[1].where == "from 90 to 150 deg on the medial side"


def test_a_gap_read_at_the_bare_place_says_that_it_is_low_and_that_the_other_side_bears() -> None:
    gaps = {
        ("gap", "lateral_heel"): Reading("gap", "lateral_heel", 1.2, 0.03),
        ("gap", "toe"): Reading("gap", "toe", 0.0, 0.03),
        ("gap", "medial_heel"): Reading("gap", "medial_heel", 0.02, 0.03),
    }
    where = read([[-150, 110]], gaps)[1].where
    assert where.endswith("; low there: gap 1.2 mm; the horn bears at the medial heel")


def test_a_bare_place_without_a_gap_is_not_called_low() -> None:
    gaps = {("gap", "lateral_heel"): Reading("gap", "lateral_heel", 0.02, 0.03)}
    assert read([[-150, 110]], gaps)[1].where.endswith("; yet no gap there")


def test_with_heights_the_bare_arc_names_the_gap_computed_there_and_where_a_flat_shoe_bears() -> None:
    heights = [[-40, -60, 0], [-60, 20, 0], [0, 70, 0], [60, 20, 0], [40, -60, -1.2]]
    fitting = fitting_of([[-150, 110]], heights=heights)
    table, _ = measured(fitting, {}, BOOK)
    (bare,) = [each for each in table.values() if each.quantity == "bare_arc"]
    assert bare.place == "lateral_heel"
    assert "; low there: gap 1.2 mm; the horn bears at " in bare.where
    assert "lateral heel" not in bare.where.split("the horn bears at")[1]
