"""Shares against scipy's and statsmodels' intervals, by exact coverage, and by simulation where things go together."""

from __future__ import annotations

import random
from typing import Final

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from fitcheck.agreement.outcome import LEVEL, NotComputed
from fitcheck.agreement.proportion import Share, clustered_share, share

COUNTS: Final = [(0, 1), (1, 1), (0, 20), (14, 20), (20, 20), (3, 7), (1, 200), (199, 200)]


def _share(part: int, whole: int) -> Share:
    found = share(part, whole)
    assert isinstance(found, Share)
    return found


@pytest.mark.parametrize(("part", "whole"), COUNTS)
def test_the_interval_is_clopper_and_pearsons_as_scipy_and_statsmodels_have_it(part: int, whole: int) -> None:
    found = _share(part, whole)
    ours = [found.interval.low, found.interval.high]
    scipy = stats.binomtest(part, whole).proportion_ci(LEVEL, "exact")
    assert ours == pytest.approx([scipy.low, scipy.high], abs=1e-9)
    assert ours == pytest.approx(list(proportion_confint(part, whole, 1 - LEVEL, method="beta")), abs=1e-9)
    assert (found.value, found.counted_as) == (part / whole, whole)


@pytest.mark.parametrize("whole", [1, 2, 5, 10, 20, 40])
def test_an_exact_interval_holds_every_true_share_at_least_95_times_in_100(whole: int) -> None:
    found = [_share(part, whole).interval for part in range(whole + 1)]
    for true in np.linspace(0.005, 0.995, 199):
        chances = [float(stats.binom.pmf(part, whole, true)) for part in range(whole + 1)]
        held = sum(chance for chance, each in zip(chances, found, strict=True) if each.low <= true <= each.high)
        assert held >= LEVEL - 1e-9


def test_none_of_none_is_no_share_and_more_than_all_is_refused() -> None:
    for found in (share(0, 0), clustered_share([]), clustered_share([(0, 0)])):
        assert isinstance(found, NotComputed)
    with pytest.raises(ValueError, match="no share"):
        share(3, 2)
    with pytest.raises(ValueError, match="more parts than things"):
        clustered_share([(1, 1), (3, 2)])


@pytest.mark.parametrize("seed", range(5))
def test_things_that_go_together_count_as_the_cluster_robust_variance_of_statsmodels_says(seed: int) -> None:
    """The variance of a mean with clusters, and the factor for few clusters of Korn and Graubard 1998."""
    draw = random.Random(seed)
    clusters = []
    for _ in range(12):
        whole, likely = draw.randint(3, 9), draw.choice([0.4, 1.0])
        clusters.append((sum(draw.random() < likely for _ in range(whole)), whole))
    answers = [number < part for part, whole in clusters for number in range(whole)]
    groups = [number for number, (_, whole) in enumerate(clusters) for _ in range(whole)]
    fitted = sm.OLS(np.array(answers, dtype=float), np.ones(len(answers))).fit(
        cov_type="cluster", cov_kwds={"groups": np.array(groups)}
    )
    variance = float(fitted.cov_params()[0, 0])
    value = sum(answers) / len(answers)
    few = (stats.t.ppf(0.975, len(answers) - 1) / stats.t.ppf(0.975, len(clusters) - 1)) ** 2
    found = clustered_share(clusters)
    assert isinstance(found, Share)
    assert found.value == pytest.approx(value)
    assert found.counted_as == pytest.approx(min(len(answers), few * value * (1 - value) / variance))
    assert found.counted_as < len(answers), "the case must go together, or it shows nothing"


@pytest.mark.parametrize("clusters", [[(5, 9)], [(9, 9), (9, 9), (8, 8)], [(0, 9), (0, 9)], [(1, 2)] * 6])
def test_clusters_without_spread_count_as_one_thing_each(clusters: list[tuple[int, int]]) -> None:
    found = clustered_share(clusters)
    assert isinstance(found, Share)
    assert found.counted_as == len(clusters)


@pytest.mark.parametrize("feet", [5, 15, 40])
@pytest.mark.parametrize("likely", [0.6, 0.8, 0.92])
def test_intervals_of_things_that_go_together_hold_the_true_share(likely: float, feet: int) -> None:
    """Nine criteria a foot; each foot's own share is beta distributed with that mean and an even pull of 4."""
    draw = random.Random(20260304)
    draws, held, naive = 1500, 0, 0
    for _ in range(draws):
        of_feet = [draw.betavariate(4 * likely, 4 * (1 - likely)) for _ in range(feet)]
        clusters = [(sum(draw.random() < one for _ in range(9)), 9) for one in of_feet]
        found = clustered_share(clusters)
        assert isinstance(found, Share)
        held += found.interval.low <= likely <= found.interval.high
        apart = _share(found.part, found.whole).interval
        naive += apart.low <= likely <= apart.high
    assert held / draws >= 0.93
    assert naive / draws < 0.90, "criteria must go together here, or the case shows nothing"
