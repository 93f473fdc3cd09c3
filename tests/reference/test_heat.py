"""The heat sum of the first contract against tables, a numerical solver and the history of hot fitting."""

from __future__ import annotations

import json
import math
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import erfcinv

from fitcheck.assessment.assess import assess as assess_by
from fitcheck.assessment.models import Assessment
from fitcheck.errors import BadInput
from fitcheck.fitting.models import Fitting
from fitcheck.measure.heat import Contact, seconds_to_reach, temperature, temperature_span
from fitcheck.measure.results import Span
from rules import first_rulebook
from rules.limits import guard_factor

Changed = Callable[..., dict[str, Any]]
WORDS = ("black", "dull_red", "cherry", "bright")
HARMFUL = 43.0
K = guard_factor(0.05)


def assess(fitting: Fitting) -> Assessment:
    return assess_by(fitting, first_rulebook())


def heated(changed: Changed, heat: str, seconds: float, horn: float, further: list[float] | None = None) -> Assessment:
    """The good foot with this hold on this thickness of sole, its wall left out."""
    raw = changed(
        observations__scorch__shoe_heat=heat,
        observations__scorch__contact_time=seconds,
        observations__scorch__further_contact_times=further,
        hoof__sole_thickness=horn,
        hoof__wall_thickness=...,
    )
    return assess(Fitting.model_validate(raw))


def rules_fired(assessment: Assessment) -> set[str]:
    return {finding.rule for finding in assessment.findings}


def reading(assessment: Assessment, quantity: str) -> tuple[float, float]:
    [found] = [each for each in assessment.measurements if each.quantity == quantity]
    return found.value, found.u


def upper(assessment: Assessment) -> float:
    value, u = reading(assessment, "inside_temperature")
    return value + K * u


def test_frost_goes_as_deep_into_the_ground_as_textbooks_of_heat_transfer_reckon() -> None:
    """Soil at 20 degC, its surface at -15 degC for 60 days, a = 0.138e-6 m2/s: 0 degC at 0.677 m."""
    days = 86400.0
    assert temperature(-15, 20, 0.138e-6, 60 * days, 0.677) == pytest.approx(0.0, abs=0.05)
    # The other way round, mirrored because the sum of the time left is for heating: soil at -20, surface at 15.
    assert seconds_to_reach(0, 15, -20, 0.138e-6, 0.677) / days == pytest.approx(60, rel=2e-3)


@pytest.mark.parametrize(("reach", "erf"), [(0.5, 0.5204998778), (1.0, 0.8427007929), (2.0, 0.9953222650)])
def test_the_profile_is_the_error_function_as_tabled(reach: float, erf: float) -> None:
    """Abramowitz and Stegun, table 7.1; a surface at nought on a body at one leaves the bare function."""
    assert temperature(0, 1, 1e-7, 100, reach * 2 * math.sqrt(1e-5)) == pytest.approx(erf, abs=1e-10)


@pytest.mark.parametrize("share", [1e-12, 0.003, 0.0157, 0.5, 0.9])
def test_the_time_to_a_limit_agrees_with_another_inverse_of_the_error_function(share: float) -> None:
    """scipy.special.erfcinv."""
    expected = (0.01 / (2 * float(erfcinv(share)))) ** 2 / 1.2e-7
    assert seconds_to_reach(share, 1, 0, 1.2e-7, 0.01) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("time", [0.0, 5e-324])
def test_no_time_or_next_to_none_leaves_the_horn_as_it_was(time: float) -> None:
    assert temperature(800, 25, 1.2e-7, time, 0.01) == 25


def solved(shoe: float, horn: float, diffusivity: float, seconds: float, depth: float) -> float:
    """Temperature at ``depth`` by implicit finite differences, the far side six diffusion lengths away."""
    far = max(3 * depth, 6 * math.sqrt(diffusivity * seconds))
    cells = round(far / depth) * 40
    step, moment = far / cells, seconds / 800
    ratio = diffusivity * moment / step**2
    # Crank and Nicolson after a few wholly implicit steps, which damp the jump at the surface.
    inner = cells - 1
    second = np.diag(np.full(inner, -2.0)) + np.diag(np.ones(inner - 1), 1) + np.diag(np.ones(inner - 1), -1)
    surface, body = np.zeros(inner), np.full(inner, horn)
    surface[0], surface[-1] = shoe, horn
    eye = np.eye(inner)
    start = np.linalg.inv(eye - ratio * second)
    march = np.linalg.inv(eye - ratio / 2 * second)
    for number in range(800):
        if number < 8:
            body = start @ (body + ratio * surface)
        else:
            body = march @ (body + ratio / 2 * (second @ body) + ratio * surface)
    return float(np.interp(depth, np.linspace(0, far, cells + 1), [shoe, *body, horn]))


@pytest.mark.parametrize(
    ("shoe", "horn", "diffusivity", "seconds", "depth"),
    [
        (1025, 35, 1.4e-7, 29, 10e-3),
        (375, 20, 1.0e-7, 180, 6e-3),
        (800, 28, 1.2e-7, 46.5, 9e-3),
        (650, 30, 1.4e-7, 120, 12e-3),
        (950, 25, 1.1e-7, 8, 4e-3),
    ],
)
def test_a_numerical_solver_comes_to_the_same_temperature(
    shoe: float, horn: float, diffusivity: float, seconds: float, depth: float
) -> None:
    """Finite differences in space and time, built here; they agree within 0.2 K and 0.5 % of the rise."""
    exact = temperature(shoe, horn, diffusivity, seconds, depth)
    assert solved(shoe, horn, diffusivity, seconds, depth) == pytest.approx(exact, abs=0.2, rel=0.005)


@pytest.mark.parametrize("heat", WORDS)
def test_29_seconds_on_10_mm_of_horn_are_not_called_harmful(changed: Changed, heat: str) -> None:
    """FL: Barthelemy held 29 to 80 s, mean 46 to 47, over 100 feet, and hurt none."""
    assessment = heated(changed, heat, 29, 10)
    assert "horn-heated" not in rules_fired(assessment)
    assert upper(assessment) < HARMFUL
    assert reading(assessment, "time_left")[0] > 0


@pytest.mark.parametrize("heat", WORDS)
def test_180_seconds_on_6_mm_of_horn_are_called_harmful(changed: Changed, heat: str) -> None:
    """FL: Delafond and Reynal saw a thermometer inside the sole rise only after about three minutes of hot iron."""
    assessment = heated(changed, heat, 180, 6)
    assert "horn-heated" in rules_fired(assessment)
    assert assessment.decision == "stop_and_refer"
    assert reading(assessment, "time_left")[0] == 0
    value, u = reading(assessment, "inside_temperature")
    assert value - K * u > HARMFUL  # whatever horn and heat within their ranges


@pytest.mark.parametrize("heat", WORDS)
def test_where_the_sum_differs_from_the_old_trials_it_errs_on_the_safe_side(changed: Changed, heat: str) -> None:
    """FL: nothing was felt inside before about three minutes; on 10 mm of horn the sum warns well before that."""
    assert "horn-heated" in rules_fired(heated(changed, heat, 180, 10))


def test_several_holds_add_up_as_one(changed: Changed) -> None:
    once, thrice = heated(changed, "cherry", 24, 7), heated(changed, "cherry", 8, 7, [8, 8])
    alone = heated(changed, "cherry", 8, 7)
    assert reading(alone, "inside_temperature")[0] < reading(once, "inside_temperature")[0]
    # The three times have an uncertainty each, so the sum is a little less sure than one hold of 24 s.
    assert upper(once) < upper(thrice)
    assert upper(thrice) == pytest.approx(upper(once), rel=0.12)
    book = first_rulebook()
    assert book.remarks["heat_adds_up"].text in thrice.remarks
    assert book.remarks["heat_adds_up"].text not in once.remarks
    assert book.remarks["heat"].text in once.remarks


def test_the_thinner_of_wall_and_sole_counts(changed: Changed) -> None:
    def span(**hoof: Any) -> tuple[float, float]:
        edits = {f"hoof__{name}": value for name, value in hoof.items()}
        return reading(assess(Fitting.model_validate(changed(**edits))), "inside_temperature")

    assert span(sole_thickness=6, wall_thickness=11) == span(sole_thickness=6, wall_thickness=...)
    assert span(sole_thickness=11, wall_thickness=6) == span(sole_thickness=..., wall_thickness=6)


@pytest.mark.parametrize(
    "edits",
    [
        {"observations__scorch__shoe_heat": ...},
        {"observations__scorch__contact_time": ...},
        {"hoof__wall_thickness": ..., "hoof__sole_thickness": ...},
        {"observations__scorch": ...},
    ],
)
def test_without_heat_time_or_horn_nothing_is_reckoned(changed: Changed, edits: dict[str, Any]) -> None:
    assessment = assess(Fitting.model_validate(changed(**edits)))
    assert not {"inside_temperature", "time_left"} & {each.quantity for each in assessment.measurements}
    assert first_rulebook().remarks["heat"].text not in assessment.remarks


def test_further_holds_without_the_longest_are_refused(changed: Changed) -> None:
    raw = changed(observations__scorch__contact_time=..., observations__scorch__further_contact_times=[100])
    with pytest.raises(BadInput) as refused:
        assess(Fitting.model_validate(raw))
    assert [problem.field for problem in refused.value.problems] == ["observations.scorch.contact_time"]


def test_a_further_hold_longer_than_the_longest_is_refused(changed: Changed) -> None:
    raw = changed(observations__scorch__contact_time=5, observations__scorch__further_contact_times=[4, 100])
    with pytest.raises(BadInput) as refused:
        assess(Fitting.model_validate(raw))
    [problem] = refused.value.problems
    assert (problem.field, problem.value) == ("observations.scorch.further_contact_times.1", 100)
    assert "5 s" in problem.allowed


def test_the_heat_is_reckoned_without_heavy_libraries(changed: Changed, root: Path) -> None:
    """The command line starts in a moment only while it loads none of them."""
    code = (
        "import json, sys; from fitcheck.assessment.assess import assess; from rules import first_rulebook;"
        "from fitcheck.fitting.models import Fitting;"
        "found = assess(Fitting.model_validate(json.loads(sys.stdin.read())), first_rulebook()).measurements;"
        "assert 'time_left' in {each.quantity for each in found};"
        "print(sorted({'numpy', 'scipy', 'shapely'} & set(sys.modules)))"
    )

    done = subprocess.run(
        [sys.executable, "-c", code], input=json.dumps(changed()), capture_output=True, text=True, check=True, cwd=root
    )
    assert done.stdout.strip() == "[]"


def _spans(low: float, high: float, widest: float) -> st.SearchStrategy[Span]:
    return st.builds(lambda least, width: Span(least, least + width), st.floats(low, high), st.floats(0, widest))


contacts = st.builds(
    Contact,
    shoe=_spans(100, 1000, 150),
    horn=_spans(-10, 38, 15),
    diffusivity=_spans(0.8e-7, 1.6e-7, 0.5e-7),
    time=_spans(0, 300, 20),
    depth=_spans(0.5e-3, 20e-3, 3e-3),
)


@given(contacts, st.floats(0, 100), st.floats(0, 60), st.floats(0.05, 1))
def test_more_heat_more_time_or_less_horn_never_lowers_the_temperature(
    contact: Contact, hotter: float, longer: float, share: float
) -> None:
    before = temperature_span(contact)
    for worse in (
        contact._replace(shoe=Span(*(end + hotter for end in contact.shoe))),
        contact._replace(time=Span(*(end + longer for end in contact.time))),
        contact._replace(depth=Span(*(end * share for end in contact.depth))),
    ):
        after = temperature_span(worse)
        assert after.low >= before.low - 1e-9
        assert after.high >= before.high - 1e-9


@given(contacts, st.floats(35.5, 99))
def test_the_inside_has_reached_a_limit_just_when_no_time_is_left(contact: Contact, limit: float) -> None:
    hottest = temperature_span(contact).high
    needed = seconds_to_reach(limit, contact.shoe.high, contact.horn.high, contact.diffusivity.high, contact.depth.low)
    if abs(hottest - limit) > 1e-6:
        assert (hottest > limit) == (contact.time.high > needed)


@settings(max_examples=25, deadline=None)
@given(
    seconds=st.floats(0, 200),
    horn=st.floats(3, 20),
    u_seconds=st.floats(0, 10),
    u_horn=st.floats(0, 3),
    more=st.floats(1, 3),
)
def test_more_uncertainty_never_makes_the_guarded_limit_quieter(
    seconds: float, horn: float, u_seconds: float, u_horn: float, more: float
) -> None:
    def at_the_worst(factor: float) -> tuple[float, float]:
        assessment = assess(Fitting.model_validate(_bare(seconds, horn, u_seconds * factor, u_horn * factor)))
        return upper(assessment), reading(assessment, "time_left")[0]

    (hot, left), (hotter, less_left) = at_the_worst(1), at_the_worst(more)
    assert hotter >= hot - 1e-3  # readings are given to four places
    assert less_left <= left


@settings(max_examples=25, deadline=None)
@given(seconds=st.floats(0, 200), longer=st.floats(0, 100), horn=st.floats(3, 20))
def test_the_time_left_falls_as_contact_grows(seconds: float, longer: float, horn: float) -> None:
    now, later = (
        reading(assess(Fitting.model_validate(_bare(held, horn, 1, 0.5))), "time_left")[0]
        for held in (seconds, seconds + longer)
    )
    assert later == pytest.approx(max(0.0, now - longer), abs=2e-4)


def _bare(seconds: float, horn: float, u_seconds: float, u_horn: float) -> dict[str, Any]:
    return {
        "foot": "left_fore",
        "stage": "hot_fit",
        "work": "draught",
        "hoof": {"sole_thickness": {"value": horn, "u": u_horn}},
        "observations": {"scorch": {"shoe_heat": "cherry", "contact_time": {"value": seconds, "u": u_seconds}}},
    }


@pytest.mark.parametrize(("seconds", "horn"), [(8, 6), (30, 8), (60, 10), (150, 7)])
def test_most_of_what_can_be_lies_within_the_range_that_is_given(seconds: float, horn: float) -> None:
    """JCGM 101:2008, propagation of distributions: readings drawn with their u, parameters evenly over their ranges."""
    value, u = reading(assess(Fitting.model_validate(_bare(seconds, horn, 1, 0.5))), "inside_temperature")
    rng = np.random.default_rng(101)
    drawn = [
        temperature(*corner)
        for corner in zip(
            rng.uniform(725, 875, 4000).tolist(),
            rng.uniform(20, 35, 4000).tolist(),
            rng.uniform(1.0e-7, 1.4e-7, 4000).tolist(),
            rng.normal(seconds, 1, 4000).tolist(),
            (rng.normal(horn, 0.5, 4000) * 1e-3).tolist(),
            strict=True,
        )
    ]
    within = [value - K * u <= one <= value + K * u for one in drawn]
    assert sum(within) / len(within) >= 0.95


@pytest.mark.parametrize(("u_seconds", "u_horn"), [(2.0, 0.0), (0.0, 0.15)])
def test_one_uncertain_reading_spreads_the_temperature_as_far_as_is_said(u_seconds: float, u_horn: float) -> None:
    """JCGM 101:2008: with all else held fast, half the range over k is the standard deviation of the draws."""
    seconds, horn = 60.0, 8.0
    span = temperature_span(
        Contact(
            Span(800, 800),
            Span(28, 28),
            Span(1.2e-7, 1.2e-7),
            Span(seconds - K * u_seconds, seconds + K * u_seconds),
            Span((horn - K * u_horn) * 1e-3, (horn + K * u_horn) * 1e-3),
        )
    )
    rng = np.random.default_rng(7)
    times, depths = rng.normal(seconds, u_seconds, 20_000), rng.normal(horn, u_horn, 20_000) * 1e-3
    drawn = [
        temperature(800, 28, 1.2e-7, time, depth) for time, depth in zip(times.tolist(), depths.tolist(), strict=True)
    ]
    assert (span.high - span.low) / (2 * K) == pytest.approx(float(np.std(drawn)), rel=0.1)


def test_two_uncertain_readings_at_their_worst_together_never_say_too_little() -> None:
    """Ends that add up lie between the joint spread of independent readings and the root of two times it."""
    seconds, horn, u_seconds, u_horn = 60.0, 8.0, 2.0, 0.15
    span = temperature_span(
        Contact(
            Span(800, 800),
            Span(28, 28),
            Span(1.2e-7, 1.2e-7),
            Span(seconds - K * u_seconds, seconds + K * u_seconds),
            Span((horn - K * u_horn) * 1e-3, (horn + K * u_horn) * 1e-3),
        )
    )
    rng = np.random.default_rng(8)
    times, depths = rng.normal(seconds, u_seconds, 20_000), rng.normal(horn, u_horn, 20_000) * 1e-3
    spread = float(
        np.std([temperature(800, 28, 1.2e-7, t, x) for t, x in zip(times.tolist(), depths.tolist(), strict=True)])
    )
    assert spread <= (span.high - span.low) / (2 * K) <= math.sqrt(2) * 1.1 * spread
