"""From four corners on a photograph to millimetres, held against OpenCV's homography."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pytest

from tests.support.counts import tries
from tests.support.page_modules import run_in_node

Points = npt.NDArray[np.float64]

_CARDS: Final = {"card": (85.6, 53.98), "sheet": (148.0, 105.0)}
_HOMOGRAPHY: Final = 'import { homography, inverse, mapped, shares } from "./trace/homography.js";'
_PLANE: Final = 'import { planeOf, pointU } from "./trace/plane.js";'


def _camera(rng: np.random.Generator, most: float = 20.0) -> Points:
    """A random camera half a metre off (mm to pixels), up to ``most`` degrees askew."""
    tilt, turn, spin = np.radians(rng.uniform([0, 0, 0], [most, 360, 360]))
    axis = np.array([np.cos(turn), np.sin(turn), 0.0])
    cross = np.array([[0, -axis[2], axis[1]], [axis[2], 0, -axis[0]], [-axis[1], axis[0], 0]])
    askew = np.eye(3) + np.sin(tilt) * cross + (1 - np.cos(tilt)) * cross @ cross
    about = np.array([[np.cos(spin), -np.sin(spin), 0], [np.sin(spin), np.cos(spin), 0], [0, 0, 1]])
    whole = askew @ about
    focus = rng.uniform(1500, 4500)
    seen = np.column_stack([whole[:, 0], whole[:, 1], [0.0, 0.0, rng.uniform(400, 700)]])
    return np.asarray(np.array([[focus, 0, 1500], [0, focus, 1500], [0, 0, 1]]) @ seen)


def _seen(camera: Points, points: Points) -> Points:
    through = np.column_stack([points, np.ones(len(points))]) @ camera.T
    return np.asarray(through[:, :2] / through[:, 2:])


def _corners(size: tuple[float, float]) -> Points:
    return np.array([[0, 0], [size[0], 0], [size[0], size[1]], [0, size[1]]], dtype=np.float64)


def test_the_homography_is_that_of_opencv(tmp_path: Path) -> None:
    cv2 = pytest.importorskip("cv2", reason="opencv-python-headless is not installed")
    rng = np.random.default_rng(3)
    asked = []
    for number in range(tries(200, full=5000)):
        size = list(_CARDS.values())[number % 2]
        camera = _camera(rng)
        corners = _seen(camera, _corners(size)) + rng.normal(0, 2, (4, 2))
        foot = _seen(camera, rng.uniform(-120, 250, (20, 2)))
        asked.append({"from": corners.tolist(), "to": _corners(size).tolist(), "points": foot.tolist()})
    body = """return given.map(({ from, to, points }) => {
      const h = homography(from, to);
      const there = points.map((point) => mapped(h, point));
      return { there, again: there.map((point) => mapped(inverse(h), point)) };
    });"""
    worst = 0.0
    for each, found in zip(asked, run_in_node(tmp_path, [_HOMOGRAPHY], body, asked), strict=True):
        known = cv2.getPerspectiveTransform(np.float32(each["from"]), np.float32(each["to"]))
        # In double precision: the four-point method above takes single.
        exact, _ = cv2.findHomography(np.array(each["from"]), np.array(each["to"]), 0)
        points = np.array([each["points"]])
        expected = cv2.perspectiveTransform(points, exact)[0]
        assert known.shape == exact.shape
        worst = max(worst, float(np.abs(expected - np.array(found["there"])).max()))
        assert np.abs(np.array(each["points"]) - np.array(found["again"])).max() < 1e-3
    assert worst < 0.05, f"{worst} mm"


@pytest.mark.parametrize("by", list(_CARDS))
def test_a_card_takes_the_tilt_out_in_whatever_order_its_corners_are_tapped(tmp_path: Path, by: str) -> None:
    rng = np.random.default_rng(5)
    asked = []
    for _ in range(100):
        camera = _camera(rng)
        corners = rng.permutation(_seen(camera, _corners(_CARDS[by])))
        pair = rng.uniform(-120, 250, (2, 2))
        asked.append({"by": by, "scale": corners.tolist(), "pair": _seen(camera, pair).tolist(), "true": pair.tolist()})
    body = """return given.map(({ by, scale, pair }) => {
      const plane = planeOf(by, scale, null);
      const [one, other] = pair.map(plane.place);
      return Math.hypot(one[0] - other[0], one[1] - other[1]);
    });"""
    for each, found in zip(asked, run_in_node(tmp_path, [_PLANE], body, asked), strict=True):
        assert found == pytest.approx(float(np.hypot(*np.subtract(*each["true"]))), abs=1e-6)


@pytest.mark.parametrize(
    ("corners", "why"),
    [
        ([[0, 0], [100, 0], [200, 0], [100, 80]], "three in a line"),
        ([[0, 0], [100, 0], [40, 20], [50, 80]], "one inside the others"),
        ([[0, 0], [100, 0], [100, 100], [0, 100]], "square, and no card is"),
        ([[0, 0], [0, 0], [856, 540], [0, 540]], "twice the same"),
        ([[0, 0], [856, 0], [856, 540]], "one is missing"),
    ],
)
def test_corners_that_are_no_card_give_no_plane(tmp_path: Path, corners: list[list[float]], why: str) -> None:
    asked = {"by": "card", "scale": corners}
    found = run_in_node(tmp_path, [_PLANE], "return planeOf(given.by, given.scale, null) === null;", asked)
    assert found is True, why


def test_the_other_card_is_told_where_its_sides_are_nearer(tmp_path: Path) -> None:
    """An A6 sheet that is taken for a bank card makes every length 0.58 of what it is."""
    level = _camera(np.random.default_rng(5), most=0.0)
    asked = [
        {"by": by, "taps": _seen(level, _corners(_CARDS[laid])).tolist()[: 2 if by == "rule" else 4]}
        for by in ("card", "sheet", "rule")
        for laid in _CARDS
    ]
    told = run_in_node(
        tmp_path,
        ['import { otherCard } from "./trace/plane.js";'],
        "return given.map(({ by, taps }) => [otherCard(by, taps), otherCard(by, taps.slice(1))]);",
        asked,
    )
    assert told == [[None, None], ["sheet", None], ["card", None], [None, None], [None, None], [None, None]]


def test_the_share_of_a_length_is_that_of_corners_drawn_at_random(tmp_path: Path) -> None:
    """JCGM 101:2008: what is propagated through the derivatives, against draws."""
    rng = np.random.default_rng(7)
    camera = _camera(rng)
    corners, foot = _seen(camera, _corners(_CARDS["card"])), _seen(camera, np.array([[-60.0, 20.0], [120.0, 90.0]]))
    drawn = [(corners + rng.normal(0, 2, (4, 2))).tolist() for _ in range(4000)]
    asked = {
        "drawn": drawn,
        "corners": corners.tolist(),
        "to": _corners(_CARDS["card"]).tolist(),
        "foot": foot.tolist(),
    }
    body = """const long = (h) => { const [one, other] = given.foot.map((point) => mapped(h, point));
        return Math.hypot(one[0] - other[0], one[1] - other[1]); };
      return { drawn: given.drawn.map((each) => long(homography(each, given.to))),
        stated: shares(given.corners, given.to, [2, 2, 2, 2], [given.foot])[0] };"""
    found = run_in_node(tmp_path, [_HOMOGRAPHY], body, asked)
    lengths = np.array(found["drawn"])
    assert found["stated"] == pytest.approx(lengths.std() / lengths.mean(), rel=0.08)


def test_a_rule_alone_says_that_the_tilt_stays(tmp_path: Path) -> None:
    taps: dict[str, Any] = {
        "rule": [[0, 0, 1], [1000, 0, 1]],
        "card": [[0, 0, 1], [856, 0, 1], [856, 540, 1], [0, 540, 1]],
    }
    body = """const foot = [[0, 0], [900, 0], [900, 900], [0, 900]];
      return Object.fromEntries(Object.entries(given).map(([by, scale]) => {
        const plane = planeOf(by, scale, 100);
        return [by, [plane.share(foot), plane.level, pointU(plane, [[0, 0, 2], [900, 900, 2]])]];
      }));"""
    found = run_in_node(tmp_path, [_PLANE], body, taps)
    assert found["rule"][:2] == [pytest.approx(0.03, abs=0.001), False]
    assert found["card"][1] is True
    # Two pixels of a tenth of a millimetre, and the edge that is followed.
    for by in taps:
        assert found[by][2] == pytest.approx(np.hypot(0.2, 0.3), abs=0.001)
