"""How sure joined findings are, against scipy's multivariate normal distribution and draws."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from fitcheck.assessment.assess import assess
from fitcheck.assessment.joint import End, Part, joint_chance
from fitcheck.assessment.models import Assessment, Finding
from fitcheck.fitting.models import Fitting

Changed = Callable[..., dict[str, Any]]
TOLERANCE = 2e-3
DRAWS = 400_000


def by_scipy(ends: list[End]) -> float:
    """The chance that sums of independent normal variables all lie above 0: scipy.stats.multivariate_normal."""
    keys = sorted({key for end in ends for key, _ in end.spread})
    weights = np.array([[dict(end.spread).get(key, 0.0) for key in keys] for end in ends])
    covariance = weights @ weights.T
    means = np.array([end.mean for end in ends])
    # P(X > 0) = P(-X < 0)
    found = multivariate_normal.cdf(np.zeros(len(ends)), -means, covariance, allow_singular=True, abseps=1e-6)
    return float(found)


@pytest.mark.parametrize("shared", [1, 2, 3])
@pytest.mark.parametrize("seed", range(8))
def test_parts_that_share_readings_come_to_the_joint_normal_distribution(shared: int, seed: int) -> None:
    rng = np.random.default_rng(100 * shared + seed)
    ends = []
    for number in range(4):
        common = tuple((("size", f"{each}"), float(rng.normal(0, 1))) for each in range(shared))
        ends.append(End(float(rng.normal(0.8, 0.6)), ((("own", f"{number}"), float(rng.uniform(0.1, 1))), *common)))
    chance = joint_chance([Part((), (end,)) for end in ends])
    assert chance == pytest.approx(by_scipy(ends), abs=TOLERANCE * (1 if shared == 1 else 3))


def test_parts_that_share_nothing_multiply() -> None:
    ends = [End(mean, ((("own", f"{mean}"), 1.0),)) for mean in (-0.3, 0.2, 1.4)]
    product = math.prod(by_scipy([end]) for end in ends)
    assert joint_chance([Part((), (end,)) for end in ends]) == pytest.approx(product, abs=1e-9)


def test_a_part_that_must_lie_clear_of_limits_takes_its_chance_too() -> None:
    """Phi(1) - Phi(-0.5) = 0.8413 - 0.3085, by table."""
    key = ("overhang", "toe")
    low, high = End(-0.5, ((key, -1.0),)), End(-1.0, ((key, 1.0),))
    assert joint_chance([Part((low,), (high,), clear=True)]) == pytest.approx(0.8413 - 0.3085, abs=1e-4)


def test_one_reading_in_two_parts_is_one_variable() -> None:
    """The nearer of two nested limits is passed wherever the further one is: 0.3085 of either, not 0.3085 x 0.1587."""
    key = ("length", "medial_heel")
    near, far = Part((), (End(-0.5, ((key, 1.0),)),)), Part((), (End(-1.0, ((key, 1.0),)),))
    assert joint_chance([near, far]) == pytest.approx(0.1587, abs=TOLERANCE)


def judged(raw: dict[str, Any]) -> Assessment:
    return assess(Fitting.model_validate(raw))


def found(assessment: Assessment, name: str) -> Finding:
    return next(each for each in assessment.findings if each.id == name)


def test_short_branches_share_the_doubt_about_the_shoes_thickness(changed: Changed) -> None:
    """Both branches under 3t/4 and the toe under -0.5, by draws: far above the product of the three."""
    raw = changed(
        stage="hot_fit",
        shoe__thickness={"value": 11, "u": 2},
        observations__heel_fit__medial__length={"value": 7.2, "u": 0.3},
        observations__heel_fit__lateral__length={"value": 7.2, "u": 0.3},
        observations__toe_fit__overhang={"value": -1.5, "u": 0.3},
    )
    rng = np.random.default_rng(8)
    thickness = rng.normal(11, 2, DRAWS)
    medial, lateral = rng.normal(7.2, 0.3, DRAWS), rng.normal(7.2, 0.3, DRAWS)
    toe = rng.normal(-1.5, 0.3, DRAWS)
    drawn = float(np.mean((medial < 0.75 * thickness) & (lateral < 0.75 * thickness) & (toe < -0.5)))
    assessment = judged(raw)
    joined = found(assessment, "shoe-too-small@foot")
    parts = [found(assessment, name).confidence or 0 for name in joined.rests_on]
    assert joined.confidence == pytest.approx(drawn, abs=3 * TOLERANCE)
    assert drawn > math.prod(parts) + 0.1, "the thickness must weigh here, or the case shows nothing"


def test_a_good_toe_is_not_taken_as_read(changed: Changed) -> None:
    """Two heels surely tight and a toe that is hardly known: by draws 0.14, once told as 0.9999."""
    raw = changed(
        stage="hot_fit",
        observations__heel_fit__medial__width={"value": -3, "u": 0.3},
        observations__heel_fit__lateral__width={"value": -3, "u": 0.3},
        observations__toe_fit__overhang={"value": 0.5, "u": 6},
    )
    rng = np.random.default_rng(9)
    toe = rng.normal(0.5, 6, DRAWS)
    assert float(np.mean((toe > -0.5) & (toe < 1.6))) < 0.5
    assert "heels-both-tight" not in {each.rule for each in judged(raw).findings}


@pytest.mark.parametrize(("width", "stands"), [(-0.4, False), (-0.9, True)])
def test_a_major_joined_finding_stands_when_it_is_at_least_as_likely_as_not(
    changed: Changed, width: float, *, stands: bool
) -> None:
    """Two tight heels at u = 0.5 and a toe in the middle of its limits: Phi(0.8)^2 = 0.62, times the toe's 0.96."""
    toe = {"value": 0.55, "u": 1.0} if not stands else 0.55
    raw = changed(
        stage="hot_fit",
        observations__heel_fit__medial__width=width,
        observations__heel_fit__lateral__width=width,
        observations__toe_fit__overhang=toe,
    )
    assert ("heels-both-tight" in {each.rule for each in judged(raw).findings}) == stands
