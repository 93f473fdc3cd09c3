"""Why nothing came of a reading: not observed, not to be computed, or kept and judged by no rule."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any, get_args

import pytest

from fitcheck.assessment.assess import assess
from fitcheck.assessment.models import Assessment, Unassessed, Why
from fitcheck.errors import BadInput
from fitcheck.fitting.validation import parse_fitting
from fitcheck.report.terminal import render
from rules import Rulebook, first_rulebook, localized, shipped_rulebook
from tests.support.outlines import ellipse
from tests.support.random_fittings import random_fittings
from tests.support.second_contract import BARE_FOOT, NEW_FIELDS

Changed = Callable[..., dict[str, Any]]
FIRST, SHIPPED = first_rulebook(), shipped_rulebook()


def judged(raw: dict[str, Any], book: Rulebook = SHIPPED) -> Assessment:
    return assess(parse_fitting(raw, book), book)


def unassessed(raw: dict[str, Any], book: Rulebook = SHIPPED) -> dict[tuple[str, str], Unassessed]:
    parts = judged(raw, book).unassessed
    assert parts is not None
    found = {(each.quantity, each.place): each for each in parts}
    assert len(found) == len(parts), "each once"
    return found


def random_ones() -> list[dict[str, Any]]:
    return list(random_fittings(77, 60))


def at(raw: Any, path: str) -> Any:
    for step in path.split("."):
        if raw is None:
            return None
        raw = raw[int(step)] if isinstance(raw, list) else raw.get(step)
    return raw


def test_the_first_rulebook_answers_without_it() -> None:
    answer = judged(NEW_FIELDS, FIRST).model_dump(mode="json")
    assert "unassessed" not in answer
    assert judged(NEW_FIELDS, FIRST).unassessed is None


def test_it_goes_with_what_is_listed_as_not_assessed() -> None:
    for raw in random_ones():
        try:
            assessment = judged(raw)
        except BadInput:
            continue
        parts = assessment.unassessed or ()
        named = {name for each in parts for name in names_of(each)}
        for line in assessment.not_assessed:
            assert line in named, line
        assert all(each.how for each in parts)


def names_of(each: Unassessed) -> set[str]:
    """The lines of not_assessed that one part may stand for."""
    criterion = SHIPPED.criterion_of.get(each.quantity, "")
    return {criterion, f"{criterion}.{each.quantity}", f"{criterion}.{each.quantity}@{each.place}"}


def test_what_was_not_observed_names_its_field_and_how_to_look(changed: Changed) -> None:
    part = unassessed(changed(observations__toe_fit__wall_rasped_back=...))["wall_rasped_back", "toe"]
    assert (part.field, part.why) == ("observations.toe_fit.wall_rasped_back", "not_observed")
    assert part.how == SHIPPED.quantities["wall_rasped_back"].how


def test_one_nails_reading_names_that_nail(changed: Changed) -> None:
    raw = changed(observations__nails__3__sound=...)
    nail = raw["observations"]["nails"][3]
    part = unassessed(raw)["sound", f"nail:{nail['branch']}:{nail['hole']}"]
    assert (part.field, part.why) == ("observations.nails.3.sound", "not_observed")


def test_without_any_nail_each_reading_of_a_nail_is_named_once(changed: Changed) -> None:
    parts = unassessed(changed(observations__nails=...))
    assert {quantity for quantity, place in parts if place == "nail"} >= {"exit_height", "sound", "reaction", "blood"}


def test_what_is_computed_and_lacks_something_says_so(changed: Changed) -> None:
    parts = unassessed(changed(observations__nails__0__hole_inset=..., hoof__wall_thickness=...))
    assert {each.why for (quantity, _), each in parts.items() if quantity == "least_horn"} == {"cannot_be_computed"}


def test_a_limit_that_follows_a_size_that_is_not_known_asks_for_the_size(changed: Changed) -> None:
    part = unassessed(changed(shoe__thickness=...))["length", "medial_heel"]
    assert (part.field, part.why) == ("shoe.thickness", "cannot_be_computed")
    assert part.how == SHIPPED.quantities["shoe_thickness"].how


@pytest.mark.parametrize("raw", [NEW_FIELDS, BARE_FOOT], ids=["every field", "bare foot"])
@pytest.mark.parametrize("language", ["en", "de"])
def test_every_kept_field_is_told_with_where_it_was_sent(raw: dict[str, Any], language: str) -> None:
    book = localized(SHIPPED, language)
    kept = [each for each in judged(raw, book).unassessed or () if each.why == "not_judged"]
    assert all(at(raw, each.field) not in (None, []) for each in kept)
    measured = {(each.quantity, each.place) for each in judged(raw, book).measurements}
    unruled = {name for name, quantity in SHIPPED.quantities.items() if quantity.judged is False}
    assert {key for key in measured if key[0] in unruled} <= {(each.quantity, each.place) for each in kept}
    text = " ".join(render(judged(raw, book), book, title="x", width=4000, whole=True).split())
    assert ("Kept, and judged by no rule" if language == "en" else "von keiner Regel beurteilt") in text


def test_a_fitting_of_the_first_contract_has_nothing_that_is_only_kept(root: Path) -> None:
    feet = sorted((root / "tests" / "contract_one" / "feet").glob("*.json"))
    assert feet
    for path in feet:
        parts = judged(json.loads(path.read_text(encoding="utf-8"))).unassessed or ()
        kept = {each.quantity for each in parts if each.why == "not_judged"}
        assert kept == set(), path.name


def test_a_word_of_the_eye_is_judged_as_a_word_and_nothing_is_missing(good: dict[str, Any]) -> None:
    raw = copy.deepcopy(good)
    raw["observations"]["heel_fit"]["medial"]["length"] = "short"
    assessment = judged(raw)
    assert [each for each in assessment.unassessed or () if each.quantity == "length"] == []
    assert ([finding.id for finding in assessment.findings], assessment.decision) == (
        ["heel-seen-short@medial_heel"],
        "release",
    )


def test_what_no_rule_in_force_looks_at_is_not_judged_either(changed: Changed) -> None:
    """A toe that is rolled behind: the rule of this book is for fore feet (LA 118)."""
    raw = changed(foot="left_hind")
    raw["shoe"]["roll"] = 9
    part = unassessed(raw)["roll", "foot"]
    assert (part.field, part.why) == ("shoe.roll", "not_judged")


def test_of_a_bare_foot_what_rules_look_at_is_judged() -> None:
    parts = unassessed(BARE_FOOT)
    assert ("days_since_shod", "foot") not in parts
    assert ("old_wear", "foot") in parts


def test_a_hoof_traced_all_round_asks_for_its_buttresses(root: Path) -> None:
    raw = json.loads((root / "cases_demo" / "traced-good-fore.json").read_text(encoding="utf-8"))
    traced = raw["observations"]["outline"]
    traced["hoof"] = ellipse(70, 74, 72)
    for key in (("length", "medial_heel"), ("length", "lateral_heel"), ("branch_difference", "foot")):
        part = unassessed(raw)[key]
        assert (part.field, part.why) == ("observations.outline", "cannot_be_computed")
        assert "outline.buttresses" in part.how
    assert {"observations.heel_fit.medial.length"} <= {each.field for each in judged(raw).still_needed}
    traced["buttresses"] = {"medial": [-35, -64.1], "lateral": [35, -64.1]}
    assert ("length", "medial_heel") not in unassessed(raw)


def test_an_answer_of_the_first_kind_is_still_read() -> None:
    old = judged(NEW_FIELDS, FIRST).model_dump_json()
    assert Assessment.model_validate_json(old).unassessed is None
    new = judged(NEW_FIELDS).model_dump_json()
    assert Assessment.model_validate_json(new) == Assessment.model_validate_json(new)


def test_the_reasons_are_those_of_the_contract_and_one_more() -> None:
    assert get_args(Why) == ("not_observed", "too_uncertain", "cannot_be_computed", "not_judged")


def test_what_was_looked_at_on_no_nail_is_told_once_for_every_nail(good: dict[str, Any]) -> None:
    parts = [each for each in judged(good).unassessed or () if each.quantity == "notched"]
    assert [(each.field, each.place, each.why) for each in parts] == [
        ("observations.nails[].notched", "nail", "not_observed")
    ]


def test_what_was_looked_at_on_one_nail_is_told_of_each_of_the_others(good: dict[str, Any]) -> None:
    raw = copy.deepcopy(good)
    raw["observations"]["nails"][0]["notched"] = False
    parts = [each for each in judged(raw).unassessed or () if each.quantity == "notched"]
    assert [each.field for each in parts] == [
        f"observations.nails.{number}.notched" for number in range(1, len(raw["observations"]["nails"]))
    ]


def test_what_one_list_says_of_the_whole_foot_is_told_once(good: dict[str, Any]) -> None:
    """An empty list would say that nothing was seen: it was not observed, and there is nothing to compute."""
    parts = [each for each in judged(good).unassessed or () if each.quantity.startswith("seen_")]
    assert {(each.field, each.place, each.why) for each in parts} == {("observations.seen", "foot", "not_observed")}
    assert len(parts) == len({each.quantity for each in parts}) > 1


def test_a_hole_that_was_read_does_not_stand_in_for_a_nail_that_was_not(changed: Changed) -> None:
    """Readings are held against the places they belong to, never counted."""
    raw = changed(stage="nailed")
    nails = raw["observations"]["nails"]
    for nail in nails:
        nail.pop("hole_inset", None)
        nail["to_white_line"] = 0.0
    del nails[0]["to_white_line"]
    unread = "nail:{branch}:{hole}".format(**nails[0])
    raw["shoe"]["holes"] = [{"branch": "lateral", "hole": 6, "to_white_line": 0.0}]
    assert f"nails.to_white_line@{unread}" in judged(raw).not_assessed
    assert ("to_white_line", unread) in unassessed(raw)
