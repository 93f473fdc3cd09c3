"""Intervals hold the truth, and stated chances come true, of people who err in ways that the model does not know.

In full by ``python -m tests.studies eye``: 500 people with 12, 30 and 100 pairs each; 200 people in simulated yards.
"""

from __future__ import annotations

import sys
from itertools import pairwise

import pytest

from fitcheck.eye.chance import Usual, chance_between, curve_of
from fitcheck.eye.ordered_probit import Estimate, Look, Method, shift_of
from fitcheck.eye.scales import scales
from tests.support.counts import tries
from tests.support.simulated_eyes import ENDS, WORDS, Person, Seen, people, true_spread, yard

LEAST = 0.92
LARGEST = 0.05
FEWEST_IN_A_BIN = 200
PEOPLE = tries(5, full=500)
IN_YARDS = tries(30, full=200)
_figure = scales().figure
METHOD = Method(_figure("lapse_rate"), _figure("shared_by_horse"), _figure("level"))
USUAL = Usual(_figure("shift_before"), _figure("end_before"), _figure("spread_before"), _figure("spread_factor_before"))
BEYOND = ((None, ENDS[0]), (None, ENDS[1]), (ENDS[1], None), (ENDS[2], None))
"""Between which measures a finding on each word is so."""


def looks_of(seen: list[Seen]) -> list[Look]:
    return [Look(each.measured, each.u, each.word, each.horse, ENDS) for each in seen]


def holds(estimate: Estimate, truth: float) -> bool:
    return (estimate.low is None or estimate.low <= truth) and (estimate.high is None or truth <= estimate.high)


@pytest.mark.parametrize("count", [12, 30, 100])
def test_intervals_of_bias_and_spread_hold_the_truth(count: int) -> None:
    bias = spread = open_bias = open_spread = whole = 0
    for number, person in enumerate(people(PEOPLE, seed=7)):
        fit = shift_of(looks_of(yard(person, count, number * 7 + count)), len(WORDS), METHOD)
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
def test_stated_chances_come_true_over_simulated_yards() -> None:
    """The largest difference between stated chance and true share, over tenths of the chance."""
    others = (yard(Person(0, 1, 5, 0.3, 0, 0), 30, 900 + number) for number in range(10))
    measures = [(each.measured, each.u) for seen in others for each in seen]
    stated: list[tuple[float, bool]] = []
    for number, person in enumerate(people(IN_YARDS, seed=11)):
        for count in (12, 30, 100):
            curve = curve_of(looks_of(yard(person, count, number * 7 + count)), WORDS, "mm", METHOD, USUAL, measures)
            assert curve is not None
            for each in yard(person, 60, number * 7 + count + 5_000_000):
                low, high = BEYOND[each.word]
                chance = chance_between(curve, WORDS[each.word], ENDS, low, high)
                assert chance is not None
                stated.append((chance, (low is None or each.true > low) and (high is None or each.true < high)))
    differences = []
    for low, high in pairwise([number / 10 for number in range(11)]):
        inside = [(chance, true) for chance, true in stated if low <= chance < high or chance == high == 1]
        if len(inside) >= FEWEST_IN_A_BIN:
            difference = sum(chance - true for chance, true in inside) / len(inside)
            differences.append(difference)
            sys.stdout.write(f"{low:.1f} to {high:.1f}: {len(inside)} words, stated less true {difference:+.3f}\n")
    assert len(differences) >= 5
    # Fewer people leave the shares themselves less sure.
    assert max(map(abs, differences)) < LARGEST * (1 if len(stated) > 30_000 else 3)
