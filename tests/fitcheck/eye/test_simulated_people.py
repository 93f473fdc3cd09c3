"""Intervals hold the truth, and stated chances come true, of people who err in ways that the model does not know.

In full by ``python -m tests.studies eye``: 500 people with 12, 30 and 100 pairs each; 200 people in simulated yards.
"""

from __future__ import annotations

import sys

import pytest

from fitcheck.eye.chance import chance_between, curve_of
from fitcheck.eye.known import method, usual
from fitcheck.eye.ordered_probit import Estimate, Look, shift_of
from tests.support.counts import tries
from tests.support.simulated_eyes import ENDS, WORDS, Person, Seen, people, true_spread, yard
from tests.support.true_chances import BEYOND, Kept, deciles, tenths, told

LEAST = 0.92
LARGEST = 0.05
FEWEST_WORDS = 200
"""In a tenth of the chances."""
CHOSEN_BY, AFTERWARDS = 11, 20_261_130
"""What eyes are usually like was chosen with people of the first seed, nothing with those of the second."""
OF_A_YARD = 10
PEOPLE = tries(5, full=500)
IN_YARDS = tries(30, full=200)


def looks_of(seen: list[Seen]) -> list[Look]:
    return [Look(each.measured, each.u, each.word, each.horse, ENDS) for each in seen]


def holds(estimate: Estimate, truth: float) -> bool:
    return (estimate.low is None or estimate.low <= truth) and (estimate.high is None or truth <= estimate.high)


@pytest.mark.parametrize("count", [12, 30, 100])
def test_intervals_of_bias_and_spread_hold_the_truth(count: int) -> None:
    bias = spread = open_bias = open_spread = whole = 0
    for number, person in enumerate(people(PEOPLE, seed=7)):
        fit = shift_of(looks_of(yard(person, count, number * 7 + count)), len(WORDS), method())
        assert fit is not None
        whole += 1
        bias += holds(fit.ends[0], person.bias)
        spread += holds(fit.spread, true_spread(person, number + 10**6))
        open_bias += fit.ends[0].low is None or fit.ends[0].high is None
        open_spread += fit.spread.low is None or fit.spread.high is None
    sys.stdout.write(
        f"{count} pairs, {whole} people: bias held {bias / whole:.3f} (open {open_bias}), "
        f"spread held {spread / whole:.3f} (open {open_spread})\n"
    )
    # Of few people chance alone may take two from the share.
    assert bias >= LEAST * whole - 2 * (whole < 100)
    assert spread >= LEAST * whole - 2 * (whole < 100)


@pytest.mark.long
@pytest.mark.parametrize("seed", [CHOSEN_BY, AFTERWARDS])
def test_stated_chances_come_true_over_simulated_yards(seed: int) -> None:
    """The largest difference between stated chance and true share, over tenths of the chance."""
    kept: list[Kept] = []
    first = seed - CHOSEN_BY
    measures: list[tuple[float, float]] = []
    for number, person in enumerate(people(IN_YARDS, seed)):
        if number % OF_A_YARD == 0:
            others = (yard(Person(0, 1, 5, 0.3, 0, 0), 50, first + 900 + number * 31 + at) for at in range(OF_A_YARD))
            measures = [(each.measured, each.u) for seen in others for each in seen]
        for count in (12, 30, 100):
            curve = curve_of(
                looks_of(yard(person, count, first + number * 7 + count)), WORDS, "mm", method(), usual(), measures
            )
            assert curve is not None
            for each in yard(person, 60, first + number * 7 + count + 5_000_000):
                low, high = BEYOND["width"](ENDS)[each.word] or (None, None)
                chance = chance_between(curve, WORDS[each.word], ENDS, low, high)
                assert chance is not None
                true = (low is None or each.true > low) and (high is None or each.true < high)
                kept.append(Kept(chance, true, number))
    found, alike = tenths(kept), deciles(kept)
    told(f"width, first simulation, seed {seed}", found)
    told(f"width, first simulation, seed {seed}, deciles", alike)
    enough = [each for each in found if each.words >= FEWEST_WORDS]
    # Fewer people leave the shares themselves less sure.
    assert len(enough) >= 5 or IN_YARDS < 100
    assert all(abs(each.difference) < LARGEST * (1 if IN_YARDS >= 100 else 3) for each in (*enough, *alike))
