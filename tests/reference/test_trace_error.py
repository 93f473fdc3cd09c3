"""What a trace is worth, by Monte Carlo through the JSON door: invented feet, traced by hands that err.

Hands and cameras are drawn here and know nothing of the program: independent noise of points (normal, or uniform as
rounding makes it), a hand that wanders (a sum of sines of random phase and a random walk of its own, or Gaussian with a
correlation length of 10 mm), taps on a photograph of half a millimetre to the pixel with a tilted camera and a tapped
scale.  True values are those of the foot's formulas, measured on its own dense line.  JCGM 101:2008 (propagation of
distributions by a Monte Carlo method) is the source of the procedure; what must hold is our own demand.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pytest

from fitcheck.assessment.assess import assess
from fitcheck.assessment.models import Assessment
from fitcheck.fitting.validation import parse_fitting
from tests.support.counts import tries

Line = npt.NDArray[np.float64]
Made = tuple[Line, Line, dict[str, Any]]

_ACROSS: Final = 62.0
_ALONG: Final = 70.0
_BEYOND: Final = 12.0
"""How far the branches run past the buttress (mm)."""
_PROFILES: Final[dict[str, tuple[list[float], list[float]]]] = {
    "even": ([-150.0, 150.0], [2.4, 2.4]),
    "as fitted": ([-150, -90, -75, 0, 75, 90, 150], [2.8, 2.2, 0.8, 0.3, 0.8, 2.2, 2.8]),
}
_HEELS: Final = ("medial_heel", "lateral_heel")
_QUARTERS: Final = ("medial_quarter", "lateral_quarter")
_MEANS: Final = [*(("overhang", place) for place in ("toe", *_QUARTERS)), *(("width", place) for place in _HEELS)]
_LEASTS: Final = [*(("overhang_least", at) for at in _QUARTERS), *(("width_least", at) for at in _HEELS)]
_LENGTHS: Final = [("length", "medial_heel"), ("length", "lateral_heel"), ("shoe_length", "foot")]
_DIFFERENCES: Final = [("branch_difference", "foot")]
_ALL: Final = [*_MEANS, *_LEASTS, *_LENGTHS, *_DIFFERENCES]


def _true_foot(profile: str, count: int) -> tuple[Line, Line]:
    """Hoof and shoe from medial to lateral heel: an ellipse, and a line beside it with straight branch ends."""
    angles = np.linspace(-150.0, 150.0, count)
    turns = np.radians(angles)
    hoof = np.column_stack([_ACROSS * np.sin(turns), _ALONG * np.cos(turns)])
    normal = hoof / [_ACROSS**2, _ALONG**2]
    normal /= np.hypot(normal[:, 0], normal[:, 1])[:, None]
    shoe = hoof + np.interp(angles, *_PROFILES[profile])[:, None] * normal
    back = np.linspace(_BEYOND, 4.0, max(2, count // 30))
    ends = [
        np.column_stack([np.full(len(back), shoe[at, 0]), hoof[at, 1] - (back if at == 0 else back[::-1])])
        for at in (0, -1)
    ]
    return hoof, np.concatenate([ends[0], shoe, ends[1]])


def _along(line: Line) -> Line:
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])


def _spread_evenly(line: Line, count: int) -> Line:
    at = np.linspace(0.0, _along(line)[-1], count)
    return np.column_stack([np.interp(at, _along(line), line[:, axis]) for axis in (0, 1)])


def _gaussian(line: Line, size: float, length: float, rng: np.random.Generator) -> Line:
    along = _along(line)
    covariance = np.exp(-0.5 * ((along[:, None] - along) / length) ** 2) + 1e-9 * np.eye(len(along))
    return np.asarray(size * np.linalg.cholesky(covariance) @ rng.standard_normal((len(along), 2)))


def _sines(line: Line, size: float, rng: np.random.Generator) -> Line:
    """Waves some 40 to 90 mm long, which hang together over about 10 mm, of random phase and size."""
    along, moved = _along(line)[:, None], np.zeros_like(line)
    for wave in rng.uniform(40.0, 90.0, 5):
        moved += size * np.sqrt(2 / 5) * np.sin(2 * np.pi * along / wave + rng.uniform(0, 2 * np.pi, 2))
    return moved


def _noise(size: float, count: int) -> Callable[[str, np.random.Generator], Made]:
    def made(profile: str, rng: np.random.Generator) -> Made:
        draw = rng.normal if rng.random() < 0.5 else lambda _, sd, shape: rng.uniform(-1.73 * sd, 1.73 * sd, shape)
        hoof, shoe = _true_foot(profile, count)
        return hoof + draw(0.0, size, hoof.shape), shoe + draw(0.0, size, shoe.shape), {}

    return made


def _wander(profile: str, rng: np.random.Generator) -> Made:
    hoof, shoe = _true_foot(profile, 120)
    if rng.random() < 0.5:
        return hoof + _gaussian(hoof, 0.5, 10.0, rng), shoe + _gaussian(shoe, 0.5, 10.0, rng), {}
    return hoof + _sines(hoof, 0.5, rng), shoe + _sines(shoe, 0.5, rng), {}


def _taps(profile: str, rng: np.random.Generator) -> Made:
    """Two pixels of half a millimetre, 30 taps a line; the scale is tapped on 200 pixels of a rule."""
    pixel = 0.5
    scale = 1.0 + rng.normal(0.0, 2 * np.sqrt(2) * pixel / 100)
    shorter = np.cos(np.radians(rng.normal(0.0, 4.0)))
    hoof, shoe = (
        _spread_evenly(line, 30) * [scale, scale * shorter] + rng.normal(0.0, 2 * pixel, (30, 2))
        for line in _true_foot(profile, 400)
    )
    return hoof, shoe, {"made": {"by": "photograph"}}


_HANDS: Final[dict[str, Callable[[str, np.random.Generator], Made]]] = {
    "noise of 0.3 mm": _noise(0.3, 72),
    "noise of 1 mm at many points": _noise(1.0, 1800),
    "wander of 0.5 mm over 10 mm": _wander,
    "taps of 2 pixels": _taps,
}


def _assessed(hoof: Line, shoe: Line, more: dict[str, Any], **fitting: Any) -> Assessment:
    outline = {"hoof": hoof.tolist(), "shoe": shoe.tolist(), "lateral": "+x", **more}
    body = {"foot": "left_fore", "stage": "hot_fit", "work": "draught", "shoe": {"thickness": 12}}
    return assess(parse_fitting({**body, **fitting, "observations": {"outline": outline}}))


def _table(judged: Assessment) -> dict[tuple[str, str], tuple[float, float]]:
    return {(each.quantity, each.place): (each.value, each.u) for each in judged.measurements}


def _errors(hand: str, profile: str, many: int, seed: int) -> dict[tuple[str, str], Line]:
    """For each quantity and place the errors and the stated u, shape (2, tries)."""
    rng = np.random.default_rng(seed)
    true = _table(_assessed(*_true_foot(profile, 1200), {"made": {"by": "scanner", "u": 1e-6}}))
    found: dict[tuple[str, str], list[tuple[float, float]]] = {key: [] for key in _ALL}
    for _ in range(many):
        table = _table(_assessed(*_HANDS[hand](profile, rng)))
        for key in _ALL:
            if key in table:  # the least is not told where the mean is negative
                found[key].append((table[key][0] - true[key][0], table[key][1]))
    return {key: np.array(each).T for key, each in found.items()}


@pytest.mark.parametrize("profile", _PROFILES)
@pytest.mark.parametrize("hand", _HANDS)
def test_two_standard_uncertainties_hold_nine_in_ten_and_nothing_is_biased(hand: str, profile: str) -> None:
    many = tries(40, full=1500)
    for key, (errors, us) in _errors(hand, profile, many, seed=41).items():
        assert len(errors) > 0.9 * many
        assert np.mean(np.abs(errors) <= 2 * us) >= 0.90, key
        # Three standard errors of the mean above it, so that chance alone seldom fails a short run.
        allowed = 0.3 + 3 * float(errors.std() / us.mean()) / np.sqrt(many) * (many < 500)
        assert abs(errors.mean()) < allowed * us.mean(), key


def test_the_stated_uncertainty_is_not_much_more_than_the_hand_needs() -> None:
    for key, (errors, us) in _errors("wander of 0.5 mm over 10 mm", "as fitted", tries(40, full=400), seed=43).items():
        assert us.mean() < 2.5 * errors.std(), key


@pytest.mark.parametrize("hand", _HANDS)
def test_a_foot_good_by_twice_its_u_is_seldom_called_wrong_by_any_one_limit(hand: str) -> None:
    """The major limits of a draught fore foot."""
    rng = np.random.default_rng(47)
    many = tries(40, full=1500)
    wrong: dict[str, int] = {}
    inside = {
        "width": (0.0, 6.4),
        "width_least": (0.0, 60.0),
        "length": (0.0, 24.0),
        "overhang_least": (-1.0, 60.0),
        "branch_difference": (-5.0, 5.0),
    }
    for _ in range(many):
        made = _HANDS[hand]("even", rng)
        judged = _assessed(*made)
        us = {each.quantity: each.u for each in judged.measurements}
        for finding in judged.findings:
            quantity = "" if finding.measured is None else finding.measured.quantity
            true = {
                "width": 2.4,
                "width_least": 2.4,
                "length": 12.0,
                "overhang_least": 2.4,
                "branch_difference": 0.0,
            }.get(quantity)
            if finding.grade == "major" and true is not None:
                low, high = inside[quantity]
                if low + 2 * us[quantity] <= true <= high - 2 * us[quantity]:
                    wrong[finding.id] = wrong.get(finding.id, 0) + 1
    assert all(count / many < 0.05 for count in wrong.values()), wrong


@pytest.mark.parametrize("size", [0.2, 0.5, 1.0])
def test_no_dense_trace_of_independent_noise_is_refused_as_crossing_itself(size: float) -> None:
    rng = np.random.default_rng(53)
    for number in range(tries(6, full=300)):
        hoof, shoe = (_spread_evenly(line, 2000) for line in _true_foot("as fitted", 800))
        if number % 2:  # traced all round, from anywhere
            hoof = np.roll(_closed(2000), int(rng.integers(2000)), axis=0)
        moved = hoof + rng.normal(0.0, size, hoof.shape), shoe + rng.normal(0.0, size, shoe.shape)
        judged = _assessed(*moved, {})
        assert (any("averaged" in remark for remark in judged.remarks)) is (size > 0.1)


def _closed(count: int) -> Line:
    turns = np.linspace(-np.pi, np.pi, count, endpoint=False)
    return np.column_stack([_ACROSS * np.sin(turns), _ALONG * np.cos(turns)])


def _lengths(judged: Assessment) -> dict[str, float]:
    return {each.place: each.value for each in judged.measurements if each.quantity == "length"}


@pytest.mark.parametrize("angle", [135.0, 145.0, 160.0])
def test_the_buttresses_are_where_they_are_said_to_be(angle: float) -> None:
    _, shoe = _true_foot("even", 400)
    turn = np.radians(angle)
    x, y = _ACROSS * np.sin(turn), _ALONG * np.cos(turn)
    said = {"buttresses": {"medial": [-x, y], "lateral": [x, y]}}
    # The branch ends 12 mm behind the wall at 150 degrees.
    expected = y - (_ALONG * np.cos(np.radians(150)) - _BEYOND)
    assert _lengths(_assessed(_closed(360), shoe, said)) == pytest.approx(
        {"medial_heel": expected, "lateral_heel": expected}, abs=0.05
    )
    one = {"buttresses": {"lateral": [x, y]}}
    judged = _assessed(_closed(360), shoe, one)
    assert set(_lengths(judged)) == {"lateral_heel"}
    assert not any(each.quantity == "branch_difference" for each in judged.measurements)


def test_without_a_buttress_no_length_difference_or_cover_is_computed() -> None:
    _, shoe = _true_foot("even", 400)
    judged = _assessed(_closed(360), shoe, {})
    seen = {each.quantity for each in judged.measurements}
    assert {"width", "overhang"} <= seen
    assert seen.isdisjoint({"length", "branch_difference", "heel_support_left"})
    assert any("outline.buttresses" in remark for remark in judged.remarks)


def _hidden(first: float, last: float) -> dict[str, Any]:
    turns = np.radians([first, last])
    return {"hidden": [np.column_stack([_ACROSS * np.sin(turns), _ALONG * np.cos(turns)]).tolist()]}


def _hidden_stretches() -> Iterator[tuple[dict[str, Any], set[tuple[str, str]]]]:
    yield _hidden(-30, 30), {("overhang", "toe")}
    yield _hidden(95, 150), {("width", "lateral_heel"), ("width_least", "lateral_heel"), ("length", "lateral_heel")}
    yield _hidden(-100, -20), {("overhang", "medial_quarter"), ("overhang_least", "medial_quarter")}


@pytest.mark.parametrize(("more", "lost"), list(_hidden_stretches()), ids=("the toe", "a heel", "a quarter"))
def test_nothing_is_computed_where_the_border_could_not_be_seen(
    more: dict[str, Any], lost: set[tuple[str, str]]
) -> None:
    lines = _true_foot("even", 200)
    whole, less = set(_table(_assessed(*lines, {}))), set(_table(_assessed(*lines, more)))
    assert whole - less - {("branch_difference", "foot")} == lost
    lacking = _assessed(*lines, more).unassessed or ()
    assert {each.why for each in lacking if (each.quantity, each.place) in lost} == {"cannot_be_computed"}


def test_a_toe_of_the_shoe_that_is_hidden_too_gives_no_length_of_it() -> None:
    hoof, shoe = _true_foot("even", 200)
    out_of_sight = np.abs(np.degrees(np.arctan2(shoe[:, 0], shoe[:, 1]))) < 30
    for traced, missing in ((shoe, False), (shoe[~out_of_sight], True)):
        assert (("shoe_length", "foot") not in _table(_assessed(hoof, traced, _hidden(-30, 30)))) is missing
        # Nor is the scale of the trace doubted by what was measured.
        outline = {"hoof": hoof.tolist(), "shoe": traced.tolist(), "lateral": "+x", **_hidden(-30, 30)}
        body = {"foot": "left_fore", "stage": "hot_fit", "work": "draught", "shoe": {"thickness": 12, "length": 145}}
        judged = assess(parse_fitting({**body, "observations": {"outline": outline}}))
        assert (("trace_ratio", "foot") not in _table(judged)) is missing


def test_a_known_distance_brings_the_traces_to_it_and_brings_its_u() -> None:
    hoof, shoe = _true_foot("even", 200)
    scale = {"from": [0.0, 0.0], "to": [0.0, 95.0], "mm": 100.0, "u": 1.0}
    plain, scaled = _table(_assessed(hoof, shoe, {})), _table(_assessed(hoof * 0.95, shoe * 0.95, {"scale": scale}))
    for key in _ALL:
        assert scaled[key][0] == pytest.approx(plain[key][0], abs=0.02)
    # One in a hundred of some 145 mm beside what the ends bring.
    length, u = scaled["shoe_length", "foot"]
    assert u == pytest.approx(np.hypot(plain["shoe_length", "foot"][1], 0.01 * length), rel=0.05)


def test_what_is_said_of_how_a_trace_was_made_counts() -> None:
    lines = _true_foot("even", 200)
    us = [
        _table(_assessed(*lines, {} if made is None else {"made": made}))["width", "lateral_heel"][1]
        for made in ({"by": "scanner", "u": 0.05}, None, {"by": "photograph"}, {"by": "pencil", "u": 2.0})
    ]
    assert us == sorted(us)
    assert us[0] < us[1] < us[2] < us[3]
