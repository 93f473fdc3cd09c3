"""Which words the page says were said of a whole group with one button, as a telephone sends them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from api.responses.rulebook import rulebook_document
from fitcheck.fitting.validation import parse_fitting
from rules import shipped_rulebook
from tests.support.page_modules import run_in_node

BOOK = json.loads(rulebook_document(shipped_rulebook()).model_dump_json())
IMPORTS = ['import { fittingOf } from "./fitting.js";', 'import { sayAsBefore } from "./foot/good.js";']
BODY = """
    const sheet = { id: "x", answers: {}, good: {}, before: null, ...given.sheet };
    for (const group of given.again) sayAsBefore(group, sheet);
    return fittingOf(sheet);
"""
FOOT = {"foot": "left_fore", "work": "harness", "hoof_form": "regular", "hot_fitted": True}
HEEL = "observations.heel_fit.medial"
OTHER = "observations.heel_fit.lateral"
OF_HEELS = {f"{side}.{name}" for side in (HEEL, OTHER) for name in ("length", "width", "frog_gap")}
LOOKED = "2026-03-04T10:00:00.000Z"
NONE: dict[str, list[int]] = {"medial": [], "lateral": []}


def sent(
    folder: Path,
    stage: str,
    answers: dict[str, Any],
    good: tuple[str, ...] = (),
    holes: dict[str, list[int]] = NONE,
    before: dict[str, Any] | None = None,
    again: tuple[str, ...] = (),
) -> dict[str, Any]:
    """The fitting that the page makes of a sheet; the service takes what it says of the words."""
    sheet = {
        "answers": FOOT | {"stage": stage} | answers,
        "good": dict.fromkeys(good, LOOKED),
        "holes": holes,
        "before": before,
    }
    fitting: dict[str, Any] = run_in_node(
        folder, IMPORTS, BODY, {"sheet": sheet, "again": again}, kept={"rulebook": BOOK}
    )
    parse_fitting({name: value for name, value in fitting.items() if name != "follows"})
    return fitting


def test_words_of_the_groups_button_are_listed_and_those_said_one_by_one_are_not(tmp_path: Path) -> None:
    fitting = sent(tmp_path, "hot_fit", {f"{HEEL}.width": "full", f"{OTHER}.length": "short"}, ("heels",))
    heels = fitting["observations"]["heel_fit"]
    assert heels["medial"] == {"length": "right", "width": "full", "frog_gap": "free"}
    assert heels["lateral"]["length"] == "short"
    assert len(fitting["good_as_a_whole"]) == len(OF_HEELS) - 2
    assert {*fitting["good_as_a_whole"]} == OF_HEELS - {f"{HEEL}.width", f"{OTHER}.length"}


def test_a_word_tapped_by_itself_before_or_after_the_button_is_none_of_it(tmp_path: Path) -> None:
    """The button states what nobody tapped; a tap is the same whenever it comes."""
    one_by_one = dict.fromkeys(OF_HEELS, "right") | {f"{side}.width": "full" for side in (HEEL, OTHER)}
    one_by_one |= {f"{side}.frog_gap": "free" for side in (HEEL, OTHER)}
    alone, and_button = (sent(tmp_path, "hot_fit", one_by_one, good) for good in ((), ("heels",)))
    assert alone["good_as_a_whole"] == and_button["good_as_a_whole"] == []
    assert alone["observations"] == and_button["observations"]


def test_words_of_other_groups_are_not_listed(tmp_path: Path) -> None:
    fitting = sent(tmp_path, "hot_fit", {f"{HEEL}.width": "tight"}, ("toe",))
    assert {*fitting["good_as_a_whole"]} == {
        f"observations.toe_fit.{name}" for name in ("overhang", "medial_overhang", "lateral_overhang")
    }


def test_numbers_and_what_is_no_word_of_the_eye_are_not_listed(tmp_path: Path) -> None:
    """That the wall is not rasped back is no word of the eye on a measure."""
    fitting = sent(tmp_path, "hot_fit", {"observations.toe_fit.overhang": {"n": "1.5", "unit": "mm"}}, ("toe",))
    assert fitting["observations"]["toe_fit"]["overhang"] == 1.5
    assert fitting["observations"]["toe_fit"]["wall_rasped_back"] is False
    assert {*fitting["good_as_a_whole"]} == {
        f"observations.toe_fit.{name}" for name in ("medial_overhang", "lateral_overhang")
    }


def test_without_any_word_of_the_eye_it_says_nothing(tmp_path: Path) -> None:
    assert "good_as_a_whole" not in sent(tmp_path, "hot_fit", {})
    assert "good_as_a_whole" not in sent(tmp_path, "hot_fit", {"observations.levelness.rocks": False})


@pytest.mark.parametrize("stage", ["nailed", "finished"])
def test_in_the_list_of_nails_the_number_is_that_of_the_nail(tmp_path: Path, stage: str) -> None:
    """Nails are sent by branch and hole, whatever the order in which they were tapped."""
    holes = {"medial": [3, 1], "lateral": [2]}
    fitting = sent(tmp_path, stage, {"nail:medial:3.exit_height": "low"}, ("nails",), holes)
    nails = fitting["observations"]["nails"]
    assert [(each["branch"], each["hole"]) for each in nails] == [("medial", 1), ("medial", 3), ("lateral", 2)]
    assert [each["exit_height"] for each in nails] == ["right", "low", "right"]
    assert [*fitting["good_as_a_whole"]] == [f"observations.nails.{number}.exit_height" for number in (0, 2)]


def test_in_the_list_of_holes_the_number_is_that_among_those_that_are_sent(tmp_path: Path) -> None:
    """A hole of which nothing was said is not sent, and those beyond it move up."""
    word = "nail:lateral:3.to_white_line"
    holes = {"medial": [2], "lateral": [1, 3]}
    said = sent(tmp_path, "hot_fit", {word: "fine"}, (), holes)
    assert [(each["branch"], each["hole"]) for each in said["shoe"]["holes"]] == [("lateral", 3)]
    assert said["good_as_a_whole"] == []
    stated = sent(tmp_path, "hot_fit", {word: "fine"}, ("toe",), holes)
    assert [each["to_white_line"] for each in stated["shoe"]["holes"]] == ["on_line", "on_line", "fine"]
    of_holes = [path for path in stated["good_as_a_whole"] if path.startswith("shoe.holes")]
    assert of_holes == ["shoe.holes.0.to_white_line", "shoe.holes.1.to_white_line"]
    # Said as before with one tap: listed under the number that it has now.
    before = {"id": "a", "answers": FOOT | {"stage": "hot_fit", word: "fine"}, "good": {}, "holes": holes}
    repeated = sent(tmp_path, "hot_fit", {}, (), holes, before, ("toe",))
    assert [each["hole"] for each in repeated["shoe"]["holes"]] == [3]
    assert repeated["good_as_a_whole"] == ["shoe.holes.0.to_white_line"]


def test_what_is_said_as_before_with_one_tap_is_listed_until_it_is_said_by_itself(tmp_path: Path) -> None:
    words = {f"{HEEL}.width": "close", f"{OTHER}.width": "wide"}
    before = {"id": "a", "answers": FOOT | {"stage": "hot_fit"} | words, "good": {}, "holes": NONE}
    fitting = sent(tmp_path, "hot_fit", {f"{OTHER}.width": "full"}, (), NONE, before, ("heels",))
    heels = fitting["observations"]["heel_fit"]
    assert (heels["medial"]["width"], heels["lateral"]["width"]) == ("close", "full")
    assert fitting["good_as_a_whole"] == [f"{HEEL}.width"]
