"""A shoe laid on very many heights."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fitcheck.measure import seating


@pytest.mark.parametrize("count", [50, 400])
def test_each_tip_is_worked_out_once_however_many_points_are_pressed(
    count: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A flat cone bears everywhere: Euler's formula gives its hull fewer than 2 n facets, with three edges each."""
    tips: list[tuple[tuple[int, int, int], int]] = []
    tipped_over = seating._Hull._tipped_over

    def counted(self: seating._Hull, facet: tuple[int, int, int], lifted: int) -> tuple[int, int, int | None]:
        tips.append((facet, lifted))
        return tipped_over(self, facet, lifted)

    monkeypatch.setattr(seating._Hull, "_tipped_over", counted)
    golden = math.pi * (3 - math.sqrt(5))
    points = np.array(
        [
            [radius * math.sin(number * golden), radius * math.cos(number * golden), 2 - radius**2 / 2000]
            for number in range(count)
            for radius in [62 * math.sqrt((number + 0.5) / count)]
        ]
    )
    laid = seating.seat(points, 10.0)
    assert len(tips) == len(set(tips)) < 6 * count
    assert (laid.gaps >= 0).all()
    assert laid.rock.depth > 0
