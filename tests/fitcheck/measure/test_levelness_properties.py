"""What must hold of levelness for any foot: planes, turns, mirrors and scales change only what they should."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitcheck.fitting.fit_observations import Levelness
from fitcheck.measure import planes
from fitcheck.measure.level_readings import level_readings
from fitcheck.measure.planes import Array, least_squares, minimum_zone
from fitcheck.measure.seating import seat
from rules import Reading, first_rulebook

BOOK = first_rulebook()
"""That of the first contract, which takes heights as they are: this is geometry alone."""
INSET = 12.0
UNHURRIED = settings(deadline=None)  # a busy machine is no fault


@st.composite
def feet(draw: st.DrawFn) -> Array:
    """Heights at 5 to 20 places round and on a foot, uneven by some tenths of a millimetre to some millimetres."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    count = draw(st.integers(5, 20))
    angles = np.radians(np.linspace(-150, 150, count) + rng.uniform(-3, 3, count))
    out = rng.uniform(0.8, 1.0, count)
    heights = rng.normal(0, draw(st.sampled_from([0.1, 0.5, 2.0])), count)
    return np.column_stack([65 * out * np.sin(angles), 70 * out * np.cos(angles), heights])


def table(points: Array, *, lateral_is_plus_x: bool = True) -> dict[tuple[str, str], Reading]:
    return {
        (each.quantity, each.place): each
        for each in level_readings(Levelness(heights=points.tolist()), lateral_is_plus_x, BOOK)
        if isinstance(each, Reading)
    }


@UNHURRIED
@given(feet())
def test_the_minimum_zone_is_never_wider_than_the_range_about_the_least_squares_plane(points: Array) -> None:
    slope = least_squares(points)
    residuals = points[:, 2] - points[:, :2] @ np.array([slope.along_x, slope.along_y])
    across = float(np.ptp(residuals)) / math.hypot(1, slope.along_x, slope.along_y)
    assert minimum_zone(points).width <= across * (1 + 1e-9)


@UNHURRIED
@given(feet(), st.floats(-0.002, 0.002), st.floats(-0.002, 0.002), st.floats(-50, 50))
def test_a_plane_laid_under_the_foot_changes_tilt_alone(
    points: Array, sideways: float, along: float, up: float
) -> None:
    """The seated plane of an uneven foot has a slope of its own, so the cosines may differ by some 1e-4."""
    moved = points + np.column_stack([np.zeros((len(points), 2)), points[:, :2] @ [sideways, along] + up])
    assert minimum_zone(moved).width == pytest.approx(minimum_zone(points).width, rel=2e-3)
    before, after = seat(points, INSET), seat(moved, INSET)
    assert set(after.bears_on) == set(before.bears_on)
    assert after.gaps == pytest.approx(before.gaps, rel=2e-3, abs=1e-7)
    assert after.rock.depth == pytest.approx(before.rock.depth, rel=2e-3, abs=1e-7)
    assert least_squares(moved).along_x == pytest.approx(least_squares(points).along_x + sideways, abs=1e-9)


@UNHURRIED
@given(feet())
def test_the_mirrored_foot_has_its_readings_on_the_other_side(points: Array) -> None:
    swap = {"medial": "lateral", "lateral": "medial"}
    mirrored = points * [-1.0, 1.0, 1.0]
    before, after = table(points), table(mirrored)
    assert table(mirrored, lateral_is_plus_x=False) == before
    for (quantity, place), each in before.items():
        side, _, spot = place.partition("_")
        there = after[quantity, f"{swap[side]}_{spot}" if spot else place]
        sign = -1.0 if quantity == "tilt_sideways" else 1.0
        assert float(there.value) == pytest.approx(sign * float(each.value), rel=1e-6, abs=1e-7)
        assert there.u == pytest.approx(each.u, rel=1e-5, abs=1e-9)


@UNHURRIED
@given(feet(), st.floats(0, 2 * math.pi))
def test_a_turn_in_plan_leaves_flatness_gaps_and_rock(points: Array, angle: float) -> None:
    cos, sin = math.cos(angle), math.sin(angle)
    turned = points @ np.array([[cos, sin, 0], [-sin, cos, 0], [0, 0, 1]])
    assert minimum_zone(turned).width == pytest.approx(minimum_zone(points).width, rel=1e-6)
    before, after = seat(points, INSET), seat(turned, INSET)
    assert after.gaps == pytest.approx(before.gaps, rel=1e-6, abs=1e-7)
    assert after.rock.depth == pytest.approx(before.rock.depth, rel=1e-6, abs=1e-7)


@UNHURRIED
@given(feet(), st.floats(0.25, 4))
def test_a_foot_scaled_as_a_whole_has_all_its_distances_scaled(points: Array, factor: float) -> None:
    assert minimum_zone(points * factor).width == pytest.approx(factor * minimum_zone(points).width, rel=1e-6)
    before, after = seat(points, INSET), seat(points * factor, INSET * factor)
    assert after.gaps == pytest.approx(factor * before.gaps, rel=1e-6, abs=1e-7)
    assert after.rock.depth == pytest.approx(factor * before.rock.depth, rel=1e-6, abs=1e-7)


@UNHURRIED
@given(feet(), st.floats(0.25, 4))
def test_unevenness_scaled_scales_flatness_gaps_and_rock_up_to_the_cosines_of_slopes(
    points: Array, factor: float
) -> None:
    scaled = points * [1.0, 1.0, factor]
    assert minimum_zone(scaled).width == pytest.approx(factor * minimum_zone(points).width, rel=0.05)
    before, after = seat(points, INSET), seat(scaled, INSET)
    assert after.gaps == pytest.approx(factor * before.gaps, rel=0.05, abs=1e-7)
    assert after.rock.depth == pytest.approx(factor * before.rock.depth, rel=0.05, abs=1e-7)


@UNHURRIED
@given(feet())
def test_no_gap_is_below_nought_and_no_rock_is_more_than_the_gap_where_it_comes_down(points: Array) -> None:
    laid = seat(points, INSET)
    assert laid.gaps.min() == 0.0
    assert [float(laid.gaps[point]) for point in laid.bears_on] == [0.0, 0.0, 0.0]
    assert 0.0 <= laid.rock.depth <= laid.gaps[laid.rock.point] + 1e-9


@UNHURRIED
@given(feet())
def test_a_shoe_pressed_further_in_rocks_no_more(points: Array) -> None:
    depths = [seat(points, inset).rock.depth for inset in (0.0, 6.0, 12.0, 30.0, 200.0)]
    assert all(inner <= outer + 1e-9 for outer, inner in zip(depths[:1] * 4, depths[1:], strict=True))
    assert depths[-1] == 0.0


@UNHURRIED
@given(feet())
def test_the_named_gaps_hold_the_widest_of_all(points: Array) -> None:
    gaps = [each for (quantity, _), each in table(points).items() if quantity == "gap"]
    widest = max(gaps, key=lambda each: float(each.value))
    assert float(widest.value) == pytest.approx(float(seat(points, INSET).gaps.max()), rel=1e-6, abs=1e-7)


def tilted(seed: int) -> Array:
    """Thirty heights of an uneven foot that slopes sideways by up to 17 degrees."""
    rng = np.random.default_rng(seed)
    angles = rng.uniform(-2.6, 2.6, 30)
    x, y = 60 * np.sin(angles) + rng.normal(0, 3, 30), 70 * np.cos(angles) + rng.normal(0, 3, 30)
    return np.column_stack([x, y, rng.normal(0, 1, 30) + rng.uniform(-0.3, 0.3) * x])


@pytest.mark.parametrize("seed", range(20))
def test_the_weights_of_a_sloping_zone_are_how_its_width_follows_each_height(seed: int) -> None:
    """JCGM 100, 5.1.3: derivatives, here by differences."""
    points, step = tilted(seed), 1e-6
    zone = minimum_zone(points)
    for point in range(len(points)):
        up, down = points.copy(), points.copy()
        up[point, 2] += step
        down[point, 2] -= step
        follows = (minimum_zone(up).width - minimum_zone(down).width) / (2 * step)
        assert zone.weights[point] == pytest.approx(follows, abs=1e-6)


@pytest.mark.parametrize("seed", range(20))
def test_a_zone_that_is_seen_to_be_the_thinnest_is_the_one_that_the_linear_programme_finds(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    points = tilted(100 + seed)
    zone = minimum_zone(points)
    monkeypatch.setattr(planes, "_still_thinnest", lambda *_: None)
    by_programme = minimum_zone(points)
    assert zone.width == pytest.approx(by_programme.width, abs=1e-9)
    assert zone.weights == pytest.approx(by_programme.weights, abs=1e-9)
