"""The next drawing against the library questplus, which has Watson's method (Journal of Vision 17(3):10, 2017)."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr
from questplus import QuestPlus
from scipy.stats import norm

from fitcheck.practice.choice import Chooser, chooser_of, drawn
from fitcheck.practice.exercises import exercises_of, model
from fitcheck.practice.people import Answer, People
from fitcheck.rulebooks.selection import book_named
from rules import shipped_rulebook

EXERCISES = exercises_of(shipped_rulebook())
EXACT = 1e-9


def test_every_exercise_has_its_words_and_bounds_in_the_shipped_book() -> None:
    book = shipped_rulebook()
    assert list(EXERCISES) == [
        *("heel_width", "toe", "nail_line", "gap", "exit_height", "level", "imprint", "axis"),
    ]
    # LA 119-120: 1/16 to 1/8 in past the wall; LA 131: 5/8 to 1 5/8 in above the shoe.
    assert EXERCISES["heel_width"].bounds == (-0.5, 25.4 / 16, 25.4 / 8)
    assert EXERCISES["exit_height"].bounds == (25.4 * 5 / 8, 25.4 * 13 / 8)
    for exercise in EXERCISES.values():
        assert len(exercise.words) == len(exercise.bounds) + 1
        assert exercise.low < exercise.bounds[0] < exercise.bounds[-1] < exercise.high
        assert set(exercise.words) == set(book.quantities[exercise.by_eye].vocabulary)


def test_what_the_book_lacks_is_not_practised() -> None:
    """The first contract's rulebook has no words of its own but for the width at the heel."""
    assert exercises_of(book_named("1.3.0")) == {}


@pytest.mark.parametrize("seed", range(2))
def test_with_two_words_it_is_the_librarys_normal_psychometric_function_and_its_choice(seed: int) -> None:
    values, biases, spreads = np.linspace(-5, 6, 23), np.linspace(-3, 3, 13), np.geomspace(0.2, 3, 9)
    bound = 0.8
    prior = np.full((13, 9, 1), 1 / (13 * 9))
    chooser = Chooser(People(biases, spreads, np.array([0.04]), prior), values, (bound,))
    library = QuestPlus(
        stim_domain={"intensity": values},
        param_domain={"mean": bound + biases, "sd": spreads, "lower_asymptote": 0.02, "lapse_rate": 0.02},
        outcome_domain={"response": ["Yes", "No"]},
        func="norm_cdf",
        stim_scale="linear",
    )
    random = np.random.default_rng(seed)
    answers: list[Answer] = []
    for _ in range(20):
        expected = library.next_stim["intensity"]
        found = chooser.next(answers)
        entropies = dict(zip(values, chooser.entropies(chooser.people.after(answers).weights), strict=True))
        assert library.entropy == pytest.approx(entropies[found], abs=EXACT)
        assert entropies[expected] == pytest.approx(entropies[found], abs=EXACT)
        above = bool(random.normal(expected, 0.9) > bound + 0.7)
        library.update(stim={"intensity": expected}, outcome={"response": "Yes" if above else "No"})
        answers.append(Answer(float(expected), int(above), (bound,)))
        ours = chooser.people.after(answers)
        np.testing.assert_allclose(ours.weights[..., 0], library.posterior.values[:, :, 0, 0], atol=EXACT)


@pytest.mark.parametrize("name", ["heel_width", "gap"])
def test_with_all_words_and_lapses_it_is_the_librarys_choice(name: str) -> None:
    """The library has no ordered words: it is handed how likely each word is, by scipy, and chooses by that."""
    exercise = EXERCISES[name]  # type: ignore[index]
    chooser = chooser_of(exercise)
    people, values = chooser.people, chooser.candidates
    ends = np.array([-np.inf, *exercise.bounds, np.inf])
    seen = np.diff(
        norm.cdf(
            (ends[:, None, None, None] + people.bias[None, None, :, None] - values[None, :, None, None])
            / people.spread[None, None, None, :]
        ),
        axis=0,
    )[..., None]
    likely = people.lapse / len(exercise.words) + (1 - people.lapse) * seen
    domain = {"mean": people.bias, "sd": people.spread, "lapse_rate": people.lapse}
    library = QuestPlus(
        stim_domain={"intensity": values},
        param_domain=domain | {"lower_asymptote": [0.0]},
        outcome_domain={"response": ["Yes", "No"]},
        func="norm_cdf",
        stim_scale="linear",
    )
    library.param_domain = domain
    library.outcome_domain = {"response": np.array(exercise.words)}
    dims = ("response", "intensity", *domain)
    coordinates = {"response": list(exercise.words), "intensity": values, **domain}
    library.likelihoods = xr.DataArray(likely, dims=dims, coords=coordinates)
    library.posterior = xr.DataArray(people.prior, dims=tuple(domain), coords=domain)
    random = np.random.default_rng(11)
    answers: list[Answer] = []
    for _ in range(12):
        expected = library.next_stim["intensity"]
        entropies = chooser.entropies(people.after(answers).weights)
        assert library.entropy == pytest.approx(entropies.min(), abs=EXACT)
        assert entropies[list(values).index(expected)] == pytest.approx(entropies.min(), abs=EXACT)
        value = float(random.normal(expected, exercise.scale))
        word = sum(value > bound for bound in exercise.bounds)
        library.update(stim={"intensity": expected}, outcome={"response": exercise.words[word]})
        answers.append(Answer(float(expected), word, exercise.bounds))
    np.testing.assert_allclose(people.after(answers).weights, library.posterior.values, atol=EXACT)


def test_what_is_drawn_lies_within_the_range_and_now_and_then_anywhere_in_it() -> None:
    exercise = EXERCISES["gap"]
    answers: list[Answer] = []
    for number, share in enumerate(np.random.default_rng(3).random(18), start=1):
        value = drawn(exercise, answers, float(share))
        assert exercise.low <= value <= exercise.high
        if number % model().every == 0:
            assert value == pytest.approx(exercise.low + share * (exercise.high - exercise.low), abs=0.0006)
        answers.append(Answer(value, sum(value > bound for bound in exercise.bounds), exercise.bounds))
