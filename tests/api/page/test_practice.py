"""The telephone's practice against the service's: the same normal distribution, choices, outcome and sentences."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.special import ndtr

from api.responses.practice import PracticeOffer
from fitcheck.practice import exercises_of
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


def test_the_normal_distribution_is_that_of_scipy(tmp_path: Path) -> None:
    points = [*np.linspace(-12, 12, 481), -40.0, 40.0, 0.0, 3.2, -3.2]
    found = run_in_node(tmp_path, IMPORTS[:1], "return given.map(below);", [float(each) for each in points])
    np.testing.assert_allclose(found, ndtr(points), rtol=1e-10, atol=1e-13)


def test_what_is_drawn_and_told_is_what_the_service_draws_and_tells(tmp_path: Path) -> None:
    """Thirty answers of one person for each exercise; each choice is made by both after the same answers."""
    given: list[dict[str, Any]] = []
    expected: list[dict[str, Any]] = []
    shares = np.random.default_rng(5)
    for name, exercise in EXERCISES.items():
        [person] = people(1, exercise.scale, len(exercise.words), 12)
        answers: list[Answer] = []
        rounds = []
        for number in range(30):
            share = float(shares.random())
            value = drawn(exercise, answers, share)
            answers.append(Answer(value, person.say(value, exercise.bounds, number / 29), exercise.bounds))
            rounds.append({"share": share, "value": value, "word": answers[-1].word})
        given.append({"id": name, "rounds": rounds})
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
