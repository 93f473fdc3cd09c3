"""The telephone's practice against the service's: the same normal distribution, choices, outcome and sentences."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np
import pytest
from scipy.special import ndtr
from shapely.geometry import Polygon

from api.responses.practice import PracticeOffer
from fitcheck.practice import ExerciseId, exercises_of
from fitcheck.practice.choice import drawn
from fitcheck.practice.estimates import eye_of
from fitcheck.practice.people import Answer
from fitcheck.practice.sentences import sentences
from fitcheck.text.catalogue import messages_in
from rules import shipped_rulebook
from tests.support.page_modules import run_in_node
from tests.support.practised_eyes import people

EXERCISES = exercises_of(shipped_rulebook())
OFFER: dict[str, Any] = json.loads(PracticeOffer.of(shipped_rulebook()).model_dump_json())
IMPORTS = [
    'import { below } from "./practice/normal.js";',
    'import { Chooser } from "./practice/choice.js";',
    'import { eyeOf } from "./practice/estimates.js";',
    'import { sentences } from "./practice/sentences.js";',
    'import { chooseLanguage } from "./messages.js";',
]
EXACT = 1e-9
SOME: Final[tuple[ExerciseId, ...]] = ("heel_width", "gap", "imprint", "axis")


def test_the_normal_distribution_is_that_of_scipy(tmp_path: Path) -> None:
    points = [*np.linspace(-12, 12, 481), -40.0, 40.0, 0.0, 3.2, -3.2]
    found = run_in_node(tmp_path, IMPORTS[:1], "return given.map(below);", [float(each) for each in points])
    np.testing.assert_allclose(found, ndtr(points), rtol=1e-10, atol=1e-13)


def test_what_is_drawn_and_told_is_what_the_service_draws_and_tells(tmp_path: Path) -> None:
    """Thirty answers of one person for some exercises; each choice is made by both after the same answers."""
    given: list[dict[str, Any]] = []
    expected: list[dict[str, Any]] = []
    shares = np.random.default_rng(5)
    for id_ in SOME:
        exercise = EXERCISES[id_]
        [person] = people(1, exercise.scale, len(exercise.words), 12)
        answers: list[Answer] = []
        rounds = []
        for number in range(30):
            share = float(shares.random())
            value = drawn(exercise, answers, share)
            answers.append(Answer(value, person.say(value, exercise.bounds, number / 29), exercise.bounds))
            rounds.append({"share": share, "value": value, "word": answers[-1].word})
        given.append({"id": id_, "rounds": rounds})
        eye = eye_of(exercise, answers)
        said = {each: list(sentences(exercise, eye, 21, messages_in(each))) for each in ("en", "de")}
        expected.append({"values": [each["value"] for each in rounds], "eye": eye, "said": said})
    body = """
        return given.asked.map(({ id, rounds }) => {
          const exercise = given.offer.exercises.find((each) => each.id === id);
          const chooser = new Chooser(exercise, given.offer.people);
          const values = rounds.map((each) => {
            const value = chooser.drawn(each.share);
            chooser.add(each);
            return value;
          });
          const eye = eyeOf(exercise, given.offer.people, rounds);
          const said = {};
          for (const language of ["en", "de"]) {
            chooseLanguage(["en", "de"], language);
            said[language] = sentences(exercise, given.offer.people, eye, 21);
          }
          return { values, eye, said };
        });
    """
    stub = """
        Object.assign(globalThis, { document: { documentElement: {} }, location: { search: "" } });
        Object.defineProperty(globalThis, "navigator", { value: { languages: [] } });
    """
    found = run_in_node(tmp_path, IMPORTS, stub + body, {"offer": OFFER, "asked": given})
    for ours, service in zip(found, expected, strict=True):
        assert ours["values"] == pytest.approx(service["values"], abs=EXACT)
        for name in ("bias", "spread"):
            theirs = getattr(service["eye"], name)
            for end in ("value", "low", "high"):
                assert ours["eye"][name][end] == pytest.approx(getattr(theirs, end), abs=1e-7)
        assert ours["eye"]["lapse"] == pytest.approx(service["eye"].lapse, abs=EXACT)
        assert ours["said"] == service["said"]


RECIPES = ['import { recipeOf } from "./practice/recipes.js";']
DRAW = """
    const exercises = Object.fromEntries(given.offer.exercises.map((each) => [each.id, each]));
    return given.wanted.map(([id, value, seed]) => recipeOf(exercises[id], value, seed));
"""


def recipes(folder: Path, wanted: Sequence[tuple[str, float, int]]) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = run_in_node(folder, RECIPES, DRAW, {"offer": OFFER, "wanted": wanted})
    return found


def points_of(path: str) -> np.ndarray[Any, Any]:
    return np.array([[float(each) for each in pair.split(" ")] for pair in path.strip("MZ").split("L")])


def on_screen(recipe: dict[str, Any]) -> np.ndarray[Any, Any]:
    """Where the hoof's outline lies in a window of 1 by 1, at so many places along it."""
    [horn] = [points_of(each["d"]) for each in recipe["shapes"] if each["part"] == "horn"]
    places = np.linspace(0, len(horn) - 1, 60)
    along = np.stack([np.interp(places, np.arange(len(horn)), horn[:, axis]) for axis in (0, 1)], axis=1)
    turn = math.radians(recipe["turn"])
    turned = (along - recipe["centre"]) @ np.array(
        [[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]]
    )
    return np.asarray(turned * [-1 if recipe["mirror"] else 1, 1] / recipe["width"])


SEEDS = 40


def test_no_picture_comes_twice(tmp_path: Path) -> None:
    """One true value, forty seeds: on a telephone each outline lies elsewhere by a pixel and more."""
    values = {name: (each.bounds[0] + each.bounds[1]) / 2 for name, each in EXERCISES.items()}
    every = recipes(tmp_path, [(name, value, seed) for name, value in values.items() for seed in range(SEEDS)])
    assert recipes(tmp_path, [("gap", values["gap"], 7)]) == [every[list(EXERCISES).index("gap") * SEEDS + 7]]
    for number, exercise in enumerate(EXERCISES.values()):
        of_one = every[number * SEEDS : (number + 1) * SEEDS]
        outlines = np.stack([on_screen(each) for each in of_one])
        apart = np.linalg.norm(outlines[:, None] - outlines[None, :], axis=3).max(axis=2)
        assert apart[~np.eye(SEEDS, dtype=bool)].min() * 330 > 1
        for key, least in (("foot", 4), ("light", 30), ("turn", 38)):
            assert len({each[key] for each in of_one}) >= least
        assert {each["place"] for each in of_one} == set(exercise.places)


def test_the_faults_beside_it_say_nothing_of_the_one_that_is_asked(tmp_path: Path) -> None:
    """Of one seed all is drawn alike but for what is asked: what else is wrong follows chance alone."""
    small, large = recipes(tmp_path, [("heel_width", 0.0, 5), ("heel_width", 5.0, 5)])
    for part in ("horn", "frog", "white-line", "hole"):
        assert [each for each in small["shapes"] if each["part"] == part] == [
            each for each in large["shapes"] if each["part"] == part
        ]
    irons = [points_of(each["d"]) for one in (small, large) for each in one["shapes"] if each["part"] == "iron"]
    moved = np.linalg.norm(irons[0] - irons[1], axis=1)
    assert moved.max() == pytest.approx(5.0, abs=0.01)
    assert np.median(moved) == pytest.approx(0.0, abs=1e-9)


def test_form_turn_light_and_scale_follow_the_seed_whatever_the_value(tmp_path: Path) -> None:
    ends = [
        (name, value, seed)
        for name, exercise in EXERCISES.items()
        for seed in range(12)
        for value in (exercise.low, exercise.high)
    ]
    every = recipes(tmp_path, ends)
    for one, other in zip(every[::2], every[1::2], strict=True):
        for key in ("foot", "place", "light", "turn", "width", "mirror"):
            assert one[key] == other[key]
        frogs = [[each for each in recipe["shapes"] if each["part"] == "frog"] for recipe in (one, other)]
        assert frogs[0] == frogs[1]


def test_the_bare_part_of_an_imprint_is_what_the_value_leaves(tmp_path: Path) -> None:
    """A band of even width: its areas are as its lengths (shapely)."""
    values = [0.5, 0.62, 0.8, 0.9, 0.95, 0.99, 1.0]
    for recipe in recipes(tmp_path, [("imprint", value, seed) for seed, value in enumerate(values)]):
        area = dict.fromkeys(("imprint", "bare"), 0.0)
        for each in recipe["shapes"]:
            if each["part"] in area:
                area[each["part"]] += Polygon(points_of(each["d"])).area
        whole = recipe["truth"]["whole"]
        assert whole * area["bare"] / area["imprint"] == pytest.approx(whole * (1 - recipe["value"]), abs=0.1)
