"""A tap taken to the edge beside it, on drawn edges of known place."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.support.page_modules import run_in_node

_IMPORTS = ('import { snapped, wayAt } from "./trace/snap.js";',)
_BODY = "return given.map(({ grey, point, along, reach }) => snapped(grey, point, along, reach));"


def _edges(angle: float, at: dict[float, float], noise: float = 0.0) -> dict[str, Any]:
    """A patch of 41 pixels about (0, 0): grey steps of a size at distances along a direction, as a lens blurs them."""
    rng = np.random.default_rng(3)
    y, x = np.mgrid[-20:21, -20:21]
    along = x * np.cos(angle) + y * np.sin(angle)
    grey = np.full(along.shape, 100.0)
    grey += sum(step * (0.5 + 0.5 * np.tanh((along - place) / 0.9)) for place, step in at.items())
    data = (grey + rng.normal(0, noise, grey.shape)).ravel().tolist()
    return {"width": 41, "height": 41, "left": -20.5, "top": -20.5, "data": data}


def _snapped(folder: Path, asked: list[dict[str, Any]]) -> list[Any]:
    found: list[Any] = run_in_node(folder, _IMPORTS, _BODY, asked)
    return found


@pytest.mark.parametrize("known", [True, False], ids=["along a line", "without a line"])
def test_a_tap_goes_to_the_edge(tmp_path: Path, known: bool) -> None:  # noqa: FBT001
    asked: list[dict[str, Any]] = []
    for angle in np.linspace(0, 3, 7):
        for place in (-2.3, 0.4, 3.1):
            along = [-np.sin(angle), np.cos(angle)] if known else None
            asked.append({"grey": _edges(angle, {place: 80}, 4), "point": [0, 0], "along": along, "reach": 6})
            asked[-1]["true"] = [angle, place]
    for each, (x, y) in zip(asked, _snapped(tmp_path, asked), strict=True):
        angle, place = each["true"]
        assert x * np.cos(angle) + y * np.sin(angle) == pytest.approx(place, abs=0.3)


def test_where_there_is_no_edge_within_reach_a_tap_stays(tmp_path: Path) -> None:
    patches = [_edges(0.5, {}, 4), _edges(0.5, {14.0: 80}, 4), _edges(0.5, {})]
    asked = [{"grey": patch, "point": [0, 0], "along": [-0.5, 0.9], "reach": 6} for patch in patches]
    assert _snapped(tmp_path, asked) == [None] * 3


def test_of_two_edges_the_nearer_one_was_meant(tmp_path: Path) -> None:
    grey = _edges(0.0, {1.0: 60, -5.0: 90}, 2)
    [(x, _)] = _snapped(tmp_path, [{"grey": grey, "point": [0, 0], "along": [0, 1], "reach": 6}])
    assert x == pytest.approx(1.0, abs=0.3)
