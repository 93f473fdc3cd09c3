"""The course of heat behind the horn against finite volumes, textbook solutions and the published trials."""

from __future__ import annotations

import math
import tomllib
from typing import Final, Literal

import pytest
from scipy.special import erfcx

from fitcheck.measure.heat_course import Course, Hold, Tissue, inside_at, peak_inside, time_left
from fitcheck.measure.heat_response import Properties, Response
from fitcheck.measure.results import Span
from tests.support.heat_volumes import Matter, Touch, by_volumes
from tests.support.paths import ROOT

End = Literal["low", "high"]
ENDS: Final[tuple[End, ...]] = ("low", "high")
COOLING: Final = {"perfusion", "iron_loss", "tissue_conductivity", "tissue_heat_capacity"}
"""Parameters of which more makes the inside cooler."""
PARAMETERS: Final = tomllib.loads((ROOT / "rules/book/parameters.toml").read_text(encoding="utf-8"))["parameters"]
AS_FITTED: Final = (0.0, 180.0, 800.0)
"""The three minutes of the trials, at the heat that measuring takes them at (common practice, no source)."""


def parameter(name: str, end: End) -> float:
    opposite: End = "low" if end == "high" else "high"
    record = PARAMETERS[name]
    return float(record.get(opposite if name in COOLING else end, record.get("value")))


def matter(end: End, tissue: Tissue) -> Matter:
    conductance = parameter("surface_conductance", end)
    return Matter(
        horn_conductivity=parameter("horn_conductivity", end),
        diffusivity=parameter("course_diffusivity", end),
        tissue_conductivity=parameter("tissue_conductivity", end),
        tissue_heat_capacity=parameter("tissue_heat_capacity", end),
        perfusion=parameter("perfusion", end) if tissue == "living" else 0.0,
        to_iron=conductance,
        to_air=conductance,
        iron_thickness=parameter("iron_thickness", end) * 1e-3,
        iron_heat_capacity=parameter("iron_heat_capacity", end),
        iron_loss=parameter("iron_loss", end),
    )


def exact(value: float) -> Span:
    return Span(value, value)


def held(*touches: tuple[float, float, float]) -> list[Hold]:
    """Holds of start (s), time (s) and heat (degC), each known exactly."""
    return [Hold(start, exact(seconds), exact(degc)) for start, seconds, degc in touches]


def peak(course: Course, end: End) -> float:
    return course.low_peak if end == "low" else course.high_peak


FOUR_TRIES: Final = ((0.0, 6.0, 650.0), (66.0, 7.0, 800.0), (133.0, 9.0, 950.0), (202.0, 5.0, 800.0))


@pytest.mark.parametrize("end", ENDS)
@pytest.mark.parametrize(
    ("tissue", "horn", "touches"),
    [
        ("dead", 3.9, [AS_FITTED]),
        ("dead", 6.9, [AS_FITTED]),
        ("dead", 15.0, [AS_FITTED]),
        ("dead", 5.0, [(0.0, 60.0, 800.0), (900.0, 60.0, 450.0)]),
        ("dead", 30.0, [(0.0, 600.0, 950.0)]),
        ("living", 10.0, [(0.0, 80.0, 800.0)]),
        ("living", 8.0, [(0.0, 80.0, 800.0)]),
        ("living", 2.0, [(0.0, 600.0, 1000.0)]),
        ("living", 4.0, FOUR_TRIES),
        ("living", 9.0, FOUR_TRIES),
        ("living", 6.0, [(0.0, 30.0, 950.0), (33.0, 30.0, 650.0), (1800.0, 45.0, 800.0)]),
        ("living", 14.0, [(0.0, 7.0, 800.0), (1200.0, 120.0, 950.0)]),
    ],
)
def test_finite_volumes_come_to_the_same_course(
    tissue: Tissue, horn: float, touches: list[tuple[float, float, float]], end: End
) -> None:
    """The requirement is 0.5 K; both are closer, so a slip in either shows."""
    holds = held(*touches)
    over = touches[-1][0] + touches[-1][1]
    before = parameter(f"{tissue}_temperature", end)
    volumes = by_volumes(
        matter(end, tissue), horn, before, [Touch(*touch) for touch in touches], over + max(120, 12 * horn**2)
    )
    course = peak_inside(holds, exact(horn), tissue=tissue)
    assert peak(course, end) == pytest.approx(volumes.peak, abs=0.05)
    assert course.when_s.low - 3 <= volumes.when <= course.when_s.high + 3
    for moment in (touches[0][1], over, over + 90):
        inside = inside_at(moment, holds, exact(horn), tissue=tissue)
        assert getattr(inside, end) == pytest.approx(volumes.at(moment), abs=0.05)


@pytest.mark.parametrize("seconds", [5.0, 30.0, 180.0, 600.0, 3000.0])
@pytest.mark.parametrize("depth", [2e-3, 5e-3, 10e-3])
@pytest.mark.parametrize("conductance", [5.0, 13.0, 400.0])
def test_one_body_under_an_even_heat_warms_as_carslaw_and_jaeger_have_it(
    conductance: float, depth: float, seconds: float
) -> None:
    """Carslaw and Jaeger, Conduction of Heat in Solids (2nd ed. 1959), 2.7: a half-space with a surface conductance.

    Tissue like horn, without blood, makes one half-space of both; for 800 K of iron the two agree within 0.02 K.
    """
    conductivity, diffusivity = 0.2, 1e-7
    body = Properties(conductivity, diffusivity, conductance, conductivity, conductivity / diffusivity, 0.0, math.inf)
    reach = depth / (2 * math.sqrt(diffusivity * seconds))
    surface = conductance * math.sqrt(diffusivity * seconds) / conductivity
    # e^(hx/k + h2at/k2) erfc(reach + surface), written so that it does not overflow
    share = math.erfc(reach) - math.exp(-reach * reach) * float(erfcx(reach + surface))
    assert 800 * Response(body, depth).stored(seconds) == pytest.approx(800 * share, abs=0.02)


def test_perfused_tissue_comes_to_rest_as_three_resistances_in_a_row() -> None:
    """Surface, horn, and tissue whose blood takes the heat away at the root of kt ct w (Pennes 1948): by hand."""
    living = Properties(0.2, 1e-7, 13.0, 0.5, 3.7e6, 0.004, math.inf)
    tissue = math.sqrt(0.5 * 3.7e6 * 0.004)
    share = (1 / tissue) / (1 / 13 + 0.008 / 0.2 + 1 / tissue)
    assert Response(living, 0.008).stored(9000) == pytest.approx(share, abs=1e-5)


class TestPublishedTrials:
    """FRU08: 20 dead forefeet, 180 s; 51 degC only under soles that average 5.4 mm (s 1.5): 3.9 and 6.9 mm here.

    FL 595 (Delafond, Reynal): a thermometer inside the separated sole unmoved before three minutes; its thickness is
    not printed, 15 mm is common practice. FL 596 (Barthelemy): 100 feet, 29 to 80 s, none hurt.
    """

    @pytest.mark.parametrize("end", ENDS)
    def test_a_thin_dead_sole_comes_to_51_degc_as_the_iron_comes_off(self, end: End) -> None:
        assert getattr(inside_at(180, held(AS_FITTED), exact(3.9), tissue="dead"), end) >= 51

    @pytest.mark.parametrize("end", ENDS)
    def test_a_thick_dead_sole_stays_below_51_degc_even_at_its_peak(self, end: End) -> None:
        assert peak(peak_inside(held(AS_FITTED), exact(6.9), tissue="dead"), end) < 51

    @pytest.mark.parametrize("end", ENDS)
    def test_a_thermometer_behind_15_mm_hardly_moves_within_three_minutes(self, end: End) -> None:
        risen = getattr(inside_at(180, held(AS_FITTED), exact(15), tissue="dead"), end) - parameter(
            "dead_temperature", end
        )
        assert 0 < risen < 1

    @pytest.mark.parametrize("end", ENDS)
    @pytest.mark.parametrize(("horn", "below"), [(10.0, 43.0), (8.0, 50.0)])
    def test_the_longest_hold_that_hurt_none_of_100_feet_is_not_called_harmful(
        self, horn: float, below: float, end: End
    ) -> None:
        assert peak(peak_inside(held((0, 80, 800)), exact(horn)), end) < below

    def test_seven_seconds_of_cherry_on_8_mm_leave_time_for_another_touch(self) -> None:
        """Everyday work: it was 47 to 92 degC under perfect contact, which the trials of FL refute."""
        once = held((0, 7, 800))
        assert peak_inside(once, exact(8)).high_peak < 36
        assert 30 < time_left(43, exact(800), 7, once, exact(8)) < 80


@pytest.mark.parametrize("share", [0.5, 2.0])
def test_air_that_takes_half_or_twice_as_much_heat_changes_a_living_peak_by_less_than_a_kelvin(share: float) -> None:
    """One conductance stands for iron and air, by which holds superpose: what that costs, by finite volumes."""
    for horn in (8.0, 10.0):
        own = matter("high", "living")
        before = parameter("living_temperature", "high")
        aired = by_volumes(own._replace(to_air=own.to_air * share), horn, before, [Touch(0, 80, 800)], 1200)
        assert peak_inside(held((0, 80, 800)), exact(horn)).high_peak == pytest.approx(aired.peak, abs=1.0)
