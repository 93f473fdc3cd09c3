"""What must not matter to the outline measure, and what must follow: moving, mirroring, scaling, the way of drawing."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.support.outlines import Points, Table, arc, branches, denser, results

LENGTHS = ("overhang", "overhang_least", "width", "width_least", "length", "hole_inset", "shoe_length")
NAILS = [("medial", 1), ("medial", 2), ("lateral", 1), ("lateral", 2)]
HOLES = [[-49.0, 20.0], [-51.0, -5.0], [48.0, 22.0], [50.0, -8.0]]

few = settings(max_examples=40, deadline=None)
smooth = st.lists(st.floats(-1.5, 1.5), min_size=6, max_size=6)


def feet(behind: float = -6.0) -> st.SearchStrategy[tuple[Points, Points]]:
    """Open traces of a foot and its shoe, uneven; the branches end at least so far (mm) behind the buttress or so."""
    return st.builds(_foot, smooth, smooth, st.floats(-1.0, 4.0), st.floats(behind, 16.0))


def _foot(waves: list[float], others: list[float], beyond: float, behind: float) -> tuple[Points, Points]:
    return _wavy(60, 73, -60, waves), _wavy(60 + beyond, 73 + beyond, -60 - behind, others)


def _wavy(half_width: float, toe: float, heel: float, waves: list[float]) -> Points:
    points = np.array(branches(half_width, toe, heel, 45))
    t = np.linspace(-np.pi, np.pi, len(points))
    points[:, 0] += waves[0] * np.cos(t) + waves[1] * np.sin(2 * t) + waves[2] * np.sin(3 * t)
    points[:, 1] += waves[3] * np.sin(t) + waves[4] * np.cos(2 * t) + waves[5] * np.sin(2 * t)
    traced: Points = points.tolist()
    return traced


def values(table: Table) -> dict[tuple[str, str], float]:
    return {key: float(reading.value) for key, reading in table.items()}


def uncertainties(table: Table) -> dict[tuple[str, str], float]:
    return {key: reading.u for key, reading in table.items()}


def swapped(table: dict[tuple[str, str], float]) -> dict[tuple[str, str], float]:
    """The same values with the sides of the foot changed over."""
    other = {"medial": "lateral", "lateral": "medial"}

    def across(place: str) -> str:
        return "".join(other.get(part, part) for part in _parts(place))

    return {(quantity, across(place)): value for (quantity, place), value in table.items()}


def _parts(place: str) -> list[str]:
    for side in ("medial", "lateral"):
        before, found, after = place.partition(side)
        if found:
            return [before, found, after]
    return [place]


def measure(foot: tuple[Points, Points], lateral: str = "+x", holes: Points | None = None) -> Table:
    return results(*foot, lateral, HOLES if holes is None else holes, nails=NAILS)


def close(expected: dict[tuple[str, str], float], tolerance: float = 1e-5) -> Any:
    return pytest.approx(expected, abs=tolerance)


def mirror(points: Points) -> Points:
    return [[-x, y] for x, y in points]


@few
@given(feet(), st.floats(-300, 300), st.floats(-300, 300))
def test_moving_both_traces_and_the_holes_together_changes_nothing(
    foot: tuple[Points, Points], right: float, forward: float
) -> None:
    def moved(points: Points) -> Points:
        return [[x + right, y + forward] for x, y in points]

    there = measure((moved(foot[0]), moved(foot[1])), holes=moved(HOLES))
    assert values(there) == close(values(measure(foot)))
    assert uncertainties(there) == close(uncertainties(measure(foot)))


@few
@given(feet())
def test_mirrored_with_the_lateral_side_named_anew_nothing_changes(foot: tuple[Points, Points]) -> None:
    there = measure((mirror(foot[0]), mirror(foot[1])), "-x", mirror(HOLES))
    assert values(there) == close(values(measure(foot)))


@few
@given(feet())
def test_mirrored_without_naming_the_side_anew_medial_and_lateral_change_over(foot: tuple[Points, Points]) -> None:
    there = measure((mirror(foot[0]), mirror(foot[1])), "+x", mirror(HOLES))
    assert values(there) == close(swapped(values(measure(foot))))


@few
@given(feet(behind=6.0), st.floats(0.75, 1.6))
def test_a_foot_of_another_size_has_every_length_in_proportion(foot: tuple[Points, Points], scale: float) -> None:
    def larger(points: Points) -> Points:
        return [[x * scale, y * scale] for x, y in points]

    before, after = measure(foot), measure((larger(foot[0]), larger(foot[1])), holes=larger(HOLES))
    # The least goes by a stretch in mm, which does not grow with the foot.  Stations lie at steps in mm as well: where
    # the distance has a kink between two of them, the mean is off by a small part of a step.  Where a branch ends short
    # a whole step may count or not: hence branches that cover the heel.
    for key in before.keys() & after.keys():
        if key[0] in LENGTHS and not key[0].endswith("_least"):
            assert float(after[key].value) == pytest.approx(scale * float(before[key].value), abs=2e-2)
        if key[0] == "position":
            assert float(after[key].value) == pytest.approx(float(before[key].value), abs=1e-9)


@few
@given(feet(), st.booleans(), st.booleans())
def test_the_direction_of_a_trace_does_not_matter(foot: tuple[Points, Points], hoof: bool, shoe: bool) -> None:  # noqa: FBT001
    turned = (foot[0][::-1] if hoof else foot[0], foot[1][::-1] if shoe else foot[1])
    assert values(measure(turned)) == close(values(measure(foot)))


@few
@given(feet(), st.integers(2, 5), st.integers(1, 4))
def test_more_points_on_the_same_polygon_do_not_matter(foot: tuple[Points, Points], on_hoof: int, on_shoe: int) -> None:
    there = measure((denser(foot[0], on_hoof, closed=False), denser(foot[1], on_shoe, closed=False)))
    assert values(there) == close(values(measure(foot)))


def _closed(points: Points) -> Points:
    """A trace closed behind the heels by a round line, such as the bulbs give."""
    (left, back), (right, end) = points[0], points[-1]
    step = np.linspace(0, np.pi, 18)[1:-1]
    middle, half = (left + right) / 2, (right - left) / 2
    level = end + (back - end) * (1 - np.cos(step)) / 2
    behind = np.column_stack([middle + half * np.cos(step), level - 12 * np.sin(step)])
    whole: Points = [*points, *behind.tolist()]
    return whole


@few
@given(feet(), st.integers(0, 200), st.integers(0, 200), st.booleans(), st.integers(1, 3))
def test_where_a_closed_trace_starts_and_whether_it_repeats_its_first_point_do_not_matter(
    foot: tuple[Points, Points],
    start: int,
    other: int,
    again: bool,  # noqa: FBT001
    times: int,
) -> None:
    hoof, shoe = _closed(foot[0]), _closed(foot[1])
    expected = values(measure((hoof, shoe)))

    def drawn(points: Points, first: int) -> Points:
        fine = denser(points, times, closed=True)
        first %= len(fine)
        rolled = [*fine[first:], *fine[:first]]
        return [*rolled, rolled[0]] if again else rolled

    assert values(measure((drawn(hoof, start), drawn(shoe, other)))) == close(expected)


@few
@given(st.floats(-4, 4), st.floats(0.2, 6.0))
def test_turning_a_circle_about_its_middle_moves_the_heels_and_leaves_the_overhang(turn: float, beyond: float) -> None:
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))

    def turned(points: Points) -> Points:
        return [[x * cos + y * sin, y * cos - x * sin] for x, y in points]

    hoof, shoe = arc(70, 600, 152), arc(70 + beyond, 600, 158)
    table = results(turned(hoof), turned(shoe))
    for (quantity, _), value in values(table).items():
        if quantity in {"overhang", "overhang_least", "width", "width_least"}:
            assert value == pytest.approx(beyond, abs=3e-3)
    lengths = values(results(hoof, shoe))
    assert values(table)["length", "lateral_heel"] == pytest.approx(
        lengths["length", "lateral_heel"], abs=abs(math.radians(turn)) * 70
    )


@few
@given(feet())
def test_the_least_is_never_more_than_the_mean_and_stands_only_beside_a_mean_from_nought_up(
    foot: tuple[Points, Points],
) -> None:
    table = measure(foot)
    for side in ("medial", "lateral"):
        for mean, least, place in (("width", "width_least", "heel"), ("overhang", "overhang_least", "quarter")):
            whole, tight = table[mean, f"{side}_{place}"], table.get((least, f"{side}_{place}"))
            assert (tight is not None) == (round(float(whole.value), 6) >= 0)
            if tight is not None:
                assert float(tight.value) <= float(whole.value) + 1e-6
                assert tight.u >= whole.u * 0.5
